"""Reads hazards.csv: what the safety data sheet of an item says. Nothing here is derived from the kind of item."""

from collections.abc import Callable, Mapping
from typing import cast

from kitbuilder.catalogue.cells import day_in, names_in
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.item_rows import item_rows
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.model.catalogue import Hazard, Item, Signal


def read_hazards(sheet: Sheet, items: Mapping[str, Item], faults: Faults) -> dict[str, Hazard]:
    """What is told of the hazards of items, by number."""
    found = {}
    for row, item in item_rows(sheet, items, faults):
        name = row.cells.get("sheet", "")
        if not name:
            sheet.missing(row, "sheet", "the name of the safety data sheet", faults)
        signal = _signal(sheet.file, row, faults)
        revised = day_in(sheet.file, row, "revised", "the day of the sheet's revision, such as 2025-03-01", faults)
        pictograms = _codes(sheet.file, row, "pictograms", _pictogram, faults)
        statements = _codes(sheet.file, row, "statements", _statement, faults)
        if item is not None:
            found[item.number] = Hazard(item.number, name, revised, cast(Signal, signal), pictograms, statements,
                                        row.cells.get("note", ""), row.line)
    return found


def _signal(file: str, row: SheetRow, faults: Faults) -> str:
    from kitbuilder.kinds.hazards import read_signal

    text = row.cells.get("signal")
    if text is None:
        return ""
    try:
        return read_signal(text)
    except ValueError as error:
        faults.add(file, row.line, "signal", text, f"{error}, or nothing")
        return ""


def _pictogram(text: str) -> str:
    from kitbuilder.kinds.hazards import read_pictogram

    return read_pictogram(text)


def _statement(text: str) -> str:
    from kitbuilder.kinds.hazards import read_statement

    return read_statement(text)


def _codes(file: str, row: SheetRow, column: str, read: Callable[[str], str], faults: Faults) -> tuple[str, ...]:
    """The codes of a cell in canonical form and order, each once."""
    found = set()
    for name in names_in(file, row, column, faults):
        try:
            found.add(read(name))
        except ValueError as error:
            faults.add(file, row.line, column, name, str(error))
    return tuple(sorted(found))
