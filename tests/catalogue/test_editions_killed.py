"""Editions when several compile at once, and when a compile is killed. Real processes, real kills."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

from kitbuilder.catalogue import cache as module
from kitbuilder.catalogue.cache import open_edition, read_edition
from tests.catalogue import on_disk

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"

OPEN_MANY = """
import json, sys
from pathlib import Path
from kitbuilder.catalogue.cache import open_edition
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
    for path in on_disk.editions(cache):
        on_disk.whole(path)


# Killed


def opens_until_line(folder: Path, cache: Path, last: int) -> None:
    """Open an edition and die by SIGKILL when the given line of the opening is reached, counted as it runs."""
    steps = {"open_edition", "_open", "_write", "_replace", "_forget_old", "_read_mark"}
    writing = {"open", "write_bytes", "write_text", "rename", "replace", "copyfile", "move", "unlink", "mkdir"}
    seen = 0

    def counts(frame) -> bool:
        """Whether a function is a step of the opening, or one of Python's own that such a step writes a file with."""
        if frame.f_code.co_filename == module.__file__:
            return frame.f_code.co_name in steps
        return frame.f_code.co_name in writing and frame.f_back.f_code is module._replace.__code__

    def look(frame, event, _):
        nonlocal seen
        if not counts(frame):
            return None
        if event == "line":
            seen += 1
            if seen == last:
                os.kill(os.getpid(), signal.SIGKILL)
        return look

    sys.settrace(look)
    open_edition(folder, cache)


def test_a_kill_at_any_line_leaves_the_old_or_the_new_one_whole(tmp_path, monkeypatch):
    folder, cache = on_disk.write(tmp_path / "catalogue"), tmp_path / "cache"
    old = open_edition(folder, cache)
    kept, old_bytes = old.path, old.path.read_bytes()
    on_disk.changed(folder, "new")
    new = read_edition(folder)
    data = module._compile(folder, module._read_all(folder, module._looks(folder)))
    monkeypatch.setattr(module, "_compile", lambda *_: data)  # the same each time, and it touches no file
    found_new = set()
    for last in range(1, 1000):
        shutil.rmtree(cache)
        (cache / "editions").mkdir(parents=True)
        kept.write_bytes(old_bytes)
        _, status = os.waitpid(on_disk.child(lambda last=last: opens_until_line(folder, cache, last)), 0)
        assert kept.read_bytes() == old_bytes
        there = [path for path in on_disk.editions(cache) if path != kept]
        for path in there:
            assert path.stem == new.name
            on_disk.whole(path)
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
        pid = on_disk.child(keep_changing)
        time.sleep(chance.uniform(0.0, 0.3))
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        assert os.WTERMSIG(status) == signal.SIGKILL
    assert on_disk.editions(cache), f"seed {seed}: nothing was ever written"
    for path in on_disk.editions(cache):
        on_disk.whole(path)
    shutil.copyfile(DEMO / "catalogue.toml", folder / "catalogue.toml")
    opened = open_edition(folder, cache)
    assert (opened.name, opened.warning) == (read_edition(DEMO).name, ""), f"seed {seed}"
