"""Editions: named by content, fresh while nothing changed, read part by part, mended when spoilt."""

import os
import shutil
import sqlite3
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.catalogue import cache as module
from kitbuilder.catalogue.cache import edition_name, open_edition, read_edition
from kitbuilder.errors import BadData, LoadError
from kitbuilder.kit.build import build_kit
from tests.catalogue import on_disk

OWN = (
    "catalogue.toml", "cautions.toml", "combinations/boxes.csv", "facts.toml", "fits/lift.csv", "fits/unit.csv",
    "items.csv", "jobs/actuator.toml", "jobs/electric.toml", "jobs/lift.toml", "requirements.toml", "roles.toml",
)


@pytest.fixture
def folder(tmp_path):
    """The small catalogue."""
    return on_disk.write(tmp_path / "catalogue")


@pytest.fixture
def cache(tmp_path):
    """A cache folder that isn't there yet."""
    return tmp_path / "cache"


@pytest.fixture
def hashed(monkeypatch):
    """The files that were read, in order; a fresh edition reads none."""
    read: list[str] = []
    plain = Path.read_bytes

    def noting(path):
        if path.suffix != ".json":
            read.append(path.name)
        return plain(path)

    monkeypatch.setattr(Path, "read_bytes", noting)
    return read


def settled(folder, cache):
    """The edition of a catalogue that hasn't been touched for a moment, so that it may be taken for fresh."""
    time.sleep(module._TICK_NS / 1e9 + 0.02)
    return open_edition(folder, cache)


# Named by content


def test_the_same_files_elsewhere_are_the_same_edition(folder, cache, tmp_path):
    other = tmp_path / "elsewhere" / "other name"
    other.mkdir(parents=True)
    for file in reversed(OWN):
        (other / file).parent.mkdir(exist_ok=True)
        shutil.copyfile(folder / file, other / file)
        os.utime(other / file, (1, 1))
    one, same = open_edition(folder, cache), open_edition(other, cache)
    assert one.name == same.name == read_edition(folder).name
    assert one.path == same.path and on_disk.kept(cache) == [f"{one.name}.edition"]
    assert on_disk.kits(one) == on_disk.kits(same) == on_disk.kits(read_edition(other))


@pytest.mark.parametrize("file", OWN)
def test_any_byte_of_any_file_makes_another_edition(folder, cache, file):
    before = open_edition(folder, cache)
    path = folder / file
    path.write_bytes(path.read_bytes() + b"\n")
    after = open_edition(folder, cache)
    assert after.name != before.name
    assert on_disk.kept(cache) == sorted([f"{before.name}.edition", f"{after.name}.edition"])


def test_another_path_makes_another_edition(folder, cache):
    before = open_edition(folder, cache).name
    (folder / "fits/lift.csv").rename(folder / "fits/raise.csv")
    renamed = open_edition(folder, cache)
    assert renamed.name != before
    assert b"fits/raise.csv" in on_disk.kits(renamed)[0]


FILES = st.dictionaries(st.text("ab/\0", max_size=4), st.binary(max_size=4), max_size=3)


@given(FILES, FILES)
def test_names_are_equal_only_for_equal_files(one, other):
    assert (edition_name(one) == edition_name(other)) == (one == other)
    assert edition_name(dict(reversed(one.items()))) == edition_name(one)


@pytest.mark.parametrize(("one", "other"), [
    ({"a": b"bc"}, {"ab": b"c"}), ({"a": b"", "b": b"c"}, {"a": b"b", "c": b""}), ({"a": b""}, {}),
    ({"": b"a"}, {"a": b""}),
])
def test_bytes_that_move_between_paths_and_files_are_told_apart(one, other):
    assert edition_name(one) != edition_name(other)


def test_another_format_makes_another_edition(folder, monkeypatch):
    before = read_edition(folder).name
    monkeypatch.setattr(module, "FORMAT", module.FORMAT + 1)
    assert read_edition(folder).name != before


def test_other_files_in_the_folder_do_not_matter(folder, cache, hashed):
    before = settled(folder, cache)
    hashed.clear()
    for name in ("README.md", "prices.csv", "fits/notes.txt", "fits/.~lock.lift.csv", "jobs/old.toml.bak", "fits.csv"):
        (folder / name).write_text("not,a\ncatalogue", encoding="utf-8")
    (folder / "fits/older").mkdir()
    (folder / "fits/older/lift.csv").write_text("role\nnone\n", encoding="utf-8")
    after = open_edition(folder, cache)
    assert (after.name, hashed) == (before.name, [])
    assert read_edition(folder).name == before.name


# Fresh, or hashed again


def test_a_fresh_edition_reads_no_file_of_the_catalogue(folder, cache, hashed):
    first = settled(folder, cache)
    assert len(hashed) == len(OWN)
    hashed.clear()
    again = open_edition(folder, cache)
    assert hashed == []
    assert (again.name, again.path, again.warning) == (first.name, first.path, "")
    assert on_disk.kits(again) == on_disk.kits(first) == on_disk.kits(read_edition(folder))


