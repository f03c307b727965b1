"""Reads items.csv: what has a number of its own."""

import re
from typing import Final

from kitbuilder import amount
from kitbuilder.catalogue.cells import comma, names_in
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.errors import one_of
from kitbuilder.kinds import KINDS, PROPERTIES
from kitbuilder.model.catalogue import NOTHING, Item, Port

_RANK: Final = re.compile(r"-?[0-9]{1,18}(\.[0-9]{1,18})?")
#: A number of ports before their thread.
_PORT: Final = re.compile(r"(?:([0-9]{1,4})\s+)?(.+)", re.DOTALL)


def read_items(sheet: Sheet, faults: Faults) -> dict[str, Item]:
    """The items by number."""
    found: dict[str, Item] = {}
    lines: dict[str, int] = {}
    codes: dict[str, str] = {}
    if not sheet.whole or "number" not in sheet.columns:
        faults.unread.add("item")
    for row in sheet.rows:
        number = row.cells.get("number", "")
        if not number:
            sheet.missing(row, "number", "an item number", faults)
        elif number == NOTHING:
            faults.add(sheet.file, row.line, "number", number, "another number: this one is for fits without a line")
        elif number in found:
            faults.add(sheet.file, row.line, "number", number, f"each number once (line {lines[number]} has it)")
        else:
            lines[number] = row.line
            found[number] = _item(sheet, row, number, faults)
            _check_codes(sheet.file, row, found[number], codes, faults)
    return found


def _item(sheet: Sheet, row: SheetRow, number: str, faults: Faults) -> Item:
    file, cells = sheet.file, row.cells
    if "name" not in cells:
        sheet.missing(row, "name", "a name", faults)
    unit = cells.get("unit", "")
    if unit not in amount.UNITS:
        # Its fits can't be held against a unit that isn't known.
        faults.broken.add(("item", number))
        if unit:
            faults.add(file, row.line, "unit", unit, f"a unit: {one_of(unit, amount.UNITS)}")
        else:
            sheet.missing(row, "unit", f"a unit: {', '.join(amount.UNITS)}", faults)
        unit = "each"
    rank = cells.get("rank", "")
    if rank and not _RANK.fullmatch(rank):
        faults.add(file, row.line, "rank", rank, comma(rank) or "a number, or nothing")
        rank = ""
    kind = cells.get("kind", "")
    if kind and kind not in KINDS:
        faults.add(file, row.line, "kind", kind, f"a kind: {one_of(kind, list(KINDS))}")
    properties = _properties(sheet, row, kind, faults)
    lists = {column: names_in(file, row, column, faults) for column in ("codes", "listed", "claimed")}
    return Item(number, cells.get("name", ""), unit, rank, kind, lists["codes"], properties, lists["listed"],
                lists["claimed"], _weight(file, row, faults), _ports(file, row, faults))


def _weight(file: str, row: SheetRow, faults: Faults) -> int:
    """Grams of one of the item's unit, 0 where it isn't told."""
    text = row.cells.get("weight")
    if text is None:
        return 0
    try:
        return amount.parse(text, "kg", "kg")
    except ValueError as error:
        faults.add(file, row.line, "weight", text, f"kilograms: {error}")
        return 0


def _ports(file: str, row: SheetRow, faults: Faults) -> tuple[Port, ...]:
    """The ports of a cell (`M14x1.5 and 2 M22x1.5`); those of one thread are counted together."""
    if "ports" not in row.cells:
        return ()
    from kitbuilder.kinds.threads import read_thread

    found: dict[str, int] = {}
    for name in names_in(file, row, "ports", faults):
        number, thread = _PORT.fullmatch(name).groups()  # type: ignore[union-attr]
        try:
            thread = read_thread(thread)
        except ValueError as error:
            faults.add(file, row.line, "ports", name, f"{error}, or so many of them: 2 M14x1.5")
            continue
        if number is not None and not int(number):
            faults.add(file, row.line, "ports", name, "at least one port of a thread")
        found[thread] = found.get(thread, 0) + int(number or 1)
    return tuple(Port(thread, count) for thread, count in found.items())


def _properties(sheet: Sheet, row: SheetRow, kind: str, faults: Faults) -> dict[str, str]:
    known = KINDS[kind].properties if kind in KINDS else {}
    found: dict[str, str] = {}
    for name in PROPERTIES:
        text = row.cells.get(name)
        if text is None:
            continue
        if name in known:
            try:
                found[name] = known[name].read(text)
            except ValueError as error:
                faults.add(sheet.file, row.line, name, text, str(error))
        elif kind in KINDS or (not kind and "kind" in sheet.columns):
            whose = f"a {kind}" if kind else "an item without a kind"
            faults.add(sheet.file, row.line, name, text, f"nothing here: {whose} has no {name}")
        elif not kind:
            sheet.missing(row, "kind", "a kind", faults)
    if kind in KINDS and (wrong := KINDS[kind].together(found)):
        name, expected = wrong
        faults.add(sheet.file, row.line, name, row.cells.get(name), expected)
    return found


def _check_codes(file: str, row: SheetRow, item: Item, owners: dict[str, str], faults: Faults) -> None:
    for code in item.codes:
        if expected := _gtin_fault(code):
            faults.add(file, row.line, "codes", code, expected)
        # Zeros in front make a longer GTIN of a shorter one: it is the same code.
        first = owners.setdefault(code.zfill(14) if _is_gtin(code) else code, item.number)
        if first != item.number:
            faults.add(file, row.line, "codes", code, f"a code that is on one item only ({first} has it)")


def _is_gtin(code: str) -> bool:
    return code.isascii() and code.isdigit() and len(code) in (8, 12, 13, 14)


def _gtin_fault(code: str) -> str | None:
    """What was expected of a code of GTIN form (8, 12, 13 or 14 digits; GS1 General Specifications, 7.9)."""
    if not _is_gtin(code):
        return None
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(code[:-1])))
    digit = str(-total % 10)
    return None if code[-1] == digit else f"a check digit of {digit} ({code[:-1]}{digit}), or another form of code"
