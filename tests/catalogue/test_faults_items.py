"""Faults of items.csv: numbers, units, properties, lists of names, codes."""

import pytest

from tests.catalogue.good_files import Case, changed, check, content_of, faults_of
from tests.outside.gs1 import LENGTHS, PADDED, VALID, WORKED, WRONG_CHECK_DIGIT

I = "items.csv"  # noqa: E741
OIL = "O-1;Oil, 1 L;L;1;gear oil;75w80;"
FUSE = "F-1;Fuse;each;;blade fuse;;medium;15;32;"
PIPE = "P-1;Pipe;m;;;;;;;;;;"

CASES = [
    Case("no number", (I, PIPE, f"{PIPE}\n;Pipe;m;;;;;;;;;;"), (I, 6, "number", ""), "an item number"),
    Case("an item named nothing", (I, PIPE, f"{PIPE}\nnothing;Pipe;m;;;;;;;;;;"),
         (I, 6, "number", "nothing"), "another number"),
    Case("a number twice", (I, PIPE, f"{PIPE}\nU-1;Unit;each;;;;;;;;;;"), (I, 6, "number", "U-1"), "line 2 has it"),
    Case("no name", (I, ";Pipe;", ";;"), (I, 5, "name", ""), "a name"),
    Case("no unit", (I, "P-1;Pipe;m;", "P-1;Pipe;;"), (I, 5, "unit", ""), "each, set, pair, L, mL, kg, g, m, mm"),
    Case("a unit in other case", (I, "P-1;Pipe;m;", "P-1;Pipe;M;"), (I, 5, "unit", "M"), "did you mean 'm'"),
    Case("an unknown unit", (I, "P-1;Pipe;m;", "P-1;Pipe;box;"), (I, 5, "unit", "box"), "a unit: one of each"),
    Case("a rank that is no number", (I, OIL, OIL.replace(";1;", ";first;")), (I, 3, "rank", "first"), "a number"),
    Case("a rank with a decimal comma", (I, OIL, OIL.replace(";1;", ";1,5;")),
         (I, 3, "rank", "1,5"), "a decimal point: 1.5"),
    Case("an unknown kind", (I, OIL, OIL.replace("gear oil", "gearoil")),
         (I, 3, "kind", "gearoil"), "did you mean 'gear oil'"),
    Case("a property without a kind", (I, OIL, OIL.replace("gear oil", "")),
         (I, 3, "grade", "75w80"), "without a kind"),
    Case("a property of another kind", (I, FUSE, FUSE.replace(";;medium", ";90;medium")),
         (I, 4, "grade", "90"), "blade fuse has no grade"),
    Case("a grade that isn't", (I, "75w80", "75w81"), (I, 3, "grade", "75w81"), "80, 85"),
    Case("a pair that no oil meets", (I, "75w80", "85w80"), (I, 3, "grade", "85w80"), "thicker"),
    Case("a body that isn't", (I, "medium", "midi"), (I, 4, "body", "midi"), "a body:"),
    Case("a rating that the body hasn't", (I, "medium;15", "medium;16"), (I, 4, "rating", "16"), "10, 15, 20"),
    Case("a rating in volts", (I, "medium;15", "medium;15 V"), (I, 4, "rating", "15 V"), "a number of A"),
    Case("a voltage with a comma", (I, ";15;32;", ";15;32,5;"), (I, 4, "voltage", "32,5"), "a decimal point: 32.5"),
    Case("a voltage of nothing", (I, ";15;32;", ";15;0;"), (I, 4, "voltage", "0"), "more than zero"),
    Case("a list that begins with 'and'", (I, ";TR-A;", ";and TR-A;"),
         (I, 3, "claimed", "and TR-A"), "names with 'and' between"),
    Case("a list that ends with 'and'", (I, "GX 12 and GX 13", "GX 12 and"),
         (I, 3, "listed", "GX 12 and"), "'and' between"),
    Case("a list with 'and' twice", (I, "GX 12 and GX 13", "GX 12 and and GX 13"),
         (I, 3, "listed", "GX 12 and and GX 13"), "'and'"),
    Case("a code on two items", (I, "23456785", "73513537"), (I, 4, "codes", "73513537"), "U-1 has it"),
    Case("a code on two items, with zeros in front", (I, "23456785", "00000073513537"),
         (I, 4, "codes", "00000073513537"), "U-1 has it"),
    Case("a code of no form on two items", (I, "73513537 and 6291041500213", "AB 1 and 23456785"),
         (I, 4, "codes", "23456785"), "U-1 has it"),
    Case("an unknown column", (I, ";listed;", ";lists;"), (I, 1, "lists", "lists"), "did you mean 'listed'"),
    Case("a column of facts", (I, ";note", ";emissions"), (I, 1, "emissions", "emissions"), "a column"),
    Case("a column twice", (I, "claimed;codes", "codes;codes"), (I, 1, "codes", "codes"), "each column once"),
]


