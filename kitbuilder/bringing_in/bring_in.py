"""Brings a sheet into a catalogue: reads it through a mapping, holds it against the whole catalogue, and says what is
wrong by the sheet's own rows."""

from collections.abc import Iterator
from collections.abc import Mapping as AnyMapping

import msgspec

from kitbuilder.bringing_in.grid import Grid, headings, read_grid
from kitbuilder.bringing_in.mapping import Mapping
from kitbuilder.bringing_in.propose import Proposal
from kitbuilder.bringing_in.rows import Rows, header, read_rows
from kitbuilder.bringing_in.sheet_text import Put, put_rows
from kitbuilder.bringing_in.targets import Target, target
from kitbuilder.bringing_in.vocabulary import read_vocabulary
from kitbuilder.catalogue.content import read_content
from kitbuilder.errors import Fault, LoadError
from kitbuilder.model.bringing_in import Imported, RowFault

#: Rows of the preview.
_SHOWN = 5


class Brought(msgspec.Struct, frozen=True):
    """A sheet read for a catalogue: through which mapping, its rows, the bytes of the catalogue's file with them, all
    that is wrong by row, what would be wrong elsewhere in the catalogue, and what may be."""

    mapping: Mapping
    rows: Rows
    put: Put
    faults: tuple[RowFault, ...]
    catalogue: tuple[str, ...]
    warnings: tuple[str, ...]

    @property
    def well(self) -> bool:
        """Whether it can be written."""
        return not self.faults and not self.catalogue


def read_for(path: str, file: str, data: bytes, files: AnyMapping[str, bytes], sheet: str,
             mapping: Mapping | None) -> tuple[Grid, Target]:
    """The sheet in a file, and the catalogue's sheet that it is for."""
    meant = target(path, read_vocabulary(files))
    told = mapping or Mapping()
    grid = read_grid(file, data, sheet=sheet or told.sheet, encoding=told.encoding, delimiter=told.delimiter,
                     quote=told.quote, names=frozenset(meant.names))
    return grid, meant


def bring_in(grid: Grid, meant: Target, mapping: Mapping, files: AnyMapping[str, bytes], replace: bool) -> Brought:
    """The rows of the sheet in the catalogue's file. Nothing is written here.

    Raises BadData where mapping and sheet don't agree.
    """
    rows = read_rows(grid, mapping, meant)
    put = put_rows(meant.path, files.get(meant.path), rows.read, meant.names, meant.key, replace)
    faults = [*rows.faults, *put.faults]
    elsewhere: list[str] = []
    if rows.read or replace:
        before = {_without_row(fault, meant.path) for fault in catalogue_faults(files)}
        for fault in catalogue_faults({**files, meant.path: put.data}):
            if fault.file == meant.path and fault.row in put.lines:
                theirs = mapping.columns.get(fault.column, fault.column)
                faults.append(RowFault(put.lines[fault.row], theirs, fault.read, fault.expected))
            # Rows that are left out are missed by others: what is wrong elsewhere is told once the sheet is well.
            elif not (rows.faults or put.faults) and _without_row(fault, meant.path) not in before:
                elsewhere.append(str(fault))
    return Brought(mapping, rows, put, tuple(sorted(faults)), tuple(elsewhere), tuple(_lost(grid, meant, mapping)))


def _lost(grid: Grid, meant: Target, mapping: Mapping) -> Iterator[str]:
    """What a spreadsheet may have lost unseen: zeros before a number that is a name."""
    names = headings(header(grid, mapping))
    for ours, theirs in mapping.columns.items():
        column = meant.column(ours)
        if column is None or not column.identifies or theirs not in names:
            continue
        place = names.index(theirs)
        bare = [row.number for row in grid.rows if row.number > mapping.header_row and place < len(row.cells)
                and isinstance(row.cells[place], (int, float)) and not isinstance(row.cells[place], bool)]
        if bare:
            cells = f"{len(bare)} cells of {theirs!r} are" if len(bare) > 1 else f"A cell of {theirs!r} is"
            yield (f"{cells} a number in the sheet, not text (first in row {bare[0]}): zeros before it, if it had any, "
                   "are lost there.")


def imported(grid: Grid, meant: Target, mapping: str, proposal: Proposal | None, found: Brought | None,
             written: str) -> Imported:
    """The answer: what was `found`, None where too little of the sheet is known to read its rows."""
    notes = proposal.notes if proposal else ()
    asked = proposal.questions if proposal else ()
    if found is None:
        rows = max(len(grid.rows) - 1, 0)
        return Imported("kitbuilder.import/1", (), grid.file, grid.sheet, meant.path, mapping, notes, asked, (), rows,
                        0, 0, (), (), (), None)
    count = found.rows.count
    used = {*found.mapping.columns, *found.mapping.constants}
    return Imported(
        "kitbuilder.import/1", found.warnings, grid.file, grid.sheet, meant.path, mapping, notes, asked,
        tuple(name for name in meant.names if name in used), count, count - len({fault.row for fault in found.faults}),
        found.put.there, found.rows.read[:_SHOWN], found.faults, found.catalogue, written or None)


def catalogue_faults(files: AnyMapping[str, bytes]) -> tuple[Fault, ...]:
    """What is wrong with a catalogue's files."""
    try:
        read_content("", files)
    except LoadError as error:
        return error.faults
    return ()


def _without_row(fault: Fault, path: str) -> Fault:
    """A fault to be known again: rows of a sheet that is written anew may have moved."""
    return msgspec.structs.replace(fault, row=0) if fault.file == path else fault
