"""supersession.csv: which item takes the place of which, its faults, and how an edition carries it."""

from datetime import date
from pathlib import Path

import msgspec
import pytest

from kitbuilder.catalogue.cache import open_edition, read_edition
from kitbuilder.catalogue.folder import own_files
from kitbuilder.errors import Fault
from kitbuilder.kit.build import build_kit
from kitbuilder.model.catalogue import Replacement, Supersession
from kitbuilder.proof.check import check_catalogue
from tests.catalogue.good_files import GOOD, content_of, faults_of

S = "supersession.csv"
ITEMS = GOOD["items.csv"] + """\
U-2;Unit, second build;each;;;;;;;;;;
U-3;Unit, third build;each;;;;;;;;;;
P-2;Pipe, coated;mm;;;;;;;;;;
"""
TABLE = """\
old,new,from,rule,note
U-1,U-2,2026-03-01,used up first,Other casting
U-2,U-3,,used up first,
P-1,P-2,2027-01-01,used up first,
"""


def files(table: str = TABLE) -> dict[str, str]:
    return {**GOOD, "items.csv": ITEMS, S: table}


def faults(table: str) -> list[tuple[int, str, str, str]]:
    found = faults_of(files(table))
    assert {one.file for one in found} <= {S}
    return [(one.row, one.column, one.read, one.expected) for one in found]


def only(table: str) -> Fault:
    [found] = faults_of(files(table))
    assert found.file == S
    return found


def test_it_is_read_by_the_old_number_in_the_order_of_the_file() -> None:
    found = content_of(files()).supersessions
    assert list(found.values()) == [
        Supersession("U-1", "U-2", date(2026, 3, 1), "Other casting", 2), Supersession("U-2", "U-3", None, "", 3),
        Supersession("P-1", "P-2", date(2027, 1, 1), "", 4)]
    assert list(found) == ["U-1", "U-2", "P-1"]


def test_a_catalogue_without_it_supersedes_nothing() -> None:
    assert content_of(GOOD).supersessions == {}


def test_columns_with_nothing_in_them_may_be_absent() -> None:
    assert content_of(files("new;rule;old\nU-2;used up first;U-1\n")).supersessions == {
        "U-1": Supersession("U-1", "U-2", None, "", 2)}


def test_a_table_without_rows_supersedes_nothing() -> None:
    assert content_of(files("old,new,from,rule,note\n")).supersessions == {}


HEAD = "old,new,from,rule,note\n"


@pytest.mark.parametrize(("row", "column", "read", "words"), [
    ("U-9,U-2,,used up first,", "old", "U-9", "an item: a known name; did you mean 'U-"),
    ("U-1,U-22,,used up first,", "new", "U-22", "did you mean 'U-2'"),
    ("nothing,U-2,,used up first,", "old", "nothing", "an item"),
    (",U-2,,used up first,", "old", "", "an item number"),
    ("U-1,,,used up first,", "new", "", "an item number"),
    ("U-1,U-1,,used up first,", "new", "U-1", "another item than the old one"),
    ("U-1,P-2,,used up first,", "new", "P-2", "converts to that of U-1, each (P-2 has mm)"),
    ("U-1,U-2,1 March 2026,used up first,", "from", "1 March 2026", "a day, such as 2026-03-01"),
    ("U-1,U-2,20260301,used up first,", "from", "20260301", "a day, such as"),
    ("U-1,U-2,2026-02-29,used up first,", "from", "2026-02-29", "a day, such as"),
    ("U-1,,,two-way,", "new", "", "an item number (or the rule 'withdrawn', where nothing takes its place)"),
    ("U-1,U-22,,withdrawn,", "new", "U-22", "did you mean 'U-2'"),
    ("U-1,U-2,,withdrwan,", "rule", "withdrwan", "a rule: a known name; did you mean 'withdrawn'?"),
    ("U-1,U-2,,Used up first,", "rule", "Used up first", "did you mean 'used up first'?"),
    ("U-1,U-2,,,", "rule", "", "the rule: used up first, withdrawn, two-way"),
])
def test_each_fault_is_told_where_it_is(row: str, column: str, read: str, words: str) -> None:
    fault = only(f"{HEAD}\n{row}\n")
    # the empty row counts as an editor counts
    assert (fault.row, fault.column, fault.read) == (3, column, read)
    assert words in fault.expected


