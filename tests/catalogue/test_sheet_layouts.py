"""How a sheet may be spelled, and that faults stand on the line an editor shows, however it is spelled."""

import csv
import io
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.catalogue.content import read_content
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import read_sheet
from kitbuilder.errors import LoadError
from tests.catalogue.good_files import GOOD, content_of, faults_of

X = "fits/unit.csv"


def rows_of(text: str, delimiter: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))


def spelled(rows: list[list[str]], delimiter: str, newline: str, quoting: int) -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator=newline, quoting=quoting).writerows(rows)
    return text.getvalue()


SPELLINGS = [
    # With old Macintosh line ends the writer here would leave a cell of two lines without its quotes.
    one for one in product(",;\t", ("\n", "\r\n", "\r"), (csv.QUOTE_MINIMAL, csv.QUOTE_ALL), ("utf-8", "utf-8-sig"))
    if one[1:3] != ("\r", csv.QUOTE_MINIMAL)
]


@pytest.mark.parametrize(("delimiter", "newline", "quoting", "encoding"), SPELLINGS)
def test_delimiter_line_ends_quotes_and_mark_make_no_difference(delimiter, newline, quoting, encoding):
    files = {path: text.encode() for path, text in GOOD.items()}
    for path, old in (("items.csv", ";"), (X, ","), ("combinations/dates.csv", ",")):
        files[path] = spelled(rows_of(GOOD[path], old), delimiter, newline, quoting).encode(encoding)
    assert read_content("here", files) == content_of(GOOD)


@pytest.mark.parametrize(("delimiter", "newline", "quoting", "encoding"), SPELLINGS)
def test_the_line_of_a_fault_counts_every_line_of_the_file(delimiter, newline, quoting, encoding):
    rows = [
        [], [], ["", ""], ["role", "item", "amount", "unit", "note"],
        ["wipes", "P-1", "1", "m", "two\nlines"], [], [" ", "", ""], ["wipes", "P-1", "0", "m", "a\n\n\nb"],
        ["wipes", "P-2", "1", "m", "x"], [""], ["wipes", "P-1", "1", "M"],
    ]
    files = {path: text.encode() for path, text in GOOD.items()}
    files["fits/more.csv"] = spelled(rows, delimiter, newline, quoting).encode(encoding)
    with pytest.raises(LoadError) as raised:
        read_content("here", files)
    found = [(one.row, one.column, one.read) for one in raised.value.faults]
    assert found == [(9, "amount", "0"), (13, "item", "P-2"), (15, "unit", "M")]


def test_an_unknown_column_stands_on_the_line_of_the_names():
    files = GOOD | {"fits/more.csv": "\n\n ,\nrole,itme\n"}
    assert [(one.row, one.column) for one in faults_of(files)] == [(4, "itme")]


@given(st.data())
def test_columns_may_stand_in_any_order(data):
    files = dict(GOOD)
    for path, delimiter in (("items.csv", ";"), (X, ","), ("combinations/dates.csv", ",")):
        rows = rows_of(GOOD[path], delimiter)
        order = data.draw(st.permutations(range(len(rows[0]))))
        files[path] = spelled([[row[place] for place in order] for row in rows], delimiter, "\n", csv.QUOTE_MINIMAL)
    got, good = content_of(files), content_of(GOOD)
    # Conditions stand in the order of the columns; everything else is the same.
    assert (got.items, got.tables, got.joints) == (good.items, good.tables, good.joints)
    assert [(fit.key, fit.box, fit.note, fit.otherwise, fit.row) for _, fit in got.fits] == [
        (fit.key, fit.box, fit.note, fit.otherwise, fit.row) for _, fit in good.fits]


@pytest.mark.parametrize(("path", "text"), [
    ("items.csv", "number,name,unit,note\nU-1,Unit,each,why\n"),
    ("fits/note.csv", "role,item,note\nwipes,nothing,why\n"),
    ("combinations/note.csv", "wheelbase,note\nfrom 3000,why\n")])
def test_every_sheet_may_have_notes(path, text):
    files = GOOD | {path: text}
    if path == "items.csv":
        files[X] = "role,item\nwipes,nothing\n"
    assert faults_of(files) == []


def test_rows_that_end_early_or_with_empty_cells_are_filled_up():
    files = GOOD | {"fits/more.csv": "role,item,amount,unit\nwipes,nothing\nwipes,P-1,1,m,,, ,\n"}
    assert [fit.item for _, fit in content_of(files).fits if fit.file == "fits/more.csv"] == ["nothing", "P-1"]


def test_cells_are_trimmed_and_names_of_columns_too():
    files = GOOD | {"fits/more.csv": " role , item,amount , unit\n wipes ,P-1 , 1,\tm \n"}
    assert faults_of(files) == []


def test_a_sheet_of_one_column_may_hold_any_delimiter():
    sheet = read_sheet("x.csv", b"note\na, b; c\td\n", {"note"}, (), faults := Faults())
    assert ([row.cells for row in sheet.rows], faults.found) == ([{"note": "a, b; c\td"}], [])


def test_the_delimiter_is_that_of_the_names_whatever_the_cells_hold():
    sheet = read_sheet("x.csv", b'"role, of all";note\na,b,c;"x;y"\n', {"role, of all", "note"}, (), faults := Faults())
    assert ([row.cells for row in sheet.rows], faults.found) == ([{"role, of all": "a,b,c", "note": "x;y"}], [])
