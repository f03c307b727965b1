"""Worlds: every vehicle and job that agrees with what is known, counted exactly and never sampled.

A world gives each fact one value. Facts that no table joins are free of each other; a joint (see
tables.py) allows the worlds in its boxes. Boxes given to `spread` (conditions of fits, say) are
bits of a mask; a mask says which of them a world lies in. Values at which the same boxes hold are
walked as one, so the work grows with what is told apart, not with the number of worlds.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Box, Joint
from kitbuilder.vehicle.values import NONE, Values, both, count, union


class Cell:
    """Values of one fact at which the same rows and the same boxes of its joint hold."""

    __slots__ = ("boxes", "rows", "size", "values")

    def __init__(self, values: Values, rows: int, boxes: int) -> None:
        self.values, self.rows, self.boxes = values, rows, boxes
        self.size = count(values)


class Space:
    """All that can exist: the facts and the joints of one edition. Everything else is a part of it."""

    def __init__(self, facts: Sequence[Fact], joints: Sequence[Joint]) -> None:
        self.facts = tuple(facts)
        self.joints = tuple(joints)
        self.number = {fact.name: place for place, fact in enumerate(facts)}
        self.joint_of: dict[int, int] = {}
        self.marks: dict[int, list[tuple[int, int]]] = {}
        self.weights: list[tuple[int, ...] | None] = []
        for at, joint in enumerate(joints):
            for fact, marks in zip(joint.facts, joint.marks, strict=True):
                self.joint_of[fact] = at
                self.marks[fact] = [(place, int(mask, 16)) for place, mask in marks]
            even = len(set(joint.weights)) <= 1
            self.weights.append(None if even else tuple(int(weight) for weight in joint.weights))

    def all(self) -> "Worlds":
        """The worlds with nothing known."""
        boxes = tuple((1 << len(joint.boxes)) - 1 for joint in self.joints)
        return Worlds(self, tuple(fact.everything for fact in self.facts), boxes)


class Worlds:
    """A part of a space: what each fact may be, and which boxes of each joint are left.

    Immutable. A box is left if it has a value for each fact that may still be; so a joint with a box
    left has a world, and values can be told possible or not without walking them.
    """

    __slots__ = ("_counted", "_opened", "_parts", "_weighed", "boxes", "space", "values")

    def __init__(self, space: Space, values: tuple[Values, ...], boxes: tuple[int, ...]) -> None:
        self.space, self.values, self.boxes = space, values, boxes
        self._opened: dict[int, Values] = {}
        self._parts: dict[int, list[tuple[int, int, int]]] = {}
        self._counted: dict[int, list[tuple[int, int]]] = {}
        self._weighed: dict[tuple[tuple[int, ...], int], int] = {}

    @property
    def empty(self) -> bool:
        """Whether no world is left."""
        return not all(self.values) or not all(self.boxes)

    def where(self, fact: int, values: Values) -> "Worlds":
        """The worlds of these in which the fact has one of `values`."""
        kept = both(self.values[fact], values)
        if kept == self.values[fact]:
            return self
        every = (*self.values[:fact], kept, *self.values[fact + 1:])
        boxes = self.boxes
        at = self.space.joint_of.get(fact)
        if at is not None:
            left = 0
            for _, _, inside in self._part(fact, kept):
                left |= inside
            boxes = (*boxes[:at], left, *boxes[at + 1:])
        return Worlds(self.space, every, boxes)

    def within(self, box: Mapping[int, Values]) -> "Worlds":
        """The worlds of these that lie in a box."""
        worlds = self
        for fact, values in box.items():
            worlds = worlds.where(fact, values)
        return worlds

    def opened(self, fact: int) -> Values:
        """The values that the fact has in some world."""
        found = self._opened.get(fact)
        if found is None:
            if self.empty:
                found = NONE
            elif fact not in self.space.joint_of:
                found = self.values[fact]
            else:
                found = union((first, last) for first, last, _ in self._runs(fact))
            self._opened[fact] = found
        return found

    def settled(self, fact: int) -> bool:
        """Whether the fact has the same value in all worlds."""
        opened = self.opened(fact)
        return len(opened) == 1 and opened[0][0] == opened[0][1]

    def _runs(self, fact: int) -> list[tuple[int, int, int]]:
        """The fact's values in runs at which the same boxes of its joint are left: first, last, boxes."""
        found = self._parts.get(fact)
        if found is None:
            found = self._parts[fact] = list(self._part(fact, self.values[fact]))
        return found

    def _part(self, fact: int, values: Values) -> Iterator[tuple[int, int, int]]:
        at = self.space.joint_of.get(fact)
        if at is None:
            yield from ((first, last, 1) for first, last in values)
            return
        alive, marks = self.boxes[at], self.space.marks[fact]
        boxes = step = 0
        for first, last in values:
            while first <= last:
                while step < len(marks) and marks[step][0] <= first:
                    boxes ^= marks[step][1]
                    step += 1
                end = min(last, marks[step][0] - 1) if step < len(marks) else last
                if boxes & alive:
                    yield first, end, boxes & alive
                first = end + 1

    def _cells(self, fact: int, toggles: Mapping[int, int], base: int) -> list[Cell]:
        """The fact's values, parted by the rows (as toggles: place to the rows entered or left there) and boxes."""
        places = sorted(toggles)
        found: dict[tuple[int, int], list[tuple[int, int]]] = {}
        rows, step = base, 0
        for first, last, boxes in self._runs(fact):
            while first <= last:
                while step < len(places) and places[step] <= first:
                    rows ^= toggles[places[step]]
                    step += 1
                end = min(last, places[step] - 1) if step < len(places) else last
                found.setdefault((rows, boxes), []).append((first, end))
                first = end + 1
        return [Cell(union(runs), rows, boxes) for (rows, boxes), runs in found.items()]

    def cells(self, rows: Sequence[Box], facts: Iterable[int]) -> dict[int, list[Cell]]:
        """For each fact its possible values, parted by `rows` and by its joint's boxes, in order of first value."""
        everything = (1 << len(rows)) - 1
        parted: dict[int, list[Cell]] = {}
        for fact in facts:
            toggles: dict[int, int] = {}
            naming = 0
            for number, row in enumerate(rows):
                values = row.get(fact)
                if values is not None:
                    bit = 1 << number
                    naming |= bit
                    for first, last in values:
                        toggles[first] = toggles.get(first, 0) ^ bit
                        toggles[last + 1] = toggles.get(last + 1, 0) ^ bit
            parted[fact] = self._cells(fact, toggles, everything & ~naming)
        return parted

    def spread(self, rows: Sequence[Box], by: int | None = None) -> dict[int, dict[int, int]]:
        """How much weight lies under which rows: for each part of fact `by` (one part without it), mask to weight.

        The weights of one answer may be compared with each other; facts that have no bearing on the
        rows are left out of them.
        """
        named = {fact for row in rows for fact in row}
        if by is not None:
            named.add(by)
        parted = self.cells(rows, named)
        states: dict[tuple[int, int], int] = {(0, (1 << len(rows)) - 1): 1}
        joints = sorted({self.space.joint_of[fact] for fact in named if fact in self.space.joint_of})
        for fact in sorted(named):
            if fact not in self.space.joint_of:
                states = self._walk(states, parted[fact], fact == by)
        for at in joints:
            states = self._walk_joint(states, at, parted, by)
        answer: dict[int, dict[int, int]] = {}
        for (part, mask), weight in states.items():
            answer.setdefault(part, {})[mask] = weight
        return answer

    @staticmethod
    def _walk(states: dict[tuple[int, int], int], cells: Sequence[Cell], tag: bool) -> dict[tuple[int, int], int]:
        after: dict[tuple[int, int], int] = {}
        for number, cell in enumerate(cells):
            size = cell.size
            for (part, mask), weight in states.items():
                key = (number if tag else part, mask & cell.rows)
                after[key] = after.get(key, 0) + weight * size
        return after

    def _walk_joint(self, states: dict[tuple[int, int], int], at: int, parted: Mapping[int, Sequence[Cell]],
                    by: int | None) -> dict[tuple[int, int], int]:
        paths: dict[tuple[int, int, int], int] = {(-1, -1, self.boxes[at]): 1}
        rest = []
        for fact in self.space.joints[at].facts:
            if fact not in parted:
                rest.append(fact)
                continue
            after: dict[tuple[int, int, int], int] = {}
            for number, cell in enumerate(parted[fact]):
                size = cell.size
                for (part, rows, boxes), weight in paths.items():
                    left = boxes & cell.boxes
                    if left:
                        key = (number if fact == by else part, rows & cell.rows, left)
                        after[key] = after.get(key, 0) + weight * size
            paths = after
        weigh, left_over = self._weigh, tuple(rest)
        within: dict[tuple[int, int], int] = {}
        for (part, rows, boxes), weight in paths.items():
            within[part, rows] = within.get((part, rows), 0) + weight * weigh(at, left_over, boxes)
        joined: dict[tuple[int, int], int] = {}
        for (part, mask), weight in states.items():
            for (inner, rows), more in within.items():
                place = (inner if inner >= 0 else part, mask & rows)
                joined[place] = joined.get(place, 0) + weight * more
        return joined

    def _sizes(self, fact: int) -> list[tuple[int, int]]:
        """For each set of boxes left at some of the fact's values: how many values these are, and the boxes."""
        found = self._counted.get(fact)
        if found is None:
            sizes: dict[int, int] = {}
            for first, last, boxes in self._runs(fact):
                sizes[boxes] = sizes.get(boxes, 0) + last - first + 1
            found = self._counted[fact] = [(size, boxes) for boxes, size in sizes.items()]
        return found

    def _weigh(self, at: int, rest: tuple[int, ...], boxes: int) -> int:
        """The weight of the worlds over facts `rest` that lie in the boxes of a mask."""
        if not rest:
            weights = self.space.weights[at]
            return 1 if weights is None else weights[(boxes & -boxes).bit_length() - 1]
        key = (rest, boxes)
        total = self._weighed.get(key)
        if total is None:
            total, after = 0, rest[1:]
            for size, inside in self._sizes(rest[0]):
                left = boxes & inside
                if left:
                    total += size * self._weigh(at, after, left)
            self._weighed[key] = total
        return total

    def masks(self, rows: Sequence[Box]) -> set[int]:
        """The masks of rows that hold together in some world."""
        if self.empty:
            return set()
        return set(self.spread(rows)[0])

    def first(self, rows: Sequence[Box], wanted: Callable[[int], bool]) -> dict[str, str] | None:
        """The first world (facts in order, values in order) under whose rows `wanted` is true, or None."""
        if not any(wanted(mask) for mask in self.masks(rows)):
            return None
        named = {fact for row in rows for fact in row}
        touched = {self.space.joint_of[fact] for fact in named if fact in self.space.joint_of}
        worlds = self
        for number in range(len(self.space.facts)):
            if number in named or self.space.joint_of.get(number) in touched:
                places = [cell.values[0][0] for cell in worlds.cells(rows, [number])[number]]
            else:
                places = [worlds.opened(number)[0][0]]
            for place in places:
                narrowed = worlds.where(number, ((place, place),))
                if any(wanted(mask) for mask in narrowed.masks(rows)):
                    worlds = narrowed
                    break
        return {
            fact.name: fact.value(worlds.values[number][0][0]) for number, fact in enumerate(self.space.facts)
        }
