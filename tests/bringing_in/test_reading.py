"""What is read of a sheet, what is proposed for it, what is asked, and what is told where it can't be read."""

import sys
from datetime import date, datetime

import msgspec
import pytest

from kitbuilder.bringing_in.bring_in import Brought, bring_in, read_for
from kitbuilder.bringing_in.cells import CantRead, read_cell
from kitbuilder.bringing_in.mapping import ASKED, Mapping, mapping_text, read_mapping
from kitbuilder.bringing_in.propose import Proposal, propose
from kitbuilder.bringing_in.targets import Column
from kitbuilder.errors import BadData, WrongUse
from tests.bringing_in.workbooks import Error, delimited, ods, xlsx
from tests.catalogue.good_files import GOOD

FILES = {path: text.encode() for path, text in GOOD.items()}
HEAD = ["number", "name", "unit"]


def proposal_of(path: str, file: str, data: bytes, files: dict[str, bytes] = FILES) -> Proposal:
    return propose(*read_for(path, file, data, files, "", None))


def brought(path: str, file: str, data: bytes, mapping: Mapping | None = None, replace: bool = False,
            files: dict[str, bytes] = FILES) -> Brought:
    grid, meant = read_for(path, file, data, files, "", mapping)
    return bring_in(grid, meant, mapping or propose(grid, meant).mapping, files, replace)


def told(found: Brought) -> list[tuple[int, str, str]]:
    return [(fault.row, fault.column, fault.read) for fault in found.faults]


@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_cells_of_a_workbook_are_what_they_are(write: object) -> None:
    assert callable(write)
    found = brought("items.csv", "a.xlsx" if write is xlsx else "a.ods", write([
        [*HEAD, "rank", "note"], ["007", "x", "each", 1.5, "a"], [7, "y", "each", 2, date(2013, 12, 31)],
        [1234567890123, "z", "each", 0.1, True]]))
    assert [row.cells for row in found.rows.read] == [
        {"number": "007", "name": "x", "unit": "each", "rank": "1.5", "note": "a"},
        {"number": "7", "name": "y", "unit": "each", "rank": "2", "note": "2013-12-31"},
        {"number": "1234567890123", "name": "z", "unit": "each", "rank": "0.1", "note": "TRUE"}]
    assert found.faults == ()


@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_what_a_spreadsheet_has_spoilt_is_told_by_row_and_column(write: object) -> None:
    """Excel keeps 15 digits of a number, and makes days of what looks like one (both from its own specification)."""
    assert callable(write)
    found = brought("items.csv", "a.xlsx" if write is xlsx else "a.ods", write([
        HEAD, [12345678901234567890, "long", "each"], [date(2012, 3, 12), "a day once", "each"],
        [Error("#N/A"), "broken", "each"], ["fine", Error("#REF!"), "each"], ["good", "good", "each"]]))
    assert [(row, column) for row, column, _ in told(found)] == [
        (2, "number"), (3, "number"), (4, "number"), (5, "name")]
    assert [fault.read for fault in found.faults][2:] == ["#N/A", "#REF!"]
    assert "15 digits" in found.faults[0].expected
    assert [row.row for row in found.rows.read] == [6]


@pytest.mark.parametrize("write", [xlsx, ods], ids=["xlsx", "ods"])
def test_a_cell_merged_over_several_rows_is_told_never_taken_for_nothing(write: object) -> None:
    """An empty cell of a fact means any vehicle: the second row would fit where it must not."""
    assert callable(write)
    data = write([["role", "item", "amount", "unit", "emissions"], ["wipes", "P-1", "1", "m", "Euro VI"],
                  ["wipes", "P-1", "2", "m", ""]], merged=[(1, 4, 2)])
    found = brought("fits/more.csv", "a.xlsx" if write is xlsx else "a.ods", data)
    assert told(found) == [(3, "emissions", "Euro VI")]
    assert [row.row for row in found.rows.read] == [2]


