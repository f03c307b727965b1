"""Reads sheets that say more of items, with one row an item at most."""

from collections.abc import Iterator, Mapping

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.model.catalogue import Item


def item_rows(sheet: Sheet, items: Mapping[str, Item], faults: Faults) -> Iterator[tuple[SheetRow, Item | None]]:
    """The rows of a sheet, each with the item it speaks of; None where that can't be known, which is noted."""
    lines: dict[str, int] = {}
    for row in sheet.rows:
        number = row.cells.get("item", "")
        if not number:
            sheet.missing(row, "item", "an item number", faults)
        elif number not in items:
            faults.unknown(sheet.file, row.line, "item", "item", number, list(items))
        elif number in lines:
            faults.add(sheet.file, row.line, "item", number, f"each item once (line {lines[number]} has it)")
        else:
            lines[number] = row.line
        yield row, items.get(number)
