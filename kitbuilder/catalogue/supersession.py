"""Reads supersession.csv: which item takes the place of which, one for one, and by what rule.

Items may come back to themselves here: that breaks nothing, so it is for the check to remark on.
"""

import re
from collections.abc import Mapping
from datetime import date
from typing import Final

from kitbuilder import amount
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import SUPERSESSION_RULES, Item, Supersession

_WITHDRAWN: Final = "withdrawn"
_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def read_supersessions(sheet: Sheet, items: Mapping[str, Item], faults: Faults) -> dict[str, Supersession]:
    """The supersessions by the old item's number, in the order of the file. A chain (A by B, B by C) is fine."""
    found: dict[str, Supersession] = {}
    lines: dict[tuple[str, str], int] = {}
    for row in sheet.rows:
        before = len(faults.found)
        old, new, rule = (row.cells.get(column, "") for column in ("old", "new", "rule"))
        _check_item(sheet, row, "old", items, lines, faults)
        if new or rule != _WITHDRAWN:
            _check_item(sheet, row, "new", items, lines, faults)
        if old in items and new in items:
            _check_pair(sheet.file, row, items[old], items[new], faults)
        since = _since(sheet.file, row, faults)
        if not rule:
            sheet.missing(row, "rule", f"the rule: {', '.join(SUPERSESSION_RULES)}", faults)
        elif rule not in SUPERSESSION_RULES:
            faults.add(sheet.file, row.line, "rule", rule, f"a rule: {one_of(rule, SUPERSESSION_RULES)}")
        if len(faults.found) == before and old in items:
            found[old] = Supersession(
                old, new, since, row.cells.get("note", ""), row.line, rule)  # type: ignore[arg-type]
    return found


def _check_item(sheet: Sheet, row: SheetRow, column: str, items: Mapping[str, Item],
                lines: dict[tuple[str, str], int], faults: Faults) -> None:
    number = row.cells.get(column, "")
    if not number:
        expected = "an item number" if column == "old" else (
            "an item number (or the rule 'withdrawn', where nothing takes its place)")
        sheet.missing(row, column, expected, faults)
    elif number not in items:
        faults.unknown(sheet.file, row.line, column, "item", number, list(items))
    elif (column, number) in lines:
        done = "is superseded" if column == "old" else "takes the place of another"
        line = lines[column, number]
        faults.add(sheet.file, row.line, column, number,
                   f"one item for one: each number once under {column} (by line {line} it {done} already)")
    else:
        lines[column, number] = row.line


def _check_pair(file: str, row: SheetRow, old: Item, new: Item, faults: Faults) -> None:
    if old.number == new.number:
        faults.add(file, row.line, "new", new.number, "another item than the old one")
    elif amount.quantity(old.unit) != amount.quantity(new.unit):
        # one can't be taken for so much of the other
        faults.add(file, row.line, "new", new.number,
                   f"an item whose unit converts to that of {old.number}, {old.unit} ({new.number} has {new.unit})")


def _since(file: str, row: SheetRow, faults: Faults) -> date | None:
    text = row.cells.get("from")
    if text is None:
        return None
    if _DAY.fullmatch(text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            pass  # a day that no calendar has
    faults.add(file, row.line, "from", text, "a day, such as 2026-03-01, or nothing where it has always been so")
    return None
