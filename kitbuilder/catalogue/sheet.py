"""Reads one CSV file of a catalogue: UTF-8 with or without mark; comma, semicolon or tab; empty rows skipped."""

import csv
import io
import re
from collections.abc import Collection, Iterator, Sequence

import msgspec

from kitbuilder.catalogue.faults import Faults
from kitbuilder.errors import nearest, one_of


class SheetRow(msgspec.Struct, frozen=True):
    """A row: the line it begins on, and its cells, trimmed, by column (empty cells are left out)."""

    line: int
    cells: dict[str, str]


class Sheet(msgspec.Struct, frozen=True):
    """A sheet: its file, the line that names its columns, these in order, and its rows.

    `meant` are columns that are missing only because a name is mistyped; `whole` is false where the
    file couldn't be read to its end, `sound` also where anything was wrong with its rows or columns.
    """

    file: str
    line: int = 0
    columns: tuple[str, ...] = ()
    rows: tuple[SheetRow, ...] = ()
    meant: frozenset[str] = frozenset()
    whole: bool = False
    sound: bool = False

    def missing(self, row: SheetRow, column: str, expected: str, faults: Faults) -> None:
        """Note that a row has nothing in a column; where the whole column is missing, once for all rows."""
        if column in self.columns:
            faults.add(self.file, row.line, column, "", expected)
        elif column not in self.meant:
            faults.add(self.file, self.line, column, "", f"a column {column!r}")


def decode(file: str, data: bytes, faults: Faults) -> str | None:
    """The text of a file, or None with a fault noted where it isn't UTF-8."""
    wrong, expected = data.find(b"\0"), "UTF-8 text (save it as UTF-8)"
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # Where the text begins with a mark, the decoder counts from behind it.
        start = error.start + len(data) - len(error.object)
        wrong = start if wrong < 0 else min(wrong, start)
    if wrong < 0:
        return text
    faults.add(file, len(re.findall(rb"\r\n?|\n", data[:wrong])) + 1, "", f"byte {data[wrong]:02X}", expected)
    return None


def read_sheet(file: str, data: bytes, known: Collection[str], needed: Collection[str], faults: Faults) -> Sheet:
    """The sheet in a file; columns not `known` and missing ones that are `needed` are noted as faults."""
    before = len(faults.found)
    ends: list[bool] = []
    sheet, read, records = begin_sheet(file, data, known, needed, faults, ends)
    rows = [row_of(file, at, read, record, faults) for at, record in records]
    return Sheet(file, sheet.line, sheet.columns, tuple(rows), sheet.meant, bool(ends) and bool(read),
                 bool(read) and len(faults.found) == before)


def begin_sheet(file: str, data: bytes, known: Collection[str], needed: Collection[str], faults: Faults,
                ends: list[bool]) -> tuple[Sheet, tuple[str | None, ...], Iterator[tuple[int, list[str]]]]:
    """A sheet without its rows; the column of each cell (None for one that says nothing); and its rows, yet to be read,
    as their line and cells. `ends` is filled once all could be read."""
    text = decode(file, data, faults)
    if text is None:
        return Sheet(file), (), iter(())
    records = _records(file, text, faults, ends)
    line, header = next(records, (0, []))
    if not header:
        if ends:
            faults.add(file, 0, "", "", "a first row that names the columns")
        return Sheet(file), (), iter(())
    columns = tuple(name.strip() for name in header)
    meant = _header(file, line, columns, known, faults)
    # What stands under a name for the second time is left out: it could say anything.
    read = tuple(None if name and name in columns[:place] else name for place, name in enumerate(columns))
    for name in needed:
        if name not in columns and name not in meant:
            faults.add(file, line, name, "", f"a column {name!r}")
    named = tuple(dict.fromkeys(name for name in columns if name))
    return Sheet(file, line, named, (), meant), read, records


def _header(file: str, line: int, columns: tuple[str, ...], known: Collection[str], faults: Faults) -> frozenset[str]:
    """Check the names of the columns; which known ones are meant by the unknown."""
    meant = set()
    for place, name in enumerate(columns):
        if name and name in columns[:place]:
            faults.add(file, line, name, name, "each column once")
        elif name and name not in known:
            absent = sorted(one for one in known if one not in columns)
            close = nearest(name, absent)
            meant.add(close)
            if not faults.excused("fact", name):
                faults.add(file, line, name, name, f"a column: {one_of(name, absent if close else sorted(known))}")
    return frozenset(one for one in meant if one is not None)


def row_of(file: str, line: int, columns: Sequence[str | None], record: list[str], faults: Faults) -> SheetRow:
    """A row from its cells; what stands where no column has a name is noted."""
    filled = {
        name: cell for name, written in zip(columns, record, strict=False)
        if written and name is not None and (cell := written.strip())}
    if "" in filled or len(record) > len(columns):
        filled.pop("", None)
        for place, written in enumerate(record):
            if written.strip() and (place >= len(columns) or columns[place] == ""):
                faults.add(file, line, f"cell {place + 1}", written.strip(), "nothing here, where no column has a name")
    return SheetRow(line, filled)


def _records(file: str, text: str, faults: Faults, ends: list[bool]) -> Iterator[tuple[int, list[str]]]:
    """The rows that aren't empty, each with the line it begins on; `ends` is filled once all could be read."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    before = 0
    try:
        for record in reader:
            line, before = before + 1, reader.line_num
            if "".join(record).strip():
                yield line, record
    except csv.Error as error:
        faults.add(file, before + 1, "", "", f"a row of CSV ({error})")
    else:
        ends.append(True)


def _delimiter(text: str) -> str:
    """The delimiter that parts the first row that isn't empty; where none does, a sheet has one column
    and its cells may hold any of them."""
    for line in io.StringIO(text, newline=""):
        if line.strip(",;\t \r\n\""):
            bare = "".join(line.split('"')[::2])
            most = max(",;\t", key=bare.count)
            return most if most in bare else "\x1f"
    return ","