@pytest.mark.parametrize("case", CASES, ids=repr)
def test_a_fault_of_an_item_is_told_once_and_where_it_stands(case):
    check(case)


@pytest.mark.parametrize("column", ["number", "name", "unit"])
def test_a_column_that_must_be_there_is_told_once_for_all_rows(column):
    table = {"number": "U-1", "name": "Unit", "unit": "each", "note": "x"}
    del table[column]
    rows = "\n".join([",".join(table), *[",".join(table.values())] * 3]) + "\n"
    files = changed()
    files[I] = rows
    faults = [one for one in faults_of(files) if one.file == I and one.column == column]
    assert [(one.row, one.read) for one in faults] == [(1, "")]
    assert f"a column {column!r}" in faults[0].expected


@pytest.mark.parametrize("code", VALID)
def test_published_codes_are_taken(code):
    assert content_of(changed((I, "23456785", code),
                              (I, "73513537 and 6291041500213", ""))).items["F-1"].codes == (code,)


@pytest.mark.parametrize("code", WRONG_CHECK_DIGIT)
def test_published_codes_with_a_wrong_check_digit_are_refused(code):
    check(Case(code, (I, "23456785", code), (I, 4, "codes", code), "a check digit of"))


@pytest.mark.parametrize(("number", "digit"), [(number, digit) for number, digit, _ in WORKED])
def test_every_wrong_check_digit_is_refused_and_the_right_one_offered(number, digit):
    for wrong in range(10):
        faults = faults_of(changed((I, "23456785", f"{number}{wrong}"), (I, "73513537 and 6291041500213", "")))
        assert len(faults) == (wrong != digit)
        assert all(f"a check digit of {digit} ({number}{digit})" in one.expected for one in faults)


@pytest.mark.parametrize("length", [length for length in range(1, 20) if length not in LENGTHS])
def test_digits_of_other_lengths_are_no_gtin(length):
    assert faults_of(changed((I, "23456785", "9" * length))) == []


@pytest.mark.parametrize(("short", "long"), PADDED)
def test_a_shorter_code_with_zeros_before_it_is_the_same_code(short, long):
    files = changed((I, "23456785", long), (I, "73513537 and 6291041500213", short))
    [fault] = faults_of(files)
    assert (fault.row, fault.column, fault.read) == (4, "codes", long)
    assert "U-1 has it" in fault.expected


def test_names_are_joined_by_the_word_and_alone():
    content = content_of(changed((I, "GX 12 and GX 13", "Brand X and Sandstone  and  AND 4")))
    assert content.items["O-1"].listed == ("Brand X", "Sandstone", "AND 4")


def test_properties_without_a_column_for_kinds_are_told_once_for_all_rows():
    files = changed()
    files[I] = "number,name,unit,grade\nU-1,Unit,each,90\nO-1,Oil,L,75W-80\nF-1,Fuse,each,\nP-1,Pipe,m,90\n"
    assert [(one.file, one.row, one.column, one.expected) for one in faults_of(files)] == [(I, 1, "kind",
                                                                                            "a column 'kind'")]