def test_an_old_item_is_superseded_once() -> None:
    fault = only(HEAD + "U-1,U-2,,used up first,\nU-1,U-3,2026-05-01,used up first,\n")
    assert (fault.row, fault.column, fault.read) == (3, "old", "U-1")
    assert "each number once under old (by line 2 it is superseded already)" in fault.expected


def test_a_new_item_takes_the_place_of_one() -> None:
    fault = only(HEAD + "U-1,U-3,,used up first,\nU-2,U-3,,used up first,\n")
    assert (fault.row, fault.column, fault.read) == (3, "new", "U-3")
    assert "each number once under new (by line 2 it takes the place of another already)" in fault.expected


def test_every_rule_is_read_and_what_is_withdrawn_may_have_no_successor() -> None:
    found = content_of(files(HEAD + "U-1,U-2,,two-way,\nU-2,,2026-03-01,withdrawn,\nP-1,P-2,,withdrawn,\n"))
    assert list(found.supersessions.values()) == [
        Supersession("U-1", "U-2", None, "", 2, "two-way"),
        Supersession("U-2", "", date(2026, 3, 1), "", 3, "withdrawn"),
        Supersession("P-1", "P-2", None, "", 4, "withdrawn")]


def test_several_may_be_withdrawn_without_a_successor() -> None:
    assert list(content_of(files(HEAD + "U-1,,,withdrawn,\nU-2,,,withdrawn,\n")).supersessions) == ["U-1", "U-2"]


def test_a_circle_is_read_as_it_stands() -> None:
    table = HEAD + "U-2,U-3,,used up first,\nU-3,U-1,,used up first,\nU-1,U-2,,used up first,\n"
    assert list(content_of(files(table)).supersessions) == ["U-2", "U-3", "U-1"]


def test_a_chain_is_no_circle() -> None:
    assert faults(HEAD + "U-2,U-3,,used up first,\nU-1,U-2,,used up first,\n") == []


def test_all_faults_are_told_together() -> None:
    told = faults(HEAD + "U-9,U-2,soon,gone,\nU-1,U-1,,used up first,\nU-2,,,,\n")
    assert [(row, column) for row, column, _, _ in told] == [
        (2, "from"), (2, "old"), (2, "rule"), (3, "new"), (4, "new"), (4, "rule")]


@pytest.mark.parametrize(("head", "column", "words"), [
    ("old,neu,rule", "neu", "did you mean 'new'"), ("old,new", "rule", "a column 'rule'"),
    ("old,new,rule,until", "until", "a column: one of"), ("old,new,rule,rule", "rule", "each column once"),
])
def test_wrong_columns_are_told_in_the_first_row(head: str, column: str, words: str) -> None:
    fault = only(f"{head}\n")
    assert (fault.row, fault.column) == (1, column)
    assert words in fault.expected


def test_an_item_that_could_not_be_read_is_not_blamed_twice() -> None:
    without = {path: text for path, text in files().items() if path != "items.csv"}
    assert [one.file for one in faults_of(without)] == ["items.csv"]


def on_disk(folder: Path, table: str | None) -> Path:
    for path, text in files().items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, "utf-8")
    (folder / S).unlink()
    if table is not None:
        (folder / S).write_text(table, "utf-8")
    return folder


