"""Writes a sheet as the catalogue keeps it, adds rows to one that is there, and puts files in their place whole."""

import csv
import io
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, read_sheet
from kitbuilder.errors import StoreRefuses
from kitbuilder.model.bringing_in import RowFault, RowRead


class _Any(frozenset[str]):
    def __contains__(self, name: object) -> bool:
        return True


class Put(NamedTuple):
    """A sheet with rows put into it: its bytes, which row of theirs begins on which line, rows that clash with others,
    and how many stand there word for word already."""

    data: bytes
    lines: dict[int, int]
    faults: tuple[RowFault, ...]
    there: int


def sheet_text(columns: Sequence[str], rows: Sequence[Mapping[str, str]], delimiter: str = ",",
               heading: bool = True) -> str:
    """Rows as CSV: the heading, then a row each, lines ended by a line feed, quotes only where they are needed."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    if heading:
        writer.writerow(columns)
    writer.writerows([row.get(name, "") for name in columns] for row in rows)
    return out.getvalue()


def put_rows(path: str, old: bytes | None, rows: Sequence[RowRead], order: Sequence[str], key: Sequence[str],
             replace: bool) -> Put:
    """The file with the rows in it: instead of what was there, or after it. Columns stand in the given order, behind
    those that were there already. A row whose key another has is a fault; one that is the same word for word is not
    written twice."""
    sheet = read_sheet(path, old or b"", _Any(), (), Faults()) if old and not replace else Sheet(path)
    known = {_key(row.cells, key): (row.cells, f"line {row.line} of {path}") for row in sheet.rows}
    fresh: list[RowRead] = []
    faults: list[RowFault] = []
    there = 0
    for row in rows:
        cells, where = known.setdefault(_key(row.cells, key), (row.cells, f"row {row.row} of this sheet"))
        if cells is row.cells:
            fresh.append(row)
        elif cells == row.cells and where.startswith("line"):
            there += 1
        else:
            faults.append(_clash(row, cells, where, key))
    used = {name for row in fresh for name in row.cells}
    columns = [*sheet.columns, *(name for name in order if name in used and name not in sheet.columns)]
    cells_of = [row.cells for row in fresh]
    if not sheet.columns:
        text = sheet_text(columns, cells_of)
        return Put(text.encode(), _lines(columns, fresh, 2), tuple(faults), there)
    delimiter = _delimiter(old or b"", sheet)
    if len(columns) == len(sheet.columns):
        before = (old or b"").decode("utf-8-sig").rstrip("\r\n") + "\n"
    else:
        before = sheet_text(columns, [row.cells for row in sheet.rows], delimiter)
    start = before.count("\n") + 1
    text = before + sheet_text(columns, cells_of, delimiter, heading=False)
    return Put(text.encode(), _lines(columns, fresh, start), tuple(faults), there)


def _key(cells: Mapping[str, str], key: Sequence[str]) -> tuple[str, ...]:
    return tuple(cells.get(name, "") for name in key)


def _clash(row: RowRead, cells: Mapping[str, str], where: str, key: Sequence[str]) -> RowFault:
    said = ", ".join(row.cells[name] for name in key if name in row.cells)
    differs = [name for name in {**cells, **row.cells} if cells.get(name) != row.cells.get(name)]
    if not differs:
        return RowFault(row.row, "", said, f"each row once ({where} is the same)")
    return RowFault(row.row, "", said, f"a row that isn't there yet: {where} has it with other {', '.join(differs)} "
                                       "(--replace puts this sheet in the place of that one)"
                    if where.startswith("line") else f"each once: {where} has it with other {', '.join(differs)}")


def _lines(columns: Sequence[str], rows: Sequence[RowRead], start: int) -> dict[int, int]:
    """On which line each row begins; a cell with line feeds takes several."""
    found: dict[int, int] = {}
    for row in rows:
        found[start] = row.row
        start += 1 + sum(row.cells.get(name, "").count("\n") for name in columns)
    return found


def _delimiter(data: bytes, sheet: Sheet) -> str:
    """The delimiter of the sheet that is there: rows that follow must be parted by the same."""
    first = data.decode("utf-8-sig").splitlines()[sheet.line - 1]
    return max(",;\t", key=first.count)


def write_whole(folder: Path, files: Mapping[str, bytes]) -> None:
    """Put files into a folder: each is written beside its place and renamed once all are on the disk.

    Raises StoreRefuses where the folder can't be written; what stood there stays then.
    """
    beside: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            place = folder / path
            place.parent.mkdir(parents=True, exist_ok=True)
            part = place.with_name(f".{place.name}.{os.getpid()}.part")
            beside.append((part, place))
            with open(part, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        for part, place in beside:
            os.replace(part, place)
    except OSError as error:
        for part, _ in beside:
            part.unlink(missing_ok=True)
        raise StoreRefuses(f"{folder} can't be written: {error.strerror}. Nothing was changed.") from None
