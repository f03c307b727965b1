"""Reads cells that speak of facts, lists of names and days, and checks decimals that are written with a comma."""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final

from kitbuilder.catalogue.columns import NAMES_KEPT
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import SheetRow
from kitbuilder.model.catalogue import Box
from kitbuilder.vehicle.facts import CellError, Fact
from kitbuilder.vehicle.values import Values

_COMMA: Final = re.compile(r"(-?[0-9]+),([0-9]+)")
_DAY: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


class CellReader:
    """Reads the cells of fact columns; the same words mean the same set, so each is read once."""

    def __init__(self, facts: Sequence[Fact], faults: Faults) -> None:
        # A fact that is wrongly named like a column must not be taken for that column.
        self.numbers = {fact.name: number for number, fact in enumerate(facts) if fact.name not in NAMES_KEPT}
        self._facts, self._faults = facts, faults
        self._known: list[dict[str, Values | str]] = [{} for _ in facts]

    def box(self, file: str, row: int, cells: Mapping[str, str], column: str = "") -> Box:
        """The box that some cells make together; what can't be read is noted and left out."""
        box: Box = {}
        for name, text in cells.items():
            number = self.numbers[name]
            known = self._known[number]
            values = known.get(text)
            if values is None:
                values = known[text] = self._read(self._facts[number], text)
            if not isinstance(values, str):
                box[number] = values
            elif not self._faults.excused("fact", name):
                self._faults.add(file, row, column or name, text, values)
        return box

    @staticmethod
    def _read(fact: Fact, text: str) -> Values | str:
        """The set that a cell names, or what was expected instead."""
        try:
            return fact.read(text)
        except CellError as error:
            return str(error)
        except ValueError:  # a number of thousands of digits
            return f"a value of {fact.name}"


def names_in(file: str, row: SheetRow, column: str, faults: Faults) -> tuple[str, ...]:
    """The names of a cell that joins them with `and`; none where the cell is empty, or wrong and so noted."""
    cell = row.cells.get(column)
    if cell is None:
        return ()
    names = tuple(name.strip() for name in re.split(r"\s+and\s+", cell))
    if any("and" in name.split() for name in names):
        faults.add(file, row.line, column, cell, "names with 'and' between them, none with that word in it")
        return ()
    return names


def day_in(file: str, row: SheetRow, column: str, expected: str, faults: Faults) -> date | None:
    """The day of a cell; None where the cell is empty, or wrong and so noted."""
    text = row.cells.get(column)
    if text is None:
        return None
    if _DAY.fullmatch(text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            pass  # a day that no calendar has
    faults.add(file, row.line, column, text, expected)
    return None


def comma(text: str) -> str | None:
    """What was expected of a number that is right but for its decimal comma, else None."""
    found = _COMMA.fullmatch(text)
    return f"a decimal point: {found[1]}.{found[2]}" if found else None