def test_an_edition_carries_it_and_is_another_one_with_it(tmp_path: Path) -> None:
    plain = read_edition(on_disk(tmp_path / "plain", None))
    folder = on_disk(tmp_path / "told", TABLE)
    assert S in own_files(folder)
    opened = open_edition(folder, tmp_path / "cache")
    assert opened.path is not None
    assert opened.name not in (plain.name, read_edition(on_disk(tmp_path / "other", HEAD)).name)
    assert opened.supersessions == content_of(files()).supersessions
    assert plain.supersessions == {}


def test_a_change_of_the_file_alone_compiles_anew(tmp_path: Path) -> None:
    folder = on_disk(tmp_path / "told", TABLE)
    assert "P-1" in open_edition(folder, tmp_path / "cache").supersessions
    (folder / S).write_text(HEAD, "utf-8")
    assert open_edition(folder, tmp_path / "cache").supersessions == {}
    (folder / S).unlink()
    assert open_edition(folder, tmp_path / "cache").supersessions == {}


def test_the_kit_itself_is_not_changed_by_it(tmp_path: Path) -> None:
    plain, told = read_edition(on_disk(tmp_path / "plain", None)), read_edition(on_disk(tmp_path / "told", TABLE))
    for job, _, _ in plain.heading.jobs:
        before, after = build_kit(plain, job), build_kit(told, job)
        assert before.lines
        assert after == msgspec.structs.replace(before, edition=told.name, fingerprint=after.fingerprint)


def test_what_takes_the_place_of_something_used_is_used(tmp_path: Path) -> None:
    def unused(table: str | None, place: str) -> list[str]:
        found = check_catalogue(read_edition(on_disk(tmp_path / place, table)))
        return [one.text.split()[4] for one in found.remarks if one.kind == "unused item"]

    assert unused(None, "plain") == ["F-1", "P-2", "U-2", "U-3"]
    assert unused(TABLE, "told") == ["F-1"]
    # what follows something that nothing uses is as unused as that
    assert unused(HEAD + "F-1,U-3,,used up first,\nP-1,P-2,,used up first,\n", "other") == ["F-1", "U-2", "U-3"]


def remarked(folder: Path, table: str) -> list[tuple[str, list[int], str]]:
    found = check_catalogue(read_edition(on_disk(folder, HEAD + table)))
    return [(one.item, [row.row for row in one.rows], one.text) for one in found.remarks if one.kind == "supersession"]


def test_a_circle_is_remarked_once_with_all_that_is_in_it(tmp_path: Path) -> None:
    [(item, rows, text)] = remarked(
        tmp_path, "U-2,U-3,,used up first,\nU-3,U-1,,used up first,\nU-1,U-2,,used up first,\n")
    assert (item, rows) == ("U-2", [2, 3, 4])
    assert "U-2, U-3, U-1, U-2 take each other's place in a circle" in text


def test_two_that_stand_for_each_other_are_no_circle(tmp_path: Path) -> None:
    assert remarked(tmp_path, "U-1,U-2,,two-way,\nU-2,U-1,,two-way,\n") == []


def test_what_is_in_use_and_leads_to_nothing_is_remarked(tmp_path: Path) -> None:
    [(item, rows, text)] = remarked(tmp_path, "U-1,U-2,,withdrawn,\nU-2,,2026-03-01,withdrawn,\nU-3,,,withdrawn,\n")
    # nothing asks for U-3
    assert (item, rows) == ("U-1", [2, 3])
    assert "U-1, U-2 are withdrawn by 2026-03-01 and nothing takes the place" in text


@pytest.mark.parametrize("table", [
    "U-1,U-2,,used up first,\nU-2,,,withdrawn,\n",  # the old one may still be used
    "U-1,,,withdrawn,\nU-2,U-1,,two-way,\n",  # and so may what stands for it
    "U-1,U-2,,withdrawn,\n",
])
def test_what_leads_to_something_is_not(tmp_path: Path, table: str) -> None:
    assert remarked(tmp_path, table) == []


# Sets and groups

TOGETHER = "old,new,from,rule,note,set,old_amount,new_amount,group\n"


def together(rows: str) -> tuple[Replacement, ...]:
    return content_of(files(TOGETHER + rows)).supersessions.together


