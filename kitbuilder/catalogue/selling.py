"""Reads selling.csv: what the customer is charged for an item, without tax."""

from collections.abc import Mapping

from kitbuilder import amount
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.item_rows import item_rows
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.model.catalogue import Item, Selling


def read_selling(sheet: Sheet, items: Mapping[str, Item], currency: str, faults: Faults) -> dict[str, Selling]:
    """The selling prices by item number."""
    found = {}
    for row, item in item_rows(sheet, items, faults):
        price = _price(sheet, row, currency, faults)
        text, unit = row.cells.get("per"), item.unit if item else "L"
        per = 1000
        if text is not None and not faults.excused("item", row.cells.get("item", "")):
            try:
                per = amount.parse(text, unit, unit)
            except ValueError as error:
                faults.add(sheet.file, row.line, "per", text, str(error))
        if item is not None:
            found[item.number] = Selling(item.number, price, per, row.cells.get("note", ""), row.line)
    return found


def _price(sheet: Sheet, row: SheetRow, currency: str, faults: Faults) -> int:
    text = row.cells.get("price")
    if text is None:
        sheet.missing(row, "price", "a price as a decimal, such as 4.20", faults)
        return 0
    try:
        return amount.parse_money(text, currency)
    except ValueError as error:
        faults.add(sheet.file, row.line, "price", text, str(error))
        return 0
