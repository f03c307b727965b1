"""What is known of a fact, or of facts that tables join, as the bits of the regions that it leaves (see lines.py)."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final, NamedTuple

from kitbuilder.vehicle.facts import DAYS, LISTED, NUMBERS, Fact
from kitbuilder.vehicle.values import Values, both
from kitbuilder.vehicle.worlds import Cell

#: So many answers are kept for each joint.
_KEPT: Final = 20_000


class Told(NamedTuple):
    """What values of a fact leave: regions, boxes of the fact's joint, and the cells that the values are of."""

    fact: int
    regions: int
    boxes: int
    cells: tuple[Cell, ...]
    values: Values


class PartedFact:
    """A fact as the regions part it: its cells, and which of them a value is in."""

    def __init__(self, number: int, fact: Fact, cells: Sequence[Cell]) -> None:
        self.number, self.fact, self.cells = number, fact, tuple(cells)
        runs = sorted((first, last, cell) for cell in cells for first, last in cell.values)
        self._starts = [first for first, _, _ in runs]
        self._runs = runs
        self._single = {id(cell): Told(number, cell.rows, cell.boxes, (cell,), cell.values) for cell in cells}
        self.said: dict[str, Told] = {}
        if fact.kind == LISTED:
            self.said = {word: found for place, word in enumerate(fact.values) if (found := self._at(place))}

    def read(self, text: str) -> Told | None:
        """What a cell leaves; None if that is nothing, or if it can't be read."""
        fact = self.fact
        if fact.kind == DAYS and len(text) == 10 and text[4] == text[7] == "-" and text.isascii():
            try:
                place = date.fromisoformat(text).toordinal() - fact.first
            except ValueError:
                place = -1
            if 0 <= place < fact.size:
                return self._at(place)
        elif fact.kind == NUMBERS and text.isdigit() and text.isascii() and len(text) < 16 and (
                text[0] != "0" or text == "0"):
            place = int(text) - fact.first
            if 0 <= place < fact.size:
                return self._at(place)
        try:
            return self.told(fact.read(text)) if text.strip() else None
        except ValueError:
            return None

    def told(self, values: Values) -> Told | None:
        """What some values leave; None if nothing."""
        if len(values) == 1 and values[0][0] == values[0][1]:
            return self._at(values[0][0])
        cells = tuple(cell for cell in self.cells if both(cell.values, values))
        if not cells:
            return None
        left = boxes = 0
        for cell in cells:
            left |= cell.rows
            boxes |= cell.boxes
        return Told(self.number, left, boxes, cells, values)

    def _at(self, place: int) -> Told | None:
        at = bisect_right(self._starts, place) - 1
        if at < 0 or self._runs[at][1] < place:
            return None
        return self._single[id(self._runs[at][2])]


class JoinedFacts:
    """A joint: the facts of it that regions name, and for each box what it leaves of them."""

    def __init__(self, boxes: int, named: Sequence[PartedFact]) -> None:
        self.boxes, self.named = boxes, tuple(named)
        self._within: dict[int, dict[int, int]] = {}
        self._known: dict[tuple[int, tuple[tuple[int, Values | None], ...]], int] = {}

    def left(self, told: Mapping[int, Told], alive: int, every: int) -> int:
        """The regions that have a world left in the boxes that are alive, as far as this joint's facts go."""
        open_: list[tuple[PartedFact, Told | None]] = []
        for fact in self.named:
            one = told.get(fact.number)
            if one is None or len(one.cells) > 1:
                open_.append((fact, one))
            else:
                every &= one.regions
        if not open_ or not every:
            return every
        key = alive, tuple((fact.number, one and one.values) for fact, one in open_)
        found = self._known.get(key)
        if found is None:
            if len(self._known) >= _KEPT:
                self._known.clear()
            found = self._known[key] = self._open(open_, alive)
        return every & found

    def _open(self, open_: Sequence[tuple[PartedFact, Told | None]], alive: int) -> int:
        if len(open_) == 1:
            fact, one = open_[0]
            found = 0
            for cell in fact.cells if one is None else one.cells:
                if cell.boxes & alive:
                    found |= cell.rows
            return found
        found = 0
        # within one box the facts are free of each other
        while alive:
            box = alive & -alive
            alive ^= box
            inside = -1
            for fact, one in open_:
                inside &= self._inside(fact, box) if one is None else _within(one.cells, box)
            found |= inside
        return found

    def _inside(self, fact: PartedFact, box: int) -> int:
        known = self._within.setdefault(fact.number, {})
        found = known.get(box)
        if found is None:
            found = known[box] = _within(fact.cells, box)
        return found


def _within(cells: Sequence[Cell], box: int) -> int:
    found = 0
    for cell in cells:
        if cell.boxes & box:
            found |= cell.rows
    return found
