"""Editions when things go wrong: several at once, killed, no room, no leave to write. Real processes, real disks."""

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from kitbuilder.catalogue import edition as module
from kitbuilder.catalogue.edition import open_edition, read_edition
from tests.catalogue import on_disk

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
NOT_KEPT = "could not be kept in"


def whole(path: Path) -> None:
    """That an edition's file is whole: SQLite finds no fault, and every part can be read."""
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    connection.close()
    opened = module._open(path.stem, path.parents[1])
    assert opened is not None
    assert {kind: len(list(getattr(opened, kind)())) for kind in ("items", "roles")} == {
        kind: opened.heading.counts[kind] for kind in ("items", "roles")}
    assert [opened.job(name).job.title for name, _, _ in opened.heading.jobs] == [
        title for _, title, _ in opened.heading.jobs]
    assert opened.facts and opened.findings and list(opened.requirements())


def editions(cache: Path) -> list[Path]:
    """The edition files of a cache folder, without what a kill left beside them."""
    return sorted((cache / "editions").glob("[!.]*")) if (cache / "editions").exists() else []


def child(run: Callable[[], None]) -> int:
    """Run something in a process of its own; its process id. The process ends with 0 only if it came to the end."""
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            run()
            code = 0
        finally:
            os._exit(code)
    return pid


# Several at once

OPEN_MANY = """
import json, sys
from pathlib import Path
from kitbuilder.catalogue.edition import open_edition
from kitbuilder.kit.build import build_kit
folders, cache = [Path(one) for one in sys.argv[2:]], Path(sys.argv[1])
print("ready", flush=True)
sys.stdin.readline()
said = []
for folder in folders:
    edition = open_edition(folder, cache)
    said.append([edition.name, edition.warning, build_kit(edition, "actuator").fingerprint])
print(json.dumps(said), flush=True)
"""


