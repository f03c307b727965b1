"""Reads the rows of a sheet through a mapping; what can't be read is told row by row."""

from collections.abc import Sequence

import msgspec

from kitbuilder.bringing_in.cells import CantRead, read_cell, shown
from kitbuilder.bringing_in.grid import Cell, Grid, GridRow, filled, headings
from kitbuilder.bringing_in.mapping import Mapping
from kitbuilder.bringing_in.targets import Target
from kitbuilder.errors import BadData, one_of
from kitbuilder.model.bringing_in import RowFault, RowRead


class Rows(msgspec.Struct, frozen=True):
    """The rows that could be read, how many there were, and what was wrong with the others."""

    read: tuple[RowRead, ...]
    count: int
    faults: tuple[RowFault, ...]


def header(grid: Grid, mapping: Mapping) -> GridRow | None:
    """The row that names the columns."""
    return next((row for row in grid.rows if row.number == mapping.header_row), None)


def read_rows(grid: Grid, mapping: Mapping, target: Target) -> Rows:
    """The sheet's rows in the columns of ours. A row in which one cell can't be read isn't among them.

    Raises BadData where the mapping speaks of columns that aren't there.
    """
    names = headings(header(grid, mapping))
    _agree(grid, mapping, target, names)
    read, faults, count = [], [], 0
    for row in grid.rows:
        if row.number > mapping.header_row and row.number not in mapping.skip_rows:
            count += 1
            cells, wrong = _row(row, mapping, target, names)
            faults += wrong
            if not wrong:
                read.append(RowRead(row.number, cells))
    return Rows(tuple(read), count, tuple(faults))


def _agree(grid: Grid, mapping: Mapping, target: Target, names: Sequence[str]) -> None:
    """That mapping, sheet and target speak of the same columns."""
    wrong = []
    if mapping.header_row and header(grid, mapping) is None:
        wrong.append(f"row {mapping.header_row} of {grid.file} is to name its columns, and is empty")
    for ours, theirs in mapping.columns.items():
        if theirs not in names:
            wrong.append(f"{grid.file} has no column {theirs!r}, expected {one_of(theirs, names)}")
        if ours in mapping.constants:
            wrong.append(f"{ours} is both a column and a constant")
    for ours in (*mapping.columns, *mapping.constants):
        if ours not in target.names:
            wrong.append(f"{target.path} has no column {ours!r}, expected {one_of(ours, target.names)}")
    used = {*mapping.columns.values(), *mapping.ignored}
    start = [row for row in grid.rows if row.number > mapping.header_row]
    for place, name in enumerate(names):
        holds = name not in used and any(place < len(row.cells) and filled(row.cells[place]) for row in start)
        if holds:
            wrong.append(f"the mapping says nothing of the column {name!r}: put it into [columns], or into ignored")
    for one in target.columns:
        if one.needed and one.name not in mapping.columns and one.name not in mapping.constants:
            wrong.append(f"nothing is to be {one.name} of {target.path}: name a column, or a constant")
    if wrong:
        raise BadData(f"Mapping and sheet don't agree ({len(wrong)}):\n" + "\n".join(f"  {one}." for one in wrong))


def _row(row: GridRow, mapping: Mapping, target: Target,
         names: Sequence[str]) -> tuple[dict[str, str], list[RowFault]]:
    places = {name: place for place, name in enumerate(names)}
    cells: dict[str, str] = {}
    faults: list[RowFault] = []
    for column in target.columns:
        theirs = mapping.columns.get(column.name)
        if theirs is None:
            text = mapping.constants.get(column.name, "")
        else:
            place = places[theirs]
            cell: Cell = row.cells[place] if place < len(row.cells) else ""
            try:
                text = read_cell(cell, column, mapping)
            except CantRead as error:
                faults.append(RowFault(row.number, theirs, shown(cell), str(error)))
                continue
            if not text and column.needed:
                faults.append(RowFault(row.number, theirs, shown(cell), f"something here: it is to be {column.name}"))
        if text:
            cells[column.name] = text
    for place, cell in enumerate(row.cells[len(names):], len(names)):
        if filled(cell):
            faults.append(
                RowFault(row.number, f"cell {place + 1}", shown(cell), "nothing here, where no column has a name"))
    return cells, faults