def test_the_rows_of_a_set_are_one() -> None:
    rows = "U-1,U-2,2026-03-01,used up first,Clip apart,s,,,\nU-1,P-2,2026-03-01,used up first,,s,,250,\n"
    assert together(rows) == (
        Replacement({"U-1": 1000}, {"U-2": 1000, "P-2": 250_000}, "s", "", date(2026, 3, 1), "Clip apart", (2, 3)),)
    assert together("U-1,U-3,,two-way,,s,2,1,\nU-2,U-3,,two-way,,s,,1,\n") == (
        Replacement({"U-1": 2000, "U-2": 1000}, {"U-3": 1000}, "s", rows=(2, 3), rule="two-way"),)


def test_the_pairs_of_a_group_are_kept_together_and_a_set_may_be_of_one() -> None:
    found = together("U-1,U-2,,used up first,,,,,g\nP-1,P-2,,used up first,,,,,g\n")
    assert [(one.olds, one.news, one.set, one.group) for one in found] == [
        ({"U-1": 1000}, {"U-2": 1000}, "", "g"), ({"P-1": 1000}, {"P-2": 1000}, "", "g")]
    [one] = together("U-1,U-2,,used up first,,s,,,g\n")
    assert (one.set, one.group) == ("s", "g")


def test_what_stands_in_a_set_may_stand_alone_too() -> None:
    found = content_of(files(TOGETHER + (
        "U-1,U-3,,used up first,,s,,,\nU-2,U-3,,used up first,,s,,,\nU-1,U-3,,used up first,,,,,\n"))).supersessions
    assert list(found) == ["U-1"]
    assert len(found.together) == 1


@pytest.mark.parametrize(("rows", "column", "read", "words"), [
    ("U-1,U-2,,used up first,,s,,,\nU-1,U-3,2026-03-01,used up first,,s,,,", "from", "2026-03-01",
     "nothing, as in line 2 of the set 's'"),
    ("U-1,U-2,,used up first,,s,,,\nU-1,U-3,,withdrawn,,s,,,", "rule", "withdrawn", "'used up first', as in line 2"),
    ("U-1,U-2,,used up first,,s,,,g\nU-1,U-3,,used up first,,s,,,", "group", "", "'g', as in line 2 of the set 's'"),
    ("U-1,U-2,,used up first,,,,,g\nP-1,P-2,,two-way,,,,,g", "rule", "two-way", "as in line 2 of the group 'g'"),
    ("U-1,U-2,,used up first,,s,2,,\nU-1,U-3,,used up first,,s,1,,", "old_amount", "1",
     "one amount of U-1 in the whole set: 2, as in line 2"),
    ("U-3,U-2,,used up first,,s,,,\nU-1,U-2,,used up first,,s,,2,", "new_amount", "2", "one amount of U-2"),
    ("U-1,U-2,,used up first,,s,,,\nU-1,U-2,,used up first,,s,,,", "new", "U-2", "each pair of a set once (line 2"),
    ("U-1,U-2,,used up first,,s,,,\nU-2,U-3,,used up first,,s,,,", "new", "U-2", "than the set's old ones (U-1, U-2)"),
    ("P-1,P-2,,used up first,,,,,\nU-1,U-2,,used up first,,,,2,", "new_amount", "2", "the name of a set"),
    ("P-1,P-2,,used up first,,,,,\nU-1,U-2,,used up first,,s,0.5,,", "old_amount", "0.5",
     "so much of U-1 in each: a whole number of each"),
    ("P-1,P-2,,used up first,,,,,\nU-1,,,withdrawn,,s,,,", "new", "", "an item number"),
    ("P-1,P-2,,used up first,,,,,\nU-1,,,withdrawn,,,,,g", "new", "", "an item number"),
    ("U-2,U-3,,used up first,,,,,\nU-1,P-2,,used up first,,,,,g", "new", "P-2", "converts to that of U-1"),
])
def test_a_fault_of_a_set_or_group_is_told_where_it_is(rows: str, column: str, read: str, words: str) -> None:
    found = [one for one in faults_of(files(TOGETHER + rows + "\n")) if one.column == column and one.read == read]
    assert [words in one.expected for one in found] == [True]
    assert found[0].row in (2, 3)