def test_the_row_is_the_sheets_own_also_below_blank_rows_and_titles() -> None:
    data = xlsx([["Parts of our store"], [], [], ["number", "name", "unit", ""], ["a", "b", "each"], [],
                 ["c", "d", "crate"]])
    proposal = proposal_of("items.csv", "a.xlsx", data)
    assert proposal.mapping.header_row == 4
    assert told(brought("items.csv", "a.xlsx", data, proposal.mapping)) == [(7, "unit", "crate")]


def test_the_line_of_a_text_file_is_what_an_editor_counts() -> None:
    data = b'number,name,unit\na,"two\nlines",box\n\nc,d,crate\n'
    assert told(brought("items.csv", "a.csv", data)) == [(2, "unit", "box"), (5, "unit", "crate")]


def test_a_column_without_a_name_and_one_named_twice_are_told_apart() -> None:
    data = delimited([["number", "name", "unit", "name", ""], ["a", "b", "each", "c", "d"]])
    mapping = proposal_of("items.csv", "a.csv", data).mapping
    assert mapping.columns == {"number": "number", "name": "name", "unit": "unit"}
    assert mapping.ignored == ("name (column D)", "column E")


def test_a_column_that_the_mapping_does_not_speak_of_is_never_passed_over() -> None:
    mapping = Mapping("items.csv", header_row=1, columns={name: name for name in HEAD})
    data = delimited([[*HEAD, "price"], ["a", "b", "each", "4"]])
    with pytest.raises(BadData, match=r"says nothing of the column 'price'"):
        brought("items.csv", "a.csv", data, mapping)


def test_a_cell_beyond_the_last_column_is_told() -> None:
    mapping = Mapping("items.csv", header_row=1, columns={name: name for name in HEAD}, ignored=("price",))
    data = b"number,name,unit,price\na,b,each,1,2\n"
    assert told(brought("items.csv", "a.csv", data, mapping)) == [(2, "cell 5", "2")]


NUMBERS = [
    (["1,5", "2"], (",", "")), (["1.234,5", "12"], (",", ".")), (["1,234.5"], (".", ",")), (["1 234,5"], (",", " ")),
    (["1.5", "2.25"], (".", "")), (["1'234.5"], (".", "'")), (["1,234", "1,5"], (",", "")), (["12", "7"], (".", "")),
]


@pytest.mark.parametrize("cells, format_", NUMBERS)
def test_how_numbers_are_written_is_found_where_it_can_be(cells: list[str], format_: tuple[str, str]) -> None:
    data = delimited([["Number", "Name", "Unit", "Rank of it"], *([f"n{at}", "x", "each", cell]
                      for at, cell in enumerate(cells))], ";")
    proposal = proposal_of("items.csv", "a.csv", data)
    assert (proposal.mapping.decimal, proposal.mapping.thousands) == format_
    assert proposal.questions == ()


@pytest.mark.parametrize("cell", ["1,234", "1.234"])
def test_a_number_that_could_be_two_is_asked_never_guessed(cell: str) -> None:
    data = delimited([["No", "Name", "Unit", "Rank of it"], ["a", "x", "each", cell]], ";")
    proposal = proposal_of("items.csv", "a.csv", data)
    assert proposal.mapping.decimal == ASKED
    assert any("1234" in one and "1.234" in one for one in proposal.questions)
    assert (2, "Rank of it", cell) in told(brought("items.csv", "a.csv", data, numbered(proposal.mapping)))


def numbered(mapping: Mapping) -> Mapping:
    """The mapping with its missing columns filled, so that rows can be read."""
    return msgspec.structs.replace(mapping, columns={**mapping.columns, "number": "No"}, constants={})


DAYS = [
    (["31.12.2013", "1.2.2014"], "DD.MM.YYYY"), (["31/12/2013", "01/02/2014"], "DD/MM/YYYY"),
    (["12/31/2013", "01/02/2014"], "MM/DD/YYYY"), (["2013-12-31"], "YYYY-MM-DD"), (["20131231"], "YYYYMMDD"),
    (["01/02/2014"], ASKED),
]