def test_several_processes_that_compile_at_once_all_have_it_and_leave_one_whole_file_each(tmp_path):
    folders = [on_disk.write(tmp_path / str(number)) for number in range(8)]
    for folder in folders:
        on_disk.changed(folder, f"number {folder.name}")
    cache, names = tmp_path / "cache", [read_edition(folder).name for folder in folders]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    started = [
        subprocess.Popen([sys.executable, "-c", OPEN_MANY, str(cache), *map(str, folders)], env=environment,
                         stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    for process in started:
        assert process.stdout.readline() == "ready\n"
    for process in started:
        process.stdin.write("go\n")
        process.stdin.flush()
    said = [json.loads(process.communicate(timeout=60)[0]) for process in started]
    assert [process.returncode for process in started] == [0] * 4
    assert [[name, warning] for name, warning, _ in said[0]] == [[name, ""] for name in names]
    assert said == [said[0]] * 4
    assert on_disk.kept(cache) == sorted(f"{name}.edition" for name in names)
    assert all(path.suffix == ".json" for path in (cache / "folders").iterdir())
    for path in editions(cache):
        whole(path)


# Killed


def opens_until_line(folder: Path, cache: Path, last: int) -> None:
    """Open an edition and die by SIGKILL when the given line of the opening is reached, counted as it runs."""
    steps = {"open_edition", "_open", "_write", "_replace", "_forget_old", "_read_mark"}
    seen = 0

    def look(frame, event, _):
        nonlocal seen
        if frame.f_code.co_filename != module.__file__ or frame.f_code.co_name not in steps:
            return None
        if event == "line":
            seen += 1
            if seen == last:
                os.kill(os.getpid(), signal.SIGKILL)
        return look

    sys.settrace(look)
    open_edition(folder, cache)


def test_a_kill_at_any_line_leaves_the_old_or_the_new_one_whole(tmp_path):
    folder, cache = on_disk.write(tmp_path / "catalogue"), tmp_path / "cache"
    old = open_edition(folder, cache)
    kept, old_bytes = old.path, old.path.read_bytes()
    on_disk.changed(folder, "new")
    new = read_edition(folder)
    found_new = set()
    for last in range(1, 1000):
        shutil.rmtree(cache)
        (cache / "editions").mkdir(parents=True)
        kept.write_bytes(old_bytes)
        _, status = os.waitpid(child(lambda last=last: opens_until_line(folder, cache, last)), 0)
        assert kept.read_bytes() == old_bytes
        there = [path for path in editions(cache) if path != kept]
        for path in there:
            assert path.stem == new.name
            whole(path)
        found_new.add(bool(there))
        opened = open_edition(folder, cache)
        assert (opened.name, opened.warning) == (new.name, "")
        if not os.WIFSIGNALED(status):
            assert os.WEXITSTATUS(status) == 0
            break
        assert os.WTERMSIG(status) == signal.SIGKILL
    else:
        raise AssertionError("the opening has more lines than this test has kills")
    assert last > 25 and found_new == {False, True}


def test_kills_at_any_time_leave_only_whole_editions(tmp_path):
    """The demo, changed before each compile, so that there is always something to write."""
    folder, cache = tmp_path / "catalogue", tmp_path / "cache"
    shutil.copytree(DEMO, folder)

    def keep_changing() -> None:
        for number in range(10_000):
            (folder / "catalogue.toml").write_text(
                f'name = "Number {os.getpid()} {number}"\nformat = 1\ncurrency = "EUR"\n', encoding="utf-8")
            open_edition(folder, cache)

    seed = random.randrange(10**6)
    chance = random.Random(seed)
    for _ in range(20):
        pid = child(keep_changing)
        time.sleep(chance.uniform(0.0, 0.3))
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        assert os.WTERMSIG(status) == signal.SIGKILL
    assert editions(cache), f"seed {seed}: nothing was ever written"
    for path in editions(cache):
        whole(path)
    shutil.copyfile(DEMO / "catalogue.toml", folder / "catalogue.toml")
    opened = open_edition(folder, cache)
    assert (opened.name, opened.warning) == (read_edition(DEMO).name, ""), f"seed {seed}"


# No room

root_only = pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() != 0, reason="only root can mount a small disk")


@pytest.fixture
def small_disk(tmp_path):
    """A disk of 64 KiB."""
    place = tmp_path / "disk"
    place.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)  # editions that are open still hold it


@root_only
def test_on_a_full_disk_the_kit_is_built_in_memory_with_a_warning(small_disk):
    for _ in range(2):
        opened = open_edition(DEMO, small_disk / "cache")
        assert opened.path is None and opened.name == read_edition(DEMO).name
        assert NOT_KEPT in opened.warning and "No space left" in opened.warning and "in memory" in opened.warning
        assert on_disk.kits(opened) == on_disk.kits(read_edition(DEMO))
        assert on_disk.kept(small_disk / "cache") == []


@root_only
def test_a_disk_that_fills_up_keeps_the_old_edition_whole(small_disk, tmp_path):
    folder, cache = on_disk.write(tmp_path / "catalogue"), small_disk / "cache"
    old = open_edition(folder, cache)
    assert old.path is not None and old.warning == ""
    fill(small_disk / "other people's files")
    on_disk.changed(folder, "new")
    new = open_edition(folder, cache)
    assert new.path is None and NOT_KEPT in new.warning
    assert on_disk.kits(new) == on_disk.kits(read_edition(folder))
    assert on_disk.kept(cache) == [old.path.name]
    whole(old.path)

    (small_disk / "other people's files").unlink()
    again = open_edition(folder, cache)
    assert (again.name, again.warning) == (new.name, "") and again.path is not None


@root_only
def test_where_only_the_mark_has_no_room_the_edition_is_read_and_says_so(small_disk, tmp_path):
    folder, cache = on_disk.write(tmp_path / "catalogue"), small_disk / "cache"
    open_edition(folder, cache)
    shutil.rmtree(cache / "folders")
    fill(small_disk / "other people's files")
    opened = open_edition(folder, cache)
    assert opened.path is not None and "read anew each time" in opened.warning
    assert on_disk.kits(opened) == on_disk.kits(read_edition(folder))


