"""Faults of combinations tables, alone and joined."""

import pytest

from tests.catalogue.good_files import GOOD, Case, changed, check, content_of, faults_of

T = "combinations/dates.csv"
OTHER = "combinations/bases.csv"

ALONE = [
    Case("a share of nothing", (T, ",1.5,first", ",,first"), (T, 2, "share", ""), "a decimal more than zero"),
    *(Case(f"a share of {share}", (T, ",1.5,first", f",{share},first"), (T, 2, "share", share.strip('"')), word)
      for share, word in (("0", "more than zero"), ("0.0", "more than zero"), ("-1", "more than zero"),
                          ("1e3", "a decimal"),
                          ("some", "a decimal"), ('"1,5"', "a decimal point: 1.5"), (".5", "a decimal"),
                          ("0.1234567890123456789", "fewer digits"))),
    Case("an unknown column", (T, "registered,emissions", "registered,emisions"),
         (T, 1, "emisions", "emisions"), "'emissions'"),
    Case("a column twice", (T, "share,note", "share,share"), (T, 1, "share", "share"), "each column once"),
    Case("no fact", (T, GOOD[T], "share,note\n1,x\n"),
         (T, 1, "", "share, note"), "at least one column named like a fact"),
    Case("facts of both", (T, GOOD[T], "place,emissions\nworkshop,\n"), (T, 1, "", "place, emissions"),
         "all of the vehicle, or all of the job"),
    Case("no row", (T, GOOD[T], "registered,emissions\n"), (T, 0, "", ""), "at least one row"),
    Case("nothing at all", (T, GOOD[T], ""), (T, 0, "", ""), "a first row that names the columns"),
    Case("a value that isn't", (T, "Euro III,1.5", "Euro II,1.5"), (T, 2, "emissions", "Euro II"), "'Euro III'"),
    Case("a day beyond the range", (T, "up to 2009-09-30", "from 1999-01-01"),
         (T, 2, "registered", "from 1999-01-01"), "earliest is 2000-10-01"),
    Case("rows that leave no world", (T, GOOD[T], "emissions\nnot Euro III or Euro V or Euro VI\n"), (T, 0, "", ""),
         "at least one world"),
]


@pytest.mark.parametrize("case", ALONE, ids=repr)
def test_a_fault_of_a_table_is_told_once_and_where_it_stands(case):
    check(case)


def told(*tables: str) -> list[tuple[str, int, str, str]]:
    """File, row, column and expectation of the faults of some tables, the first of them combinations/0.csv."""
    files = {path: text for path, text in GOOD.items() if path != T}
    files |= {f"combinations/{number}.csv": text for number, text in enumerate(tables)}
    return [(one.file, one.row, one.column, one.expected) for one in faults_of(files)]


def test_every_row_with_a_share_that_overlaps_an_earlier_one_is_told():
    faults = told("emissions,share\nEuro III,1\n\nbefore Euro VI,2\nEuro VI,3\n,4\n")
    assert [fault[:3] for fault in faults] == [("combinations/0.csv", 4, "share"), ("combinations/0.csv", 6, "share")]
    assert all("overlap" in fault[3] and "line 2" in fault[3] for fault in faults)


def test_rows_without_a_share_may_overlap():
    assert told("emissions,note\nEuro III,\nbefore Euro VI,\n,any\n") == []


def test_a_row_with_a_share_and_no_world_is_told():
    faults = told("emissions,share\nEuro III,1\nEuro V,1\nEuro VI,1\n", "emissions,registered\nEuro III,\nEuro VI,\n")
    assert [fault[:3] for fault in faults] == [("combinations/0.csv", 3, "share")]


def test_a_row_with_a_share_and_an_impossible_condition_is_told():
    faults = told("emissions,registered,share\nEuro III,,1\nEuro V,not from 2000-10-01,1\n")
    assert [fault[:3] for fault in faults] == [("combinations/0.csv", 3, "share")]


def test_two_tables_with_shares_that_are_joined_are_named():
    faults = told("emissions,share\n,1\n", "emissions,registered,share\n,,1\n",
                  "registered,emissions\n,before Euro VI or Euro VI\n")
    assert [fault[:3] for fault in faults] == [("combinations/0.csv, combinations/1.csv", 0, "share")]
    assert "one" in faults[0][3]


def test_tables_that_share_no_fact_may_all_have_shares():
    assert told("emissions,share\n,1\n", "registered,share\n,1\n") == []


def test_shares_meet_through_a_table_between_them():
    faults = told("emissions,share\n,1\n", "registered,share\n,1\n",
                  "registered,emissions\n,before Euro VI or Euro VI\n")
    assert [fault[0] for fault in faults] == ["combinations/0.csv, combinations/1.csv"]


def rows_of(fact: str, count: int, more: str) -> str:
    return f"wheelbase,{fact}\n" + f"3000,{more}\n" * count


@pytest.mark.parametrize(("first", "second", "fault"), [(100, 100, False), (100, 101, True), (101, 100, True)])
def test_a_join_of_more_than_10_000_intersections_names_its_tables(first, second, fault):
    faults = told(rows_of("emissions", first, "Euro III"), rows_of("registered", second, ""))
    assert [one[:3] for one in faults] == ([("combinations/0.csv, combinations/1.csv", 0, "")] if fault else [])
    assert all("10,000" in one[3] for one in faults)


def test_empty_intersections_do_not_count():
    apart = "wheelbase,registered\n" + "3001,\n" * 200
    assert told(rows_of("emissions", 200, "Euro III") + "3001,\n", apart) == []


def test_tables_without_a_world_in_common_are_told():
    faults = told("emissions\nEuro III\n", "emissions\nEuro V\n")
    assert [fault[:3] for fault in faults] == [("combinations/0.csv, combinations/1.csv", 0, "")]
    assert "at least one world" in faults[0][3]


def test_faults_of_joins_come_with_those_of_other_files():
    files = changed((T, "up to 2009-09-30,Euro III", "up to 2009-10-01,"), ("items.csv", ";Pipe;", ";;"))
    assert [(one.file, one.row, one.column) for one in faults_of(files)] == [(T, 3, "share"), ("items.csv", 5, "name")]


def test_a_table_that_is_broken_is_not_joined_as_well():
    files = changed((T, "Euro V or Euro VI,98.5", "Euro V or Euro VII,98.5"))
    files[OTHER] = "emissions,wheelbase\nEuro V or Euro VI,\n"
    assert [(one.file, one.row, one.read) for one in faults_of(files)] == [(T, 3, "Euro V or Euro VII")]


def test_shares_are_kept_exactly():
    content = content_of(changed((T, ",1.5,first", ",0.100000000000001,first")))
    assert content.tables[0].rows[0].share == (100000000000001, 10**15)