@pytest.mark.parametrize("cells, format_", DAYS)
def test_how_days_are_written_is_found_or_asked(cells: list[str], format_: str) -> None:
    rows = [["old", "new", "from", "rule"], *(["U-1", "F-1", cell, "used up first"] for cell in cells)]
    proposal = proposal_of("supersession.csv", "a.csv", delimited(rows, ";"))
    assert proposal.mapping.days == format_
    assert bool(proposal.questions) == (format_ == ASKED)


def test_days_in_conditions_are_read_as_the_sheet_writes_them() -> None:
    data = delimited([["role", "item", "amount", "unit", "registered"], ["wipes", "P-1", "1", "m", "from 31.12.2013"],
                      ["wipes", "P-1", "2", "m", "01.10.2009 to 30.12.2013"], ["wipes", "P-1", "3", "m", "1.2.2008"]])
    mapping = Mapping("fits/more.csv", header_row=1, days="DD.MM.YYYY",
                      columns={name: name for name in ("role", "item", "amount", "unit", "registered")})
    found = brought("fits/more.csv", "a.csv", data, mapping)
    assert found.faults == ()
    assert [row.cells["registered"] for row in found.rows.read] == [
        "from 2013-12-31", "2009-10-01 to 2013-12-30", "2008-02-01"]


#: ECMA-376, part 1, 18.17.4.1, with examples known from every spreadsheet program: 1 January 2008 is day 39448 from
#: 1900; the 1904 count is 1462 days less.
SERIALS = [("1900", 39448, "2008-01-01"), ("1904", 37986, "2008-01-01"), ("1900", 61, "1900-03-01"),
           ("1904", 0.5, None), ("1900", 60, None)]


@pytest.mark.parametrize("counted, number, day", SERIALS)
def test_bare_day_numbers(counted: str, number: float, day: str | None) -> None:
    rows = [["old", "new", "from", "rule"], ["U-1", "F-1", number, "used up first"]]
    proposal = proposal_of("supersession.csv", "a.xlsx", xlsx(rows))
    assert proposal.mapping.serial_days == ASKED
    mapping = Mapping("supersession.csv", header_row=1, serial_days=counted,
                      columns={name: name for name in ("old", "new", "from", "rule")})
    found = brought("supersession.csv", "a.xlsx", xlsx(rows), mapping)
    assert [row.cells.get("from") for row in found.rows.read] == ([day] if day else [])
    assert bool(found.faults) == (day is None)


def test_a_moment_is_no_day() -> None:
    with pytest.raises(CantRead, match="without a time"):
        read_cell(datetime(2013, 12, 31, 7, 30), Column("from", "day"), Mapping())


def test_words_of_theirs_are_proposed_with_the_reason_and_what_nothing_is_like_is_asked() -> None:
    data = delimited([["role", "item", "amount", "unit", "Abgasnorm"], ["Wipes", "P-1", "1", "MTR", "EURO6"],
                      ["wipes", "P-1", "2", "m", "Euro III"], ["wipes", "P-1", "3", "m", "steam"]], ";")
    proposal = proposal_of("fits/more.csv", "a.csv", data)
    assert proposal.mapping.columns["emissions"] == "Abgasnorm"
    assert proposal.mapping.values == {
        "role": {"Wipes": "wipes"}, "unit": {"MTR": "m"}, "emissions": {"EURO6": "Euro VI", "steam": ASKED}}
    assert not proposal.sure
    why = {note.place: note.why for note in proposal.notes}
    assert why["values.emissions.EURO6"] == "the same, numbers written otherwise"
    assert ["steam" in one for one in proposal.questions] == [True]
    found = brought("fits/more.csv", "a.csv", data, proposal.mapping)
    assert told(found) == [(4, "Abgasnorm", "steam")]
    assert [row.cells["emissions"] for row in found.rows.read] == ["Euro VI", "Euro III"]


