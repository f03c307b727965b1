"""Plates of components: what a catalogue's plates.csv says of the number on one, as seen.

Whoever reads a plate stands before the component, so its statements are *seen*: they outrank papers and VIN.
"""

from collections.abc import Sequence
from fnmatch import fnmatchcase
from typing import Final

import msgspec

from kitbuilder.errors import WrongUse, offered
from kitbuilder.model.catalogue import Condition
from kitbuilder.vehicle.pattern import bare
from kitbuilder.vehicle.statements import SEEN, Statement

_MOST_TOLD: Final = 6


class PlatePattern(msgspec.Struct, frozen=True, omit_defaults=True):
    """A row of plates.csv: plates of a component with numbers of a pattern, and the facts that they tell, as cells.
    `written` is the pattern as it stands in the file."""

    component: str
    pattern: str
    cells: tuple[Condition, ...]
    row: int
    written: str = ""
    note: str = ""

    def matches(self, number: str) -> bool:
        """Whether it speaks of a plate's number, however that is typed."""
        return fnmatchcase(bare(number), self.pattern)


def of_plates(patterns: Sequence[PlatePattern], plates: Sequence[str]) -> list[Statement]:
    """What plates say, each given as COMPONENT=NUMBER, by all rows that match.

    Raises WrongUse for an unknown component, and for a number that no row matches: it is misread, or the catalogue
    doesn't know the component that is fitted, and in both cases a kit without it would look surer than it is.
    """
    return [one for plate in plates for one in _of_plate(patterns, plate)]


def _of_plate(patterns: Sequence[PlatePattern], plate: str) -> list[Statement]:
    component, sign, number = (part.strip() for part in plate.partition("="))
    if not sign or not bare(number):
        raise WrongUse(f"--plate {plate!r} lacks a number. Expected --plate COMPONENT=NUMBER, the number as it stands "
                       "on the component's type plate.")
    if not patterns:
        raise WrongUse("The catalogue has no plates.csv, so a plate tells nothing. Use --seen for what you have seen.")
    known = [one for one in patterns if one.component == component]
    if not known:
        names = sorted({one.component for one in patterns})
        raise WrongUse(f"The catalogue knows no plates of a component {component!r}. {offered(component, names)}")
    rows = [one for one in known if one.matches(number)]
    if not rows:
        raise WrongUse(f"No pattern of plates.csv for {component} matches {number!r}. It has {_told(known)}. "
                       "Read the plate again, or use --seen for what you have seen.")
    place = f"plate {component} {number}, plates.csv line"
    return [Statement(cell.fact, cell.cell, SEEN, f"{place} {one.row}") for one in rows for cell in one.cells]


def _told(known: Sequence[PlatePattern]) -> str:
    words = [f"{one.written} ({one.note})" if one.note else one.written for one in known[:_MOST_TOLD]]
    more = len(known) - len(words)
    return "; ".join(words) + (f"; and {more} more" if more else "")
