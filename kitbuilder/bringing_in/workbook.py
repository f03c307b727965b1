"""Reads one sheet of a workbook (XLSX, ODS): cached values of formulas, and errors as what they are."""

import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any, Final
from xml.etree import ElementTree

from kitbuilder.bringing_in.grid import EXTRA, Broken, Cell, Covered, Grid, GridRow, filled
from kitbuilder.errors import BadData, WrongUse, offered

_REL: Final = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_TABLE: Final = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT: Final = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
#: What an ODS file holds if it has cells that the reader of the values would lose something of.
_ODD: Final = (b'value-type="error"', b"number-rows-spanned", b":tab/", b":tab ", b":line-break")
_ERROR_CELL: Final = re.compile(
    rb'<c\b(?=[^>]*\br="([A-Z]+)([0-9]+)")(?=[^>]*\bt="e")[^>]*>(?:(?!</c>).)*?<v>([^<]*)</v>', re.DOTALL)
#: A sheet's unused rows and columns are written as one that is repeated to the end.
_REPEATED: Final = 20_000


def read_workbook(file: str, data: bytes, sheet: str) -> Grid:
    """The rows of the named sheet, or of the only one that isn't empty."""
    try:
        from python_calamine import CalamineError, CalamineWorkbook
    except ImportError:
        raise BadData(f"{file} is a workbook, which needs a library more: {EXTRA}. "
                      "Or save the sheet as CSV.") from None
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        every = tuple(book.sheet_names)
        if sheet and sheet not in every:
            raise WrongUse(f"{file} has no sheet {sheet!r}. {offered(sheet, every)}")
        full = [sheet] if sheet else [name for name in every if book.get_sheet_by_name(name).end is not None]
        if len(full) > 1:
            raise WrongUse(f"{file} has several sheets; name one with --sheet: {', '.join(full)}.")
        name = full[0] if full else every[0]
        read = book.get_sheet_by_name(name)
        values = read.to_python(skip_empty_area=False)
        merged = read.merged_cell_ranges or []
    except CalamineError as error:
        raise BadData(f"{file} can't be read as a workbook: {error}.") from None
    covered = _covered([[_cell(value) for value in row] for row in values], merged) if merged else {}
    broken: Mapping[tuple[int, int], Cell] = {**covered, **_broken(data, name)}
    wide = max((column + 1 for _, column in broken), default=0)
    rows = []
    for at, row in enumerate(values):
        cells = [_cell(value) for value in row]
        if broken:
            cells += [""] * (wide - len(cells))
            for place in range(len(cells)):
                cells[place] = broken.get((at, place), cells[place])
        if any(map(filled, cells)):
            rows.append(GridRow(at + 1, tuple(cells)))
    return Grid(file, tuple(rows), sheet=name, sheets=every)


def _cell(value: Any) -> Cell:
    if isinstance(value, (str, bool, int, float, datetime, date)):
        return value
    return "" if value is None else str(value)


def _covered(rows: Sequence[Sequence[Cell]],
             merged: Sequence[tuple[tuple[int, int], tuple[int, int]]]) -> dict[tuple[int, int], Cell]:
    """The cells below the first row of each merged range: they come as empty, and look as if they weren't."""
    found: dict[tuple[int, int], Cell] = {}
    for (top, left), (bottom, right) in merged:
        cell = rows[top][left] if top < len(rows) and left < len(rows[top]) else ""
        for row in range(top + 1, min(bottom + 1, len(rows))):
            for column in range(left, min(right + 1, len(rows[row]))):
                found[row, column] = Covered(str(cell))
    return found


def _broken(data: bytes, sheet: str) -> Mapping[tuple[int, int], Cell]:
    """The cells that show an error, by row and column from 0: the reader of the values takes them for empty ones,
    and what can't be read must never pass for nothing."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        names = set(book.namelist())
        if "content.xml" in names:
            content = book.read("content.xml")
            odd = any(sign in content for sign in _ODD)
            return _odd_ods(content, sheet) if odd else {}
        path = _xlsx_path(book, sheet)
        found = _ERROR_CELL.findall(book.read(path)) if path in names else []
    return {(int(row) - 1, _place(column.decode())): Broken(text.decode()) for column, row, text in found}


def _place(letters: str) -> int:
    place = 0
    for letter in letters:
        place = place * 26 + ord(letter) - 64
    return place - 1


def _xlsx_path(book: zipfile.ZipFile, sheet: str) -> str:
    """Where a sheet's cells lie in the file (ECMA-376, part 1: workbook, then its relationships)."""
    try:
        # expat refuses entities that blow up
        root = ElementTree.fromstring(book.read("xl/workbook.xml"))  # noqa: S314
        links = ElementTree.fromstring(book.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    except (KeyError, ElementTree.ParseError):
        return ""
    wanted = next((one.get(_REL) for one in root.iter() if one.tag.endswith("}sheet") and one.get("name") == sheet), "")
    target = next((one.get("Target", "") for one in links if one.get("Id") == wanted), "")
    return target.lstrip("/") if target.startswith("/") else f"xl/{target}"


def _odd_ods(content: bytes, sheet: str) -> Mapping[tuple[int, int], Cell]:
    """The cells of an ODS sheet that show an error, those that are merged with one above, and those with tabs or line
    breaks inside, which the reader of the values leaves out."""
    found: dict[tuple[int, int], Cell] = {}
    root = ElementTree.fromstring(content)  # noqa: S314  # as above
    table = next((one for one in root.iter(f"{_TABLE}table") if one.get(f"{_TABLE}name") == sheet), None)
    at = 0
    for row in table.iter(f"{_TABLE}table-row") if table is not None else ():
        rows, place = int(row.get(f"{_TABLE}number-rows-repeated", "1")), 0
        for cell in row:
            wide = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
            if any(name.endswith("value-type") and value == "error" for name, value in cell.attrib.items()):
                text = "".join(cell.itertext())
                found |= {(at + down, place + along): Broken(text)
                          for down in range(min(rows, _REPEATED)) for along in range(min(wide, _REPEATED))}
            elif any(one.tag in (f"{_TEXT}tab", f"{_TEXT}line-break") for one in cell.iter()):
                found |= {(at + down, place + along): "\n".join(map(_paragraph, cell.findall(f"{_TEXT}p")))
                          for down in range(min(rows, _REPEATED)) for along in range(min(wide, _REPEATED))}
            down, along = (int(cell.get(f"{_TABLE}number-{what}-spanned", "1")) for what in ("rows", "columns"))
            if down > 1:
                text = " ".join(cell.itertext())
                found |= {(at + row_, place + column): Covered(text)
                          for row_ in range(1, min(down, _REPEATED)) for column in range(min(along, _REPEATED))}
            place += wide
        at += rows
    return found


def _paragraph(part: ElementTree.Element) -> str:
    """The text of a paragraph, with its tabs, breaks and runs of spaces (OpenDocument 1.3, part 3, 6.1)."""
    text = {f"{_TEXT}tab": "\t", f"{_TEXT}line-break": "\n"}.get(part.tag, part.text or "")
    if part.tag == f"{_TEXT}s":
        text = " " * int(part.get(f"{_TEXT}c", "1"))
    return text + "".join(_paragraph(one) + (one.tail or "") for one in part)