def test_lists_with_other_separators() -> None:
    rows = [["role", "item", "amount", "unit", "emissions"], ["wipes", "P-1", "1", "m", "Euro V/EURO 6"]]
    data = delimited(rows, ";")
    proposal = proposal_of("fits/more.csv", "a.csv", data)
    assert proposal.mapping.separators == {"emissions": "/"}
    found = brought("fits/more.csv", "a.csv", data, proposal.mapping)
    assert [row.cells["emissions"] for row in found.rows.read] == ["Euro V or Euro VI"]


#: UNECE Recommendation 20 (revision 17), annex I: the codes of the units that a catalogue knows.
REC20 = {"C62": "each", "H87": "each", "PR": "pair", "SET": "set", "LTR": "L", "MLT": "mL", "KGM": "kg", "GRM": "g",
         "MTR": "m", "MMT": "mm"}


def test_units_by_their_code_of_recommendation_20() -> None:
    data = delimited([HEAD, *([f"n{code}", "x", code] for code in REC20)])
    assert proposal_of("items.csv", "a.csv", data).mapping.values == {"unit": REC20}


def test_nothing_is_sure_that_was_guessed() -> None:
    assert proposal_of("items.csv", "a.csv", delimited([HEAD, ["a", "b", "each"]])).sure
    assert proposal_of("items.csv", "a.csv", delimited([["NUMBER", "Name", "Unit"], ["a", "b", "each"]])).sure
    for head, unit in ((["Part number", "name", "unit"], "each"), (HEAD, "Stk")):
        assert not proposal_of("items.csv", "a.csv", delimited([head, ["a", "b", unit]])).sure


def test_a_proposed_mapping_says_the_same_when_it_is_read_again() -> None:
    data = delimited([["Part-No.", "Name", "ME", "Rank"], ["a", 'b "c"', "Stk", "1,5"], ["d", "e\\", "ltr", "2"]], ";")
    proposal = proposal_of("items.csv", "a.csv", data)
    text = mapping_text(proposal.mapping, proposal.notes, "About\nit")
    if ASKED not in text:
        assert read_mapping("m.toml", text.encode()) == proposal.mapping
    closed = Mapping("items.csv", "S\"1", 3, (7, 9), "cp1252", ";", "'", ",", ".", "DD.MM.YYYY", "1904", ("-", "n/a"),
                     ("x y",), {"number": "Part-No."}, {"unit": "each"}, {"unit": {"S t\\k": "each"}}, {"codes": "|"})
    assert read_mapping("m.toml", mapping_text(closed, (), "").encode()) == closed


@pytest.mark.parametrize("text, said", [
    ("colums = {}", "did you mean 'columns'"), ("days = \"?\"", "leaves days open"), ("days = \"D.M.\"", "days: read"),
    ("[columns]\nunit = \"?\"", "leaves open: unit"),
    ("header_row = \"x\"", "header_row"), ("decimal = \";\"", "decimal"),
    ("x", "no TOML")])
def test_a_wrong_mapping_says_what_is_wrong(text: str, said: str) -> None:
    with pytest.raises(BadData, match=said):
        read_mapping("m.toml", text.encode())


def test_rows_are_added_and_what_is_there_stays_byte_for_byte() -> None:
    found = brought("items.csv", "a.csv", delimited([HEAD, ["N-1", "new; one", "each"]]))
    assert found.put.data == FILES["items.csv"] + b'N-1;"new; one";each;;;;;;;;;;\n'
    assert (found.faults, found.catalogue) == ((), ())


def test_a_row_that_is_there_word_for_word_is_not_written_twice_and_another_of_its_key_is_told() -> None:
    data = delimited([HEAD, ["P-1", "Pipe", "m"], ["U-1", "Unit", "each"], ["P-1", "Pipe", "mm"]])
    found = brought("items.csv", "a.csv", data)
    assert found.put.there == 1
    assert [(fault.row, fault.read) for fault in found.faults] == [(3, "U-1"), (4, "P-1")]
    assert "codes" in found.faults[0].expected
    assert "--replace" in found.faults[0].expected


