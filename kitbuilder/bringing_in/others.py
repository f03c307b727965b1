"""Reads a sheet that stays somebody else's (a price list, say) as rows in our columns, through a mapping or without."""

from collections.abc import Collection, Sequence
from collections.abc import Mapping as AnyMapping
from typing import Literal

from kitbuilder.bringing_in.cells import CantRead, read_cell, shown
from kitbuilder.bringing_in.grid import Grid, GridRow, headings, read_grid
from kitbuilder.bringing_in.mapping import Mapping, read_mapping
from kitbuilder.bringing_in.targets import Column
from kitbuilder.catalogue.sheet import SheetRow
from kitbuilder.errors import BadData, one_of


def read_mapped_rows(file: str, data: bytes, columns: AnyMapping[str, Literal["text", "number"]],
                     needed: Collection[str], mapping: tuple[str, bytes] | None = None) -> list[SheetRow]:
    """The rows of a sheet: CSV in any encoding and dialect, XLSX or ODS (both with the extra `sheets`).

    `columns` are ours, and what is in them; `mapping` is the name and the bytes of a mapping file, as `kitbuilder
    catalogue import` writes them: without one the sheet's first row has our names. Numbers come as plain decimals. A
    cell that can't be read comes as it stands there with what was expected, which is no number and no time: whoever
    judges the row refuses it. Raises BadData for a file or mapping that can't be read, and where they don't agree.
    """
    told = read_mapping(*mapping) if mapping else Mapping()
    grid = read_grid(file, data, sheet=told.sheet, encoding=told.encoding, delimiter=told.delimiter, quote=told.quote,
                     names=frozenset((*columns, *told.columns.values())))
    head = _head(grid, told)
    names = headings(head)
    ours = dict(told.columns) if mapping else {name: name for name in names if name in columns}
    _agree(grid.file, ours, told, names, columns, needed)
    places = {name: names.index(theirs) for name, theirs in ours.items()}
    sorts = {name: Column(name, sort) for name, sort in columns.items()}
    rows = []
    for row in grid.rows:
        if (head is None or row.number > head.number) and row.number not in told.skip_rows:
            cells = {name: _text(row, place, sorts[name], told) for name, place in places.items()}
            rows.append(SheetRow(row.number, {
                name: cell for name, cell in {**told.constants, **cells}.items() if cell}))
    return rows


def _head(grid: Grid, mapping: Mapping) -> GridRow | None:
    """The row that names the columns: the one that the mapping says, else the first. None where there is none, and the
    mapping goes by the columns' letters."""
    if mapping.header_row:
        return next((row for row in grid.rows if row.number == mapping.header_row), None)
    if mapping.columns and all(theirs.startswith("column ") for theirs in mapping.columns.values()):
        return None
    return grid.rows[0] if grid.rows else None


def _agree(file: str, ours: AnyMapping[str, str], mapping: Mapping, names: Sequence[str], columns: Collection[str],
           needed: Collection[str]) -> None:
    wrong = [f"there is no column {theirs!r}, expected {one_of(theirs, names)}" for theirs in ours.values()
             if theirs not in names]
    wrong += [f"there is no {name!r} of ours, expected {one_of(name, list(columns))}"
              for name in (*ours, *mapping.constants) if name not in columns]
    wrong += [f"nothing is {name}: name a column for it" for name in needed
              if name not in ours and name not in mapping.constants]
    if wrong:
        raise BadData(f"{file}: {'; '.join(wrong)}.")


def _text(row: GridRow, place: int, column: Column, mapping: Mapping) -> str:
    cell = row.cells[place] if place < len(row.cells) else ""
    try:
        return read_cell(cell, column, mapping)
    except CantRead as error:
        return f"{shown(cell)!r} (expected {error})"
