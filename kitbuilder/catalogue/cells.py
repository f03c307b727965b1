"""Reads cells that speak of facts, and checks decimals that are written with a comma."""

import re
from collections.abc import Mapping, Sequence
from typing import Final

from kitbuilder.catalogue.columns import NAMES_KEPT
from kitbuilder.catalogue.faults import Faults
from kitbuilder.model.catalogue import Box
from kitbuilder.vehicle.facts import CellError, Fact
from kitbuilder.vehicle.values import Values

_COMMA: Final = re.compile(r"(-?[0-9]+),([0-9]+)")


class CellReader:
    """Reads the cells of fact columns; the same words mean the same set, so each is read once."""

    def __init__(self, facts: Sequence[Fact], faults: Faults) -> None:
        # A fact that is wrongly named like a column must not be taken for that column.
        self.numbers = {fact.name: number for number, fact in enumerate(facts) if fact.name not in NAMES_KEPT}
        self._facts, self._faults = facts, faults
        self._known: dict[tuple[int, str], Values | str] = {}

    def box(self, file: str, row: int, cells: Mapping[str, str], column: str = "") -> Box:
        """The box that some cells make together; what can't be read is noted and left out."""
        box: Box = {}
        for name, text in cells.items():
            number = self.numbers[name]
            values = self._known.get((number, text))
            if values is None:
                values = self._known[number, text] = self._read(self._facts[number], text)
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


def comma(text: str) -> str | None:
    """What was expected of a number that is right but for its decimal comma, else None."""
    found = _COMMA.fullmatch(text)
    return f"a decimal point: {found[1]}.{found[2]}" if found else None