def test_what_the_catalogue_says_of_a_row_is_told_by_the_sheets_row_and_column() -> None:
    data = xlsx([["Our parts"], ["Part", "Text", "ME", "Kind", "Grade of oil"], ["N-1", "one\ntwo", "each", "", ""],
                 ["N-2", "oil", "L", "gear oil", "75W-81"]])
    mapping = Mapping("items.csv", header_row=2, columns={
        "number": "Part", "name": "Text", "unit": "ME", "kind": "Kind", "grade": "Grade of oil"})
    assert told(brought("items.csv", "a.xlsx", data, mapping)) == [(4, "Grade of oil", "75W-81")]


def test_a_sheet_that_would_break_another_is_not_well() -> None:
    found = brought("items.csv", "a.csv", delimited([HEAD, ["N-1", "x", "each"]]), replace=True)
    assert found.faults == ()
    assert any("fits/unit.csv" in text and "U-1" in text for text in found.catalogue)


def test_what_is_wrong_in_the_catalogue_already_does_not_stand_in_the_way() -> None:
    files = {**FILES, "fits/unit.csv": FILES["fits/unit.csv"] + b"unit-replace,nowhere,U-1,,1,each,,,,,\n"}
    found = brought("items.csv", "a.csv", delimited([HEAD, ["N-1", "x", "each"]]), files=files)
    assert (found.faults, found.catalogue) == ((), ())


def test_the_first_sheet_of_a_catalogue_that_is_just_begun() -> None:
    found = brought("items.csv", "a.csv", delimited([HEAD, ["N-1", "x", "each"]]), files={})
    assert found.put.data == b"number,name,unit\nN-1,x,each\n"
    assert (found.faults, found.catalogue) == ((), ())


def test_a_workbook_of_several_sheets_wants_a_name() -> None:
    data = xlsx([HEAD, ["a", "b", "each"]], "Parts", ("Prices",))
    with pytest.raises(WrongUse, match="Parts, Prices"):
        read_for("items.csv", "a.xlsx", data, FILES, "", None)
    with pytest.raises(WrongUse, match="Did you mean 'Parts'"):
        read_for("items.csv", "a.xlsx", data, FILES, "Part", None)
    assert len(read_for("items.csv", "a.xlsx", data, FILES, "Parts", None)[0].rows) == 2


@pytest.mark.parametrize("data, said", [
    (b"\xd0\xcf\x11\xe0old", "old kind"),
    (b"PK\x03\x04rubbish", "can't be read as a workbook"), (b'a,b\n"c,d\n', "line 2"),
    (b"a\0\0\0b,c\n", "zero character")])
def test_a_file_that_is_none_is_refused(data: bytes, said: str) -> None:
    with pytest.raises(BadData, match=said):
        read_for("items.csv", "a.csv", data, FILES, "", None)


@pytest.mark.parametrize("encoding, words", [
    ("cp1252", ["Dichtring groß"]), ("cp1252", ["Öl 75W-80", "5 µm Filter", "Ø 12", "4,20 €", "Clé à douille"]),
    ("cp1251", ["Прокладка поддона картера двигателя", "Масло трансмиссионное", "Фильтр топливный", "Болт крепления",
                "Тормозная колодка передняя", "Сальник коленчатого вала"])])
def test_old_encodings_are_told_apart(encoding: str, words: list[str]) -> None:
    data = delimited([HEAD, *([f"n{at}", word, "each"] for at, word in enumerate(words))], ";", encoding)
    assert [row.cells["name"] for row in brought("items.csv", "a.csv", data).rows.read] == words


