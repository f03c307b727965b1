"""Whatever dress a catalogue's sheet is put into, what is brought in again is the same, byte for byte."""

import csv
from collections.abc import Callable, Sequence

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kitbuilder.bringing_in.bring_in import bring_in, read_for
from kitbuilder.bringing_in.mapping import Mapping
from kitbuilder.bringing_in.propose import propose
from kitbuilder.bringing_in.sheet_text import sheet_text
from kitbuilder.bringing_in.targets import target
from kitbuilder.bringing_in.vocabulary import read_vocabulary
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.folder import is_own
from kitbuilder.catalogue.sheet import read_sheet
from kitbuilder.demo.workshop import demo_catalogue
from tests.bringing_in.workbooks import delimited, ods, xlsx
from tests.catalogue.good_files import GOOD

_FILES = {path: text.encode() for path, text in GOOD.items()}


class _Any(frozenset):
    def __contains__(self, name: object) -> bool:
        return True


def cells_of(path: str, data: bytes) -> tuple[list[str], list[dict[str, str]]]:
    """What the catalogue itself reads of one of its sheets."""
    faults = Faults()
    sheet = read_sheet(path, data, _Any(), (), faults)
    assert not faults.found
    used = [name for name in sheet.columns if any(name in row.cells for row in sheet.rows)]
    lines = [{name: cell.replace("\r\n", "\n").replace("\r", "\n") for name, cell in row.cells.items()}
             for row in sheet.rows]
    return used, lines


def dressed(columns: Sequence[str], rows: Sequence[dict[str, str]]) -> list[list[str]]:
    return [list(columns), *([row.get(name, "") for name in columns] for row in rows)]


DRESSES: dict[str, Callable[[list[list[str]]], bytes]] = {
    "comma.csv": delimited,
    "semicolon.csv": lambda rows: delimited(rows, ";"),
    "tab.csv": lambda rows: delimited(rows, "\t"),
    "bar.csv": lambda rows: delimited(rows, "|", end="\n"),
    "all-quoted.csv": lambda rows: delimited(rows, ";", quoting=csv.QUOTE_ALL),
    "mark.csv": lambda rows: delimited(rows, encoding="utf-8-sig"),
    "utf16.csv": lambda rows: delimited(rows, "\t", "utf-16"),
    "utf32.csv": lambda rows: delimited(rows, ",", "utf-32"),
    "apostrophes.csv": lambda rows: delimited(rows, ",", quoting=csv.QUOTE_ALL, quote="'"),
    "book.xlsx": xlsx,
    "book.ods": ods,
}


def brought(path: str, file: str, data: bytes, files: dict[str, bytes]) -> bytes:
    """What stands in the catalogue after the sheet took the place of the one that is there, with nothing to decide."""
    grid, meant = read_for(path, file, data, files, "", None)
    proposal = propose(grid, meant)
    assert proposal.questions == ()
    guessed = [note for note in proposal.notes if not note.sure]
    assert guessed == []
    found = bring_in(grid, meant, proposal.mapping, files, replace=True)
    assert (found.faults, found.catalogue) == ((), ())
    return found.put.data


def canonical(path: str, data: bytes, order: Sequence[str]) -> bytes:
    columns, rows = cells_of(path, data)
    return sheet_text([name for name in order if name in columns], rows).encode()


def _demo_sheets() -> dict[str, bytes]:
    folder = demo_catalogue()
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*"))
            if path.is_file() and path.suffix in (".csv", ".toml")}


DEMO = _demo_sheets()
_OWN = [path for path in DEMO if path.endswith(".csv") and is_own(path)]
#: In the quick suite each dress is tried on a few sheets, so that all sheets and all dresses are.
_SOME = {dress: _OWN[place::len(DRESSES)] for place, dress in enumerate(DRESSES)}


@pytest.mark.parametrize("dress, paths", [
    *_SOME.items(), *(pytest.param(dress, _OWN, marks=pytest.mark.long) for dress in DRESSES)])
def test_every_sheet_of_the_demo_comes_back_as_it_was(dress: str, paths: list[str]) -> None:
    assert paths
    for path in paths:
        columns, rows = cells_of(path, DEMO[path])
        data = DRESSES[dress](dressed(columns, rows))
        order = target(path, read_vocabulary(DEMO)).names
        assert brought(path, dress, data, DEMO) == canonical(path, DEMO[path], order), path


_LETTERS = st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Cn"), include_characters="\n\t")
_CELLS = st.text(_LETTERS, max_size=12) | st.sampled_from([
    "007", "7.0", "1e5", "12345678901234567890", "2013-12-31", "31.12.2013", "TRUE", "#N/A", '"', "a;b", "a,b", "=1+1",
    "-", "'quoted'", "Zoë's", "a\nb", "\ufeffx", "_x000D_", "0", "1,5", "nothing", "x  y"])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(_CELLS, _CELLS), min_size=1, max_size=5), st.sampled_from(sorted(DRESSES)))
@example([("007", '"'), ("7", "'")], "apostrophes.csv")
@example([("12345678901234567890", "2013-12-31")], "book.xlsx")
@example([("a\tb  c", "0\t0\nd")], "book.ods")
def test_no_cell_is_lost_or_changed(pairs: list[tuple[str, str]], dress: str) -> None:
    rows = []
    for place, (name, note) in enumerate(pairs):
        cells = {"number": f"N-{place}", "name": name.strip() or "x", "unit": "each", "note": note.strip()}
        rows.append({key: cell for key, cell in cells.items() if cell})
    files = {**_FILES, "fits/unit.csv": b"role,item,amount,unit\nwipes,N-0,1,each\n"}
    data = DRESSES[dress](dressed(("number", "name", "unit", "note"), rows))
    used = [name for name in ("number", "name", "unit", "note") if any(name in row for row in rows)]
    assert brought("items.csv", dress, data, files) == sheet_text(used, rows).encode()


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(_LETTERS, min_size=1, max_size=8).map(str.strip).filter(
    lambda text: text and text != "nothing"), min_size=1, max_size=4, unique=True),
    st.sampled_from(sorted(DRESSES)))
def test_numbers_of_items_are_text_whatever_they_look_like(numbers: list[str], dress: str) -> None:
    rows = [{"number": number, "name": "x", "unit": "each"} for number in numbers]
    first = rows[0]["number"]
    files = {**_FILES, "fits/unit.csv": sheet_text(("role", "item", "amount", "unit"), [
        {"role": "wipes", "item": first, "amount": "1", "unit": "each"}]).encode()}
    data = DRESSES[dress](dressed(("number", "name", "unit"), rows))
    assert brought("items.csv", dress, data, files) == sheet_text(("number", "name", "unit"), rows).encode()


@pytest.mark.parametrize("encoding", ["cp1252", "cp1250", "iso8859_15"])
def test_an_old_encoding_comes_back_where_the_mapping_names_it(encoding: str) -> None:
    rows = [{"number": "N-1", "name": "Dichtung, Größe 5", "unit": "each", "note": "für Lüfter"}]
    files = {**_FILES, "fits/unit.csv": b"role,item,amount,unit\nwipes,N-1,1,each\n"}
    columns = ("number", "name", "unit", "note")
    mapping = Mapping("items.csv", header_row=1, encoding=encoding, columns={name: name for name in columns})
    data = delimited(dressed(columns, rows), ";", encoding)
    grid, meant = read_for("items.csv", "a.csv", data, files, "", mapping)
    assert bring_in(grid, meant, mapping, files, replace=True).put.data == sheet_text(columns, rows).encode()
