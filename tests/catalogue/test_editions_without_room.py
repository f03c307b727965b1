"""Editions where there is no room, or no leave, to keep them. Real disks, a real other user."""

import json
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

import pytest

from kitbuilder.catalogue import cache as module
from kitbuilder.catalogue.cache import open_edition, read_edition
from tests.catalogue import on_disk

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
NOT_KEPT = "could not be kept in"

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
    on_disk.whole(old.path)

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

    _, status = os.waitpid(on_disk.child(run), 0)
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
    assert (said["path"], said["warning"]) == (str(on_disk.editions(cache)[0]), "")
    assert said["kits"] == [kit.decode() for kit in on_disk.kits(read_edition(folder))]
    assert sorted(folder.rglob("*")) == before
    on_disk.whole(on_disk.editions(cache)[0])


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