def test_an_old_encoding_is_found_and_told_as_a_guess() -> None:
    lines = ["Dichtung für Lüfter", "Öl für Getriebe", "Schlauchhalter groß", "Rückleitung", "Träger außen", "Gehäuse"]
    data = delimited([HEAD, *([f"n{at}", line, "each"] for at, line in enumerate(lines))], ";", "cp1252")
    proposal = proposal_of("items.csv", "a.csv", data)
    note = next(note for note in proposal.notes if note.place == "encoding")
    assert not note.sure
    assert "ü" in note.why
    assert [row.cells["name"] for row in brought("items.csv", "a.csv", data).rows.read] == lines


def test_markers_of_nothing() -> None:
    data = delimited([["role", "item", "amount", "unit", "emissions"], ["wipes", "P-1", "1", "m", "-"]])
    proposal = proposal_of("fits/more.csv", "a.csv", data)
    assert proposal.mapping.empty == ("-",)
    found = brought("fits/more.csv", "a.csv", data, proposal.mapping)
    assert [row.cells for row in found.rows.read] == [{"role": "wipes", "item": "P-1", "amount": "1", "unit": "m"}]


def test_a_number_in_the_place_of_an_items_number_is_warned_of() -> None:
    """A cell that shows 007 by its format holds 7: what was lost can't be seen from outside."""
    found = brought("items.csv", "a.xlsx", xlsx([HEAD, ["007", "x", "each"], [7, "y", "each"]]))
    assert len(found.warnings) == 1
    assert "row 3" in found.warnings[0]


def test_rows_that_are_not_the_sheets_own_can_be_left_out_by_name_only() -> None:
    data = delimited([HEAD, ["a", "b", "each"], ["", "Total: 1", ""]])
    assert told(brought("items.csv", "a.csv", data))[0][0] == 3
    mapping = Mapping("items.csv", header_row=1, skip_rows=(3,), columns={name: name for name in HEAD})
    assert brought("items.csv", "a.csv", data, mapping).faults == ()


@pytest.mark.parametrize("module, file, data", [
    ("python_calamine", "a.xlsx", xlsx([HEAD])), ("charset_normalizer", "a.csv", "номер;имя\n".encode("cp1251"))])
def test_without_the_extra_it_says_what_to_install_and_what_else_would_do(
        module: str, file: str, data: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    with pytest.raises(BadData, match=r"kitbuilder\[sheets\]") as caught:
        read_for("items.csv", file, data, FILES, "", None)
    assert "ave " in str(caught.value)
    plain = delimited([HEAD, ["a", "b", "each"]], ";")
    assert len(read_for("items.csv", "a.csv", plain, FILES, "", None)[0].rows) == 2


def test_what_hangs_on_an_item_is_brought_into_sheets_of_its_own() -> None:
    """Codes of hazards as Regulation (EC) 1272/2008 has them, here joined by commas as safety data sheets do."""
    rows = [["item", "sheet", "revised", "signal", "pictograms", "statements"],
            ["O-1", "Oil, invented", "31.12.2024", "Warning", "GHS07, GHS09", "H317, H411"]]
    data = delimited(rows, ";")
    proposal = proposal_of("hazards.csv", "hazards.csv", data)
    assert proposal.mapping.separators == {"pictograms": ",", "statements": ","}
    found = brought("hazards.csv", "hazards.csv", data, proposal.mapping)
    assert (found.faults, found.catalogue) == ((), ())
    assert found.put.data == (b"item,sheet,revised,signal,pictograms,statements\n"
                              b'O-1,"Oil, invented",2024-12-31,warning,GHS07 and GHS09,H317 and H411\n')
    prices = delimited([["item", "price", "per"], ["F-1", "1.234,50", "100"], ["U-1", "12,5", ""]], ";")
    found = brought("selling.csv", "selling.csv", prices)
    assert (found.faults, found.catalogue) == ((), ())
    assert found.put.data == b"item,price,per\nF-1,1234.50,100\nU-1,12.5,\n"
