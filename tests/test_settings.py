"""The settings: which file holds, what may stand in it, and what is said where something else does."""

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from kitbuilder.errors import BadData, WrongUse
from kitbuilder.settings import (
    DEMO_MARK,
    FILE,
    PluginSettings,
    Settings,
    catalogue_folder,
    find_settings,
    read_settings,
)
from tests.plugins.installed import ROOT, kitbuilder

FULL = """
catalogue = "our catalogue"

[sources.counter]
plugin = "price-file"
file = "prices.csv"
deadline_s = 2
stale_after_h = 0.5

[sources.supplier]
plugin = "price-file"

[registers.fleet]
plugin = "fleet-file"
file = "fleet.csv"
"""


def put(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / FILE
    file.write_bytes(text.encode())
    return file


def refused(folder: Path, text: str) -> str:
    file = put(folder, text)
    with pytest.raises(BadData) as told:
        read_settings(file)
    assert str(told.value).startswith(str(file))
    return str(told.value).removeprefix(str(file))


def test_a_full_file_is_read_with_its_defaults(tmp_path):
    file = put(tmp_path, FULL)
    assert read_settings(file) == Settings(
        folder=tmp_path, file=file, catalogue=tmp_path / "our catalogue",
        sources=(
            PluginSettings("counter", "price-file", 2.0, 0.5, {"file": "prices.csv"}),
            PluginSettings("supplier", "price-file", 5.0, 24.0, {}),
        ),
        registers=(PluginSettings("fleet", "fleet-file", 5.0, 24.0, {"file": "fleet.csv"}),))


def test_an_empty_file_settles_that_nothing_is_set(tmp_path):
    file = put(tmp_path, "")
    assert read_settings(file) == Settings(folder=tmp_path, file=file)


def test_a_mark_before_the_text_and_windows_line_ends_are_read(tmp_path):
    assert read_settings(put(tmp_path, "\ufeff" + FULL.replace("\n", "\r\n"))).sources[0].name == "counter"


def test_the_nearest_file_here_or_above_holds(tmp_path):
    put(tmp_path, 'catalogue = "far"')
    near = put(tmp_path / "a/b", 'catalogue = "near"')
    below = tmp_path / "a/b/c/d"
    below.mkdir(parents=True)
    for start in (below, below.parent, near.parent):
        assert find_settings(start) == Settings(near.parent, near, near.parent / "near")
    assert find_settings(tmp_path / "a").catalogue == tmp_path / "far"
    assert find_settings(tmp_path).catalogue == tmp_path / "far"


def test_a_relative_start_finds_what_lies_above(tmp_path, monkeypatch):
    file = put(tmp_path, "")
    (tmp_path / "below").mkdir()
    monkeypatch.chdir(tmp_path / "below")
    assert find_settings(Path(".")).file == file


def test_a_folder_of_that_name_is_no_file(tmp_path):
    file = put(tmp_path, "")
    (tmp_path / "below" / FILE).mkdir(parents=True)
    assert find_settings(tmp_path / "below").file == file


def test_where_no_file_is_found_nothing_is_set(tmp_path):
    assert find_settings(tmp_path) == Settings(folder=tmp_path)


@pytest.mark.parametrize(("written", "path"), [
    ("catalogue", "shop/catalogue"), ("../catalogue", "shop/../catalogue"), (".", "shop")])
def test_relative_paths_start_at_the_folder_of_the_settings(tmp_path, written, path):
    assert read_settings(put(tmp_path / "shop", f'catalogue = "{written}"')).catalogue == tmp_path / path


def test_an_absolute_path_is_that_path(tmp_path):
    assert read_settings(put(tmp_path / "shop", f"catalogue = '{tmp_path}'")).catalogue == tmp_path


@pytest.mark.parametrize(("key", "words"), [
    ("catalog", "there is no setting 'catalog'. Did you mean 'catalogue'?"),
    ("source", "there is no setting 'source'. Did you mean 'sources'?"),
    ("Catalogue", "there is no setting 'Catalogue'. Did you mean 'catalogue'?"),
    ("zzz", "there is no setting 'zzz'. Expected one of catalogue, "),
])
def test_an_unknown_key_is_refused_with_the_nearest(tmp_path, key, words):
    assert words in refused(tmp_path, f'{key} = "x"')


@pytest.mark.parametrize(("text", "words"), [
    ("catalogue = ", "is not TOML: "),
    ('catalogue = "a"\ncatalogue = "b"', "is not TOML: "),
    ("[sources", "is not TOML: "),
    ("catalogue = 7", "catalogue = 7; expected the path of a catalogue folder as a text."),
    ('catalogue = ["a"]', "expected the path of a catalogue folder as a text."),
    ("sources = 7", "sources = 7; expected tables [sources.NAME]."),
    ('sources = ["a"]', "expected tables [sources.NAME]."),
    ('[sources]\nplugin = "price-file"', "expected tables [sources.NAME]."),
    ('[[registers]]\nplugin = "x"', "expected tables [registers.NAME]."),
    ('[sources.counter]\nfile = "x"', '[sources.counter] has no plugin = "…"'),
    ("[registers.fleet]\nplugin = 7", '[registers.fleet] has no plugin = "…"'),
])
def test_what_is_wrong_is_told_with_the_file(tmp_path, text, words):
    assert words in refused(tmp_path, text)


@pytest.mark.parametrize("key", ["deadline_s", "stale_after_h"])
@pytest.mark.parametrize("value", ["0", "-1", '"5"', "true", "nan", "inf", "1000000", "[5]", "2026-03-10"])
def test_a_time_that_is_no_number_above_nought_is_refused(tmp_path, key, value):
    told = refused(tmp_path, f'[sources.counter]\nplugin = "price-file"\n{key} = {value}\n')
    assert f"[sources.counter] {key} = " in told
    assert "expected a number more than 0 and less than 1000000." in told


def test_a_round_of_quotes_has_a_deadline_where_the_settings_say_so(tmp_path):
    assert read_settings(put(tmp_path, "")).round_s is None
    assert read_settings(put(tmp_path, "[quotes]\n")).round_s is None
    assert read_settings(put(tmp_path, "[quotes]\ndeadline_s = 3\n")).round_s == 3.0
    for value in ("0", "-1", '"5"', "true", "nan", "1000000"):
        assert "[quotes] deadline_s = " in refused(tmp_path, f"[quotes]\ndeadline_s = {value}\n")
    assert "[quotes] has no key 'deadlines'. Did you mean 'deadline_s'?" in refused(
        tmp_path, "[quotes]\ndeadlines = 3\n")
    assert "expected a table [quotes] with deadline_s." in refused(tmp_path, "quotes = 3\n")


def test_bytes_that_are_no_text_are_refused(tmp_path):
    (tmp_path / FILE).write_bytes(b"catalogue = \"\xff\"")
    with pytest.raises(BadData, match="is not TOML"):
        read_settings(tmp_path / FILE)


def test_a_file_that_cannot_be_opened_is_told(tmp_path):
    with pytest.raises(BadData, match="can't be read: No such file or directory"):
        read_settings(tmp_path / FILE)


NOW = "now = 2026-03-10T15:00:00+00:00\n"


def test_the_clock_may_be_fixed_in_a_demo_folder_only(tmp_path):
    assert "'now' fixes the clock, which only a demo folder may; take the line out." in refused(tmp_path, NOW)
    (tmp_path / DEMO_MARK).touch()
    assert read_settings(put(tmp_path, NOW)).now == datetime(2026, 3, 10, 15, tzinfo=UTC)
    # the mark of a folder above marks no other
    assert "'now' fixes the clock" in refused(tmp_path / "below", NOW)


@pytest.mark.parametrize("value", ["2026-03-10T15:00:00", "2026-03-10", "15:00:00", '"2026-03-10T15:00:00+00:00"', "7"])
def test_a_fixed_clock_has_a_day_a_time_and_a_zone(tmp_path, value):
    (tmp_path / DEMO_MARK).touch()
    assert "expected a day and time with its zone, as 2026-03-10T15:00:00+00:00." in refused(tmp_path, f"now = {value}")


def test_the_catalogue_named_outranks_the_settings_and_without_either_it_is_asked(tmp_path):
    settings = Settings(tmp_path, tmp_path / FILE, tmp_path / "ours")
    assert catalogue_folder(settings, tmp_path / "named") == tmp_path / "named"
    assert catalogue_folder(settings, None) == tmp_path / "ours"
    with pytest.raises(WrongUse, match=r"Which catalogue\? .*kitbuilder\.toml names none\. .*--catalogue"):
        catalogue_folder(Settings(tmp_path, tmp_path / FILE), None)
    with pytest.raises(WrongUse, match=r"Which catalogue\? no kitbuilder\.toml is in .*--catalogue"):
        catalogue_folder(Settings(tmp_path), None)


# the same through the command line


def test_a_command_run_below_the_settings_uses_their_paths(tmp_path):
    os.symlink(ROOT / "demo_catalog", tmp_path / "ours")
    put(tmp_path, 'catalogue = "ours"\n[registers.fleet]\nplugin = "fleet-file"\nfile = "ours/fleet.csv"\n')
    below = tmp_path / "bay/2"
    below.mkdir(parents=True)
    answer = kitbuilder(below, "kit", "gearbox-oil-change", "--vehicle", "demo001", "--json")
    assert (answer.returncode, answer.stderr) == (0, "")


def test_settings_that_are_wrong_end_with_3_and_one_paragraph(tmp_path):
    put(tmp_path, 'catalog = "x"\n')
    answer = kitbuilder(tmp_path, "sources")
    assert (answer.returncode, answer.stdout) == (3, "")
    assert "there is no setting 'catalog'. Did you mean 'catalogue'?" in " ".join(answer.stderr.split())
    assert "Traceback" not in answer.stderr


def test_a_fixed_clock_outside_a_demo_folder_ends_with_3(tmp_path):
    put(tmp_path, NOW)
    answer = kitbuilder(tmp_path, "sources")
    assert (answer.returncode, answer.stdout) == (3, "")
    assert "only a demo folder may" in " ".join(answer.stderr.split())
