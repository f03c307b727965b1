"""Reads one CSV file of a catalogue: UTF-8 with or without mark; comma, semicolon or tab; empty rows skipped."""

import csv
import io
from collections.abc import Collection, Iterator

import msgspec

from kitbuilder.catalogue.faults import Faults
from kitbuilder.errors import one_of


class SheetRow(msgspec.Struct, frozen=True):
    """A row: the line it begins on, and its cells, trimmed, by column (empty cells are left out)."""

    line: int
    cells: dict[str, str]


class Sheet(msgspec.Struct, frozen=True):
    """A sheet: its file, its columns in order and its rows."""

    file: str
    columns: tuple[str, ...]
    rows: tuple[SheetRow, ...]


def decode(file: str, data: bytes, faults: Faults) -> str | None:
    """The text of a file, or None with a fault noted where it isn't UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data.count(b"\n", 0, error.start) + 1
        faults.add(file, row, "", data[error.start:error.end], "UTF-8 text (save it as UTF-8)")
        return None


def read_sheet(file: str, data: bytes, known: Collection[str], needed: Collection[str], faults: Faults) -> Sheet:
    """The sheet in a file; columns not `known` and missing ones that are `needed` are noted as faults."""
    text = decode(file, data, faults)
    if text is None:
        return Sheet(file, (), ())
    records = _records(file, text, faults)
    line, header = next(records, (0, []))
    columns = [name.strip() for name in header]
    for place, name in enumerate(columns):
        if name and name in columns[:place]:
            faults.add(file, line, name, name, "each column once")
        elif name and name not in known and ("fact", name) not in faults.broken:
            faults.add(file, line, name, name, f"a column: {one_of(name, sorted(known))}")
    for name in needed:
        if name not in columns:
            faults.add(file, line, name, "", f"a column {name!r}")
    rows = []
    for line, record in records:
        for place, cell in enumerate(record[len(columns):], len(columns) + 1):
            if cell.strip():
                faults.add(file, line, f"cell {place}", cell, f"at most {len(columns)} cells, as in the first row")
        filled = {
            name: cell for name, written in zip(columns, record, strict=False) if (cell := written.strip())
        }
        if "" in filled:
            faults.add(file, line, "", filled.pop(""), "a name over this column, in the first row")
        rows.append(SheetRow(line, filled))
    return Sheet(file, tuple(columns), tuple(rows))


def _records(file: str, text: str, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    before = 0
    try:
        for record in reader:
            line, before = before + 1, reader.line_num
            if any(cell.strip() for cell in record):
                yield line, record
    except csv.Error as error:
        faults.add(file, before + 1, "", "", f"a row of CSV ({error})")


def _delimiter(text: str) -> str:
    """The delimiter that parts the first row that isn't empty; comma where none does."""
    for line in io.StringIO(text):
        if line.strip(",;\t \r\n\""):
            bare = "".join(line.split('"')[::2])
            return max(",;\t", key=bare.count)
    return ","
