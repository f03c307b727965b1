"""Reads exchange.csv: what is had against the old unit, and what is asked of the old one."""

import re
from collections.abc import Collection, Mapping
from typing import Final, cast

from kitbuilder.amount import parse_money
from kitbuilder.catalogue.cells import names_in
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.item_rows import item_rows
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import Arrival, Exchange, Item

ARRIVES: Final = ("dry", "filled")
_DAYS: Final = re.compile(r"[0-9]{1,5}")


def read_exchanges(sheet: Sheet, items: Mapping[str, Item], circuits: Collection[str], currency: str,
                   faults: Faults) -> dict[str, Exchange]:
    """The exchange units by number. `circuits` are those that roles name."""
    found = {}
    for row, item in item_rows(sheet, items, faults):
        cells = row.cells
        deposit = _deposit(sheet.file, row, currency, faults)
        days = cells.get("days", "")
        if days and not (_DAYS.fullmatch(days) and int(days)):
            faults.add(sheet.file, row.line, "days", days, "whole days, 1 or more, or nothing where no term is set")
            days = ""
        state = names_in(sheet.file, row, "state", faults)
        arrives = cells.get("arrives", "")
        if arrives and arrives not in ARRIVES:
            faults.add(sheet.file, row.line, "arrives", arrives, one_of(arrives, ARRIVES))
        circuit = _circuit(sheet, row, circuits, faults)
        if item is not None:
            found[item.number] = Exchange(item.number, deposit, int(days or 0), state, cast(Arrival, arrives), circuit,
                                          cells.get("note", ""), row.line)
    return found


def _deposit(file: str, row: SheetRow, currency: str, faults: Faults) -> int:
    text = row.cells.get("deposit")
    if text is None:
        return 0
    try:
        return parse_money(text, currency)
    except ValueError as error:
        faults.add(file, row.line, "deposit", text, str(error))
        return 0


def _circuit(sheet: Sheet, row: SheetRow, circuits: Collection[str], faults: Faults) -> str:
    """The circuit; it and how the unit arrives are told together or not at all."""
    circuit, arrives = row.cells.get("circuit", ""), row.cells.get("arrives", "")
    # a role that couldn't be read may well be of this circuit
    unread = "role" in faults.unread or any(what == "role" for what, _ in faults.broken)
    if circuit and circuit not in circuits and not unread:
        known = sorted(circuits)
        faults.add(sheet.file, row.line, "circuit", circuit,
                   f"a circuit that a role names: {one_of(circuit, known)}" if known else "nothing: no role has one")
    if arrives and not circuit:
        sheet.missing(row, "circuit", "the circuit that the unit arrives dry or filled in", faults)
    if circuit and not arrives:
        sheet.missing(row, "arrives", "dry or filled, where a circuit is named", faults)
    return circuit
