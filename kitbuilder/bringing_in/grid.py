"""A sheet as it lies in its file, whatever the file is: rows of cells, each row with the number its program shows."""

from datetime import date, datetime
from typing import Final

import msgspec

from kitbuilder.errors import BadData

#: What the extra is called that reads what plain CSV in UTF-8 isn't.
EXTRA: Final = "pip install 'kitbuilder[sheets]'"
WORKBOOKS: Final = (".xlsx", ".xlsm", ".ods")


class Broken(msgspec.Struct, frozen=True):
    """A cell in which the spreadsheet program shows an error (`#N/A`)."""

    text: str


class Covered(msgspec.Struct, frozen=True):
    """A cell that is merged with one above it, in which `text` stands: whether that is meant for this row too can't be
    told."""

    text: str


Cell = str | float | int | bool | date | datetime | Broken | Covered


class GridRow(msgspec.Struct, frozen=True):
    """A row: its number (of a text file: the line it begins on) and its cells."""

    number: int
    cells: tuple[Cell, ...]


class Grid(msgspec.Struct, frozen=True):
    """The rows of a sheet that hold anything. `encoding`, `delimiter` and `quote` are "" where it comes from a
    workbook, `sheet` and `sheets` where it doesn't. `why` says how the encoding was found, if not by itself."""

    file: str
    rows: tuple[GridRow, ...]
    sheet: str = ""
    sheets: tuple[str, ...] = ()
    encoding: str = ""
    delimiter: str = ""
    quote: str = ""
    why: str = ""


def read_grid(file: str, data: bytes, *, sheet: str = "", encoding: str = "", delimiter: str = "", quote: str = "",
              names: frozenset[str] = frozenset()) -> Grid:
    """The sheet in a file's bytes; what isn't given is found out. `names` are headings that may be met.

    Raises BadData where the file can't be read at all, WrongUse for a sheet that isn't there.
    """
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise BadData(f"{file} is a workbook of the old kind, or has a password. Save it as XLSX or ODS, without one.")
    if file.lower().endswith(WORKBOOKS) or data.startswith(b"PK\x03\x04"):
        from kitbuilder.bringing_in.workbook import read_workbook

        return read_workbook(file, data, sheet)
    if sheet:
        raise BadData(f"{file} is a text file: it has no sheet {sheet!r}.")
    from kitbuilder.bringing_in.delimited import read_delimited

    return read_delimited(file, data, encoding, delimiter, quote, names)


def filled(cell: Cell) -> bool:
    """Whether a cell holds anything but space."""
    if isinstance(cell, Covered):
        return bool(cell.text)
    return bool(cell.strip()) if isinstance(cell, str) else True


def letters(place: int) -> str:
    """The name a spreadsheet program gives a column, counted from 0: A, B, … Z, AA."""
    name = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        name = chr(65 + rest) + name
    return name


def headings(row: GridRow | None) -> tuple[str, ...]:
    """The names of the columns: as written; where that is empty or stands twice, the column's letter says which."""
    found: list[str] = []
    for place, cell in enumerate(row.cells if row else ()):
        text = " ".join(str(cell.text if isinstance(cell, (Broken, Covered)) else cell).split())
        if not text:
            text = f"column {letters(place)}"
        elif text in found:
            text = f"{text} (column {letters(place)})"
        found.append(text)
    return tuple(found)