def same_size_and_time(path):
    """Another content of the same size, and the time of modification put back."""
    stat, text = path.stat(), path.read_text(encoding="utf-8")
    path.write_text(text.replace("J-1", "X-1"), encoding="utf-8")
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (stat.st_size, stat.st_mtime_ns)


def swapped_for_a_file_of_the_same_size_and_time(path):
    """Another file moved into its place, with the same size and time of modification."""
    shutil.copy2(path, path.with_suffix(".new"))
    same_size_and_time(path.with_suffix(".new"))
    path.with_suffix(".new").replace(path)


def longer(path):
    """More at its end."""
    with open(path, "a", encoding="utf-8") as file:
        file.write("jack,X-1,1,each\n")


@pytest.mark.parametrize("change", [same_size_and_time, swapped_for_a_file_of_the_same_size_and_time, longer])
def test_any_change_is_seen(folder, cache, change):
    before = settled(folder, cache)
    change(folder / "fits/lift.csv")
    after = open_edition(folder, cache)
    assert after.name != before.name
    assert on_disk.kits(after) == on_disk.kits(read_edition(folder)) != on_disk.kits(before)


@pytest.mark.parametrize("change", [
    lambda path: os.utime(path), lambda path: os.chmod(path, 0o600), lambda path: path.write_bytes(path.read_bytes())])
def test_a_change_that_leaves_the_bytes_is_hashed_and_not_compiled(folder, cache, hashed, change, monkeypatch):
    before = settled(folder, cache)
    change(folder / "items.csv")
    hashed.clear()
    monkeypatch.setattr("kitbuilder.catalogue.compiled.compile_content", None)
    after = settled(folder, cache)
    assert len(hashed) == len(OWN)
    assert (after.name, after.path) == (before.name, before.path)
    hashed.clear()
    open_edition(folder, cache)
    assert hashed == []


def test_a_file_that_comes_or_goes_is_seen(folder, cache):
    before = settled(folder, cache).name
    (folder / "fits/more.csv").write_text("role,item,amount,unit\noil,nothing,,\n", encoding="utf-8")
    assert settled(folder, cache).name != before
    (folder / "fits/more.csv").unlink()
    assert settled(folder, cache).name == before


def test_a_change_within_one_tick_of_the_clock_is_seen(folder, cache, monkeypatch):
    """A clock too coarse to tell two changes apart: the second one leaves size, times and inode as they were."""
    looks = module._looks(folder)
    monkeypatch.setattr(module, "_looks", lambda _: looks)
    before = open_edition(folder, cache)
    (folder / "fits/lift.csv").write_text("role,item,amount,unit\njack,X-1,1,each\n", encoding="utf-8")
    after = open_edition(folder, cache)
    assert after.name != before.name

    time.sleep(module._TICK_NS / 1e9 + 0.02)
    assert open_edition(folder, cache).name == after.name
    (folder / "fits/lift.csv").write_text("role,item,amount,unit\njack,J-1,1,each\n", encoding="utf-8")
    assert open_edition(folder, cache).name == after.name, "the clock of this test is no longer too coarse"


def test_faults_leave_what_was_kept_and_are_told_each_time(folder, cache):
    before = settled(folder, cache)
    good = (folder / "fits/lift.csv").read_bytes()
    (folder / "fits/lift.csv").write_text("role,item,amount,unit\njack,J-9,1,each\n", encoding="utf-8")
    for _ in range(2):
        with pytest.raises(LoadError, match="J-9"):
            settled(folder, cache)
    assert on_disk.kept(cache) == [f"{before.name}.edition"]
    (folder / "fits/lift.csv").write_bytes(good)
    assert open_edition(folder, cache).name == before.name


# Read part by part


def needed(edition, job):
    """The keys of the parts that a kit of the job reads."""
    read: set[str] = set()
    edition._connection.set_trace_callback(lambda told: read.add(told.split("'")[1]))
    build_kit(edition, job)
    edition._connection.set_trace_callback(None)
    return read


def test_one_job_is_read_without_the_rest(folder, cache):
    parts = needed(open_edition(folder, cache), "electric")
    assert parts == {"facts", "finding/port-damaged", "job/electric", "role/fuse", "requirement/line-fuse", "more"}
    assert needed(open_edition(folder, cache), "lift") == {
        "facts", "job/lift", "role/jack", "item/J-1", "caution/heavy-unit", "more"}


def test_a_job_can_do_without_all_that_it_does_not_read(folder, cache):
    opened = open_edition(folder, cache)
    wanted, parts = build_kit(opened, "actuator"), needed(open_edition(folder, cache), "actuator")
    with sqlite3.connect(opened.path) as connection:
        marks = ",".join("?" * len(parts))
        gone = connection.execute(f"UPDATE part SET value = x'C1' WHERE key NOT IN ({marks})", sorted(parts)).rowcount
    connection.close()
    assert gone >= 6
    left = open_edition(folder, cache)
    assert build_kit(left, "actuator") == wanted
    with pytest.raises(BadData):
        left.job("electric")