def fill(path: Path) -> None:
    """Write until there is no room left."""
    with open(path, "wb", buffering=0) as file:
        while True:
            try:
                file.write(b"x" * 512)
            except OSError:
                return


# No leave to write


@pytest.fixture
def open_place():
    """A folder that another user can get to."""
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    yield place
    for path in [place, *place.rglob("*")]:
        if path.is_dir():
            path.chmod(0o755)
    shutil.rmtree(place)


def as_nobody(folder: Path, cache: Path, answer: Path) -> dict[str, object]:
    """Open an edition twice as a user without rights (as ourselves if we are not root); what came of it."""
    on_disk.kits(read_edition(folder))  # all that is imported later is imported now: our code may not be theirs to read
    answer.touch()
    answer.chmod(0o666)

    def run() -> None:
        if os.getuid() == 0:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            assert os.getuid() == os.geteuid() == 65534
        said = []
        for _ in range(2):
            opened = open_edition(folder, cache)
            said.append({"name": opened.name, "path": str(opened.path or ""), "warning": opened.warning,
                         "kits": [kit.decode() for kit in on_disk.kits(opened)]})
            time.sleep(module._TICK_NS / 1e9 + 0.02)
        assert not os.access(folder, os.W_OK)
        answer.write_text(json.dumps(said), encoding="utf-8")

    _, status = os.waitpid(child(run), 0)
    assert status == 0
    first, second = json.loads(answer.read_text(encoding="utf-8"))
    assert first == second
    return first


def locked(folder: Path) -> Path:
    """A folder and all in it made read-only."""
    for path in [*folder.rglob("*"), folder]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    return folder


def test_without_leave_to_write_the_cache_the_kit_is_built_in_memory_with_a_warning(open_place):
    folder, cache = locked(on_disk.write(open_place / "catalogue")), open_place / "cache"
    cache.mkdir()
    locked(cache)
    said = as_nobody(folder, cache, open_place / "answer")
    assert said["path"] == ""
    assert NOT_KEPT in said["warning"] and "Permission denied" in said["warning"]
    assert said["kits"] == [kit.decode() for kit in on_disk.kits(read_edition(folder))]
    assert list(cache.iterdir()) == []


def test_a_catalogue_folder_that_may_only_be_read_works(open_place):
    folder, cache = locked(on_disk.write(open_place / "catalogue")), open_place / "cache"
    cache.mkdir()
    cache.chmod(0o777)
    before = sorted(folder.rglob("*"))
    said = as_nobody(folder, cache, open_place / "answer")
    assert (said["path"], said["warning"]) == (str(editions(cache)[0]), "")
    assert said["kits"] == [kit.decode() for kit in on_disk.kits(read_edition(folder))]
    assert sorted(folder.rglob("*")) == before
    whole(editions(cache)[0])


def test_an_edition_that_another_user_made_is_read_from_a_cache_that_may_only_be_read(open_place):
    folder, cache = on_disk.write(open_place / "catalogue"), open_place / "cache"
    locked(folder)
    time.sleep(module._TICK_NS / 1e9 + 0.02)
    made = open_edition(folder, cache)
    locked(cache)
    said = as_nobody(folder, cache, open_place / "answer")
    assert (said["path"], said["warning"]) == (str(made.path), "")


def test_a_file_where_the_cache_should_be_is_no_more_than_a_warning(tmp_path):
    folder, cache = on_disk.write(tmp_path / "catalogue"), tmp_path / "cache"
    cache.write_bytes(b"")
    opened = open_edition(folder, cache)
    assert opened.path is None and NOT_KEPT in opened.warning
    assert on_disk.kits(opened) == on_disk.kits(read_edition(folder))
