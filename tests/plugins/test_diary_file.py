"""The bundled diary plug-in, through the same door as a stranger's."""

from datetime import datetime
from pathlib import Path

import pytest

from kitbuilder import BadData, Context, DiaryEntry
from kitbuilder.plugins import load_plugins

HEADING = "id,start,site,job"
ROW = "a,2026-03-11T07:30,marl,seal-change"


def diary(folder: Path, *lines: str, **settings: object) -> list[DiaryEntry]:
    """What a diary file of some lines tells."""
    (folder / "diary.csv").write_text("".join(f"{line}\n" for line in lines), "utf-8")
    kind, _ = load_plugins().diary("diary-file")
    return list(kind.make(Context("office", {"file": "diary.csv", **settings}, folder, "EUR")).entries())


def test_a_row_is_a_booking_and_what_isnt_told_has_its_default(tmp_path: Path) -> None:
    assert diary(tmp_path, HEADING, ROW) == [
        DiaryEntry(id="a", start=datetime(2026, 3, 11, 7, 30), site="marl", job="seal-change")]


def test_every_column_counts_and_the_others_are_facts(tmp_path: Path) -> None:
    [one] = diary(
        tmp_path,
        "id;recurrence;revision;visit;start;site;job;registration;state;priority;bay;technician;emissions;place;note",
        "a;2;7;v;2026-03-11 07:30;marl;seal-change;DEMO 5;enquiry;VOR;3;A. Person;Euro V;;rings before")
    assert one == DiaryEntry(
        id="a", recurrence="2", revision=7, visit="v", start=datetime(2026, 3, 11, 7, 30), site="marl",
        job="seal-change", registration="DEMO 5", state="enquiry", priority="VOR", bay="3", technician="A. Person",
        facts={"emissions": "Euro V"})


def test_an_empty_diary_is_no_failure(tmp_path: Path) -> None:
    assert diary(tmp_path, HEADING) == []


def test_it_is_read_anew_at_each_look(tmp_path: Path) -> None:
    diary(tmp_path, HEADING, ROW)
    kind, _ = load_plugins().diary("diary-file")
    made = kind.make(Context("office", {"file": "diary.csv"}, tmp_path, "EUR"))
    assert len(made.entries()) == 1
    (tmp_path / "diary.csv").write_text(f"{HEADING}\n{ROW}\n{ROW.replace('a,', 'b,', 1)}\n", "utf-8")
    assert len(made.entries()) == 2


@pytest.mark.parametrize(("heading", "row", "said"), [
    (HEADING, ",2026-03-11T07:30,marl,seal-change", "line 2: expected something under id"),
    (HEADING, "a,2026-03-11T07:30,,seal-change", "line 2: expected something under site"),
    (HEADING, "a,2026-03-11T07:30,marl,", "line 2: expected something under job"),
    (HEADING, "a,,marl,seal-change", "line 2: expected something under start"),
    (HEADING, "a,11.3.2026,marl,seal-change", "a day and time under start, as 2026-03-11T07:30, not '11.3.2026'"),
    (HEADING, "a,2026-03-11,marl,seal-change", "a day and time under start, as 2026-03-11T07:30, not '2026-03-11'"),
    (HEADING, "a,2026-03-11T07:30Z,marl,seal-change", "the time at the site under start, without a zone"),
    (f"{HEADING},revision", f"{ROW},two", "a whole number under revision, not 'two'"),
    (f"{HEADING},revision", f"{ROW},-1", "a whole number under revision, not '-1'"),
    (f"{HEADING},revision", f"{ROW},²", "a whole number under revision, not '²'"),
    (f"{HEADING},state", f"{ROW},maybe", "a state (enquiry, authorised, cancelled)"),
    (f"{HEADING},priority", f"{ROW},vor", "a priority (normal, VOR)"),
])
def test_a_row_that_cant_be_read_is_named(tmp_path: Path, heading: str, row: str, said: str) -> None:
    with pytest.raises(BadData) as error:
        diary(tmp_path, heading, row)
    assert "diary.csv" in str(error.value) and said in str(error.value)


def test_all_rows_that_cant_be_read_are_named_together(tmp_path: Path) -> None:
    with pytest.raises(BadData) as error:
        diary(tmp_path, HEADING, ",2026-03-11T07:30,marl,x", ROW, "c,soon,marl,x")
    assert "line 2" in str(error.value) and "line 4" in str(error.value) and "line 3" not in str(error.value)


def test_a_column_that_is_needed_and_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadData, match="site"):
        diary(tmp_path, "id,start,job", "a,2026-03-11T07:30,seal-change")


def test_a_file_that_isnt_there_is_named(tmp_path: Path) -> None:
    kind, _ = load_plugins().diary("diary-file")
    with pytest.raises(BadData, match=r"diary\.csv"):
        kind.make(Context("office", {"file": "diary.csv"}, tmp_path, "EUR")).entries()


@pytest.mark.parametrize(("settings", "said"), [
    ({}, "file ="), ({"file": 3}, "file ="), ({"file": "diary.csv", "fiel": "x"}, "only file, not fiel"),
])
def test_settings_that_it_cant_use_say_what_was_expected(
        tmp_path: Path, settings: dict[str, object], said: str) -> None:
    kind, _ = load_plugins().diary("diary-file")
    with pytest.raises(ValueError, match=said):
        kind.make(Context("office", settings, tmp_path, "EUR"))
