"""Editions whose files were spoilt, went missing or grew old."""

import json
import os
import time

import pytest

from kitbuilder.catalogue import cache as module
from kitbuilder.catalogue.cache import open_edition
from kitbuilder.errors import BadData
from tests.catalogue import on_disk


@pytest.fixture
def folder(tmp_path):
    """The small catalogue, which hasn't been touched for a moment, so that it may be taken for fresh."""
    made = on_disk.write(tmp_path / "catalogue")
    time.sleep(module._TICK_NS / 1e9 + 0.02)
    return made


@pytest.fixture
def cache(tmp_path):
    """A cache folder that isn't there yet."""
    return tmp_path / "cache"


def test_the_bytes_of_an_edition_are_the_same_each_time(folder, cache, tmp_path):
    one, other = open_edition(folder, cache), open_edition(folder, tmp_path / "other")
    assert one.path.read_bytes() == other.path.read_bytes()


@pytest.mark.parametrize("spoil", [
    lambda data: b"", lambda data: data[:100], lambda data: data[:-1], lambda data: data[:4096],
    lambda data: data[: len(data) // 2], lambda data: b"\0" * len(data), lambda data: os.urandom(len(data)),
    lambda data: data + data, lambda data: b"not an edition",
], ids=["empty", "header", "one short", "one page", "half", "zeros", "noise", "twice", "words"])
def test_a_spoilt_edition_is_compiled_again(folder, cache, spoil):
    first = open_edition(folder, cache)
    wanted, data = on_disk.kits(first), first.path.read_bytes()
    first.path.write_bytes(spoil(data))
    again = open_edition(folder, cache)
    assert (again.name, again.path, on_disk.kits(again)) == (first.name, first.path, wanted)
    assert first.path.read_bytes() == data


def test_an_edition_that_is_gone_is_compiled_again(folder, cache):
    first = open_edition(folder, cache)
    first.path.unlink()
    again = open_edition(folder, cache)
    assert (again.name, again.path) == (first.name, first.path) and first.path.exists()


def test_an_edition_spoilt_further_in_is_told_in_words_and_compiled_the_next_time(folder, cache):
    first = open_edition(folder, cache)
    wanted, data = on_disk.kits(first), first.path.read_bytes()
    first.path.write_bytes(data[:4096] + os.urandom(len(data) - 4096))
    with pytest.raises(BadData, match=r"is damaged .* run this once more") as raised:
        on_disk.kits(open_edition(folder, cache))
    assert str(first.path) in str(raised.value)
    again = open_edition(folder, cache)
    assert on_disk.kits(again) == wanted and first.path.read_bytes() == data


@pytest.mark.parametrize("spoilt", [
    b"", b"{", b"[]", b'{"format": 1}', b"\xff\xfe", b'{"format":99,"edition":"x","hashed_ns":9,"files":[]}'])
def test_a_spoilt_mark_is_made_again(folder, cache, spoilt):
    first = open_edition(folder, cache)
    (mark,) = (cache / "folders").iterdir()
    made = json.loads(mark.read_bytes())
    mark.write_bytes(spoilt)
    assert open_edition(folder, cache).name == first.name
    again = json.loads(mark.read_bytes())
    assert again.pop("hashed_ns") > made.pop("hashed_ns")
    assert again == made


def test_what_was_not_written_for_a_month_is_forgotten_when_another_is_written(folder, cache):
    old = open_edition(folder, cache)
    left = old.path.with_name(f".{'0' * 64}.edition.1.1")
    left.write_bytes(b"what a kill left")
    (mark,) = (cache / "folders").iterdir()
    left_mark = mark.with_name(".left.json.1.1")
    left_mark.write_bytes(b"what a kill left")
    for path, days in ((old.path, 29), (left, 31), (left_mark, 31)):
        os.utime(path, (time.time() - days * 86400,) * 2)
    on_disk.changed(folder, "second")
    second = open_edition(folder, cache)
    assert old.path.exists() and not left.exists() and not left_mark.exists()
    os.utime(old.path, (time.time() - 31 * 86400,) * 2)
    on_disk.changed(folder, "third")
    third = open_edition(folder, cache)
    assert on_disk.kept(cache) == sorted(f"{one.name}.edition" for one in (second, third))
    assert on_disk.kits(old), "an open edition is read on though its file is gone"


def test_a_folder_that_is_not_there_is_told_in_words(tmp_path, cache):
    with pytest.raises(BadData, match=r"There is no catalogue in .*nowhere"):
        open_edition(tmp_path / "nowhere", cache)
    assert not cache.exists()