def test_an_edition_carries_sets_and_groups(tmp_path: Path) -> None:
    table = TOGETHER + "U-1,U-2,,used up first,,s,,,\nU-1,U-3,,used up first,,s,,2,\n"
    opened = open_edition(on_disk(tmp_path / "told", table), tmp_path / "cache")
    assert opened.supersessions == {}
    assert opened.supersessions.together == content_of(files(table)).supersessions.together


def test_what_takes_the_place_of_something_used_in_a_set_is_used(tmp_path: Path) -> None:
    table = TOGETHER + "U-1,U-2,,used up first,,s,,,\nU-1,U-3,,used up first,,s,,2,\n"
    found = check_catalogue(read_edition(on_disk(tmp_path, table)))
    assert [one.text.split()[4] for one in found.remarks if one.kind == "unused item"] == ["F-1", "P-2"]


def told(folder: Path, rows: str) -> list[tuple[str, list[int], str]]:
    found = check_catalogue(read_edition(on_disk(folder, TOGETHER + rows)))
    return [(one.item, [row.row for row in one.rows], one.text) for one in found.remarks if one.kind == "supersession"]


def test_a_set_that_leads_on_is_not_remarked_on(tmp_path: Path) -> None:
    assert told(tmp_path / "a", "U-1,U-2,,withdrawn,,s,,,\nU-1,U-3,,withdrawn,,s,,,\n") == []
    assert told(tmp_path / "b", "U-1,U-2,,two-way,,s,,,\nU-1,U-3,,two-way,,s,,,\n") == []
    assert told(tmp_path / "c", "U-1,U-2,,withdrawn,,,,,g\nP-1,P-2,,withdrawn,,,,,g\n") == []


def test_a_circle_through_a_set_is_remarked_on(tmp_path: Path) -> None:
    [(item, rows, text)] = told(tmp_path, (
        "U-1,U-2,,used up first,,s,,,\nU-1,U-3,,used up first,,s,,,\nU-3,U-1,,used up first,,,,,\n"))
    assert (item, rows) == ("U-1", [2, 3])
    assert "what takes the place of U-1 in the set s is superseded by U-1 in its turn" in text


def test_a_set_of_which_a_part_is_gone_leads_nowhere(tmp_path: Path) -> None:
    [(item, rows, text)] = told(tmp_path, (
        "U-1,U-2,,withdrawn,,s,,,\nU-1,U-3,,withdrawn,,s,,,\nU-3,,2026-05-01,withdrawn,,,,,\n"))
    assert (item, rows) == ("U-1", [2, 3])
    assert "not all that takes the place may be used" in text


def test_what_is_only_replaced_with_another_may_be_missed_alone(tmp_path: Path) -> None:
    [(item, rows, text)] = told(tmp_path, "U-1,U-3,,withdrawn,,s,,,\nU-2,U-3,,withdrawn,,s,,,\n")
    assert (item, rows) == ("U-1", [2, 3])
    assert "U-3 takes the place only where U-2 is needed too" in text
    assert told(tmp_path / "alone", (
        "U-1,U-3,,withdrawn,,s,,,\nU-2,U-3,,withdrawn,,s,,,\nU-1,U-3,,withdrawn,,,,,\n")) == []


def test_a_group_of_one_pair_is_remarked_on(tmp_path: Path) -> None:
    [(item, rows, text)] = told(tmp_path, "U-1,U-2,,used up first,,,,,g\nP-1,P-2,,used up first,,,,,h\n")[:1]
    assert (item, rows) == ("U-1", [2])
    assert "the group g has one pair only" in text
