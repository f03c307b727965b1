"""Combinations tables: which values of several facts occur together, and how often.

A row is a box: a set of values for some facts, any value for the rest. Tables that share facts are
joined: every non-empty intersection of one row from each is a box of the join, and a world agrees
with the tables if it lies in one of them. Such a join is a `Joint`.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import msgspec

from kitbuilder.vehicle.values import Values, both

Box = dict[int, Values]
"""A set of worlds: for the facts it names (by number), the values that they may have."""

MOST_BOXES = 10_000


class Row(msgspec.Struct, frozen=True):
    """One row of a table: where it stands, its box, and its share as numerator and denominator."""

    row: int
    box: Box
    share: tuple[int, int] | None = None


class Table(msgspec.Struct, frozen=True):
    """A combinations table: its file and its rows; `facts` are the numbers of its columns."""

    file: str
    facts: tuple[int, ...]
    rows: tuple[Row, ...]


class Joint(msgspec.Struct, frozen=True):
    """Tables that share facts, joined.

    `facts` in the order of facts.toml; `weights[i]` is the weight of each world in box i, a whole
    number written in decimal (weights are compared only within one joint; boxes that overlap have
    one weight). `marks[k]` is for the k-th fact the places at which boxes begin or end: at
    `(place, mask)` the boxes of the mask (hexadecimal, one bit a box) are entered or left.
    """

    facts: tuple[int, ...]
    files: tuple[str, ...]
    boxes: tuple[Box, ...]
    weights: tuple[str, ...]
    marks: tuple[tuple[tuple[int, str], ...], ...]


class TableFault(ValueError):
    """Tables that can't be joined; `files` are the tables, the text says what was expected."""

    def __init__(self, files: Sequence[str], expected: str, row: int = 0) -> None:
        super().__init__(expected)
        self.files, self.row = tuple(files), row


def meet(one: Mapping[int, Values], other: Mapping[int, Values]) -> Box | None:
    """The worlds in both boxes, or None if there are none."""
    box = dict(one)
    for fact, values in other.items():
        if fact in box:
            values = both(box[fact], values)
            if not values:
                return None
        box[fact] = values
    return box


def clusters(tables: Sequence[Table]) -> list[list[Table]]:
    """The tables, put together where they share facts, straight or through others."""
    groups: list[tuple[set[int], list[Table]]] = []
    for table in tables:
        facts, members = set(table.facts), [table]
        rest = []
        for group in groups:
            if group[0] & facts:
                facts |= group[0]
                members = group[1] + members
            else:
                rest.append(group)
        groups = [*rest, (facts, members)]
    return [sorted(members, key=lambda table: table.file) for _, members in groups]


def join(tables: Sequence[Table], sizes: Sequence[int]) -> Joint:
    """The join of tables that share facts; `sizes` are the sizes of all facts' domains.

    Raises TableFault: more than 10,000 boxes, more than one table with shares, rows with shares that
    overlap, a row with a share and no world.
    """
    files = tuple(table.file for table in tables)
    shared = [table for table in tables if table.rows and table.rows[0].share is not None]
    if len(shared) > 1:
        raise TableFault([t.file for t in shared], "a column 'share' in one of the joined tables at most")
    boxes = list(_intersections(tables))
    if len(boxes) > MOST_BOXES:
        raise TableFault(files, f"tables whose join has at most {MOST_BOXES:,} combinations of rows")
    facts = tuple(sorted({fact for table in tables for fact in table.facts}))
    weights = ["1"] * len(boxes)
    if shared:
        weights = _weights(tables.index(shared[0]), shared[0], boxes, facts, sizes)
    plain = tuple(box for box, _ in boxes)
    return Joint(facts, files, plain, tuple(weights), tuple(_marks(fact, plain, sizes[fact]) for fact in facts))


def even_joint(facts: tuple[int, ...], files: tuple[str, ...], boxes: tuple[Box, ...], sizes: Sequence[int]) -> Joint:
    """The worlds of some boxes over `facts`, all of one weight."""
    return Joint(facts, files, boxes, ("1",) * len(boxes), tuple(_marks(fact, boxes, sizes[fact]) for fact in facts))


def _intersections(tables: Sequence[Table]) -> Iterator[tuple[Box, tuple[int, ...]]]:
    """Non-empty intersections of one row from each table, with the rows' places; one more than allowed at most."""
    found: list[tuple[Box, tuple[int, ...]]] = []
    near = [_Near(table) for table in tables]

    def extend(at: int, box: Box, chosen: tuple[int, ...]) -> None:
        if len(found) > MOST_BOXES:
            return
        if at == len(tables):
            found.append((box, chosen))
            return
        for place in near[at].places(box):
            met = meet(box, tables[at].rows[place].box)
            if met is not None and all(met.values()):
                extend(at + 1, met, (*chosen, place))

    extend(0, {}, ())
    yield from found


class _Near:
    """Finds the rows of a table that a box may meet, so that not every row is tried.

    For each fact the rows (one bit a row) by where their values begin, and by where they end: those that begin no later
    than a run ends, and don't end before it begins, are near.
    """

    def __init__(self, table: Table) -> None:
        self._every = (1 << len(table.rows)) - 1
        self._facts: dict[int, tuple[list[int], list[int], list[int], list[int], int]] = {}
        for fact in {fact for row in table.rows for fact in row.box}:
            hulls = [(row.box[fact][0][0], row.box[fact][-1][1], 1 << place)
                     for place, row in enumerate(table.rows) if row.box.get(fact)]
            named = sum(1 << place for place, row in enumerate(table.rows) if fact in row.box)
            begins, begun = _sums(sorted((first, bit) for first, _, bit in hulls))
            ends, ended = _sums(sorted((last, bit) for _, last, bit in hulls))
            self._facts[fact] = begins, begun, ends, ended, self._every & ~named

    def places(self, box: Mapping[int, Values]) -> Iterator[int]:
        """The places of the rows that may meet a box, in order."""
        near = self._every
        for fact, values in box.items():
            if fact in self._facts:
                begins, begun, ends, ended, free = self._facts[fact]
                for first, last in values:
                    free |= begun[bisect_right(begins, last)] & ~ended[bisect_left(ends, first)]
                near &= free
        while near:
            bit = near & -near
            near ^= bit
            yield bit.bit_length() - 1


def _sums(marked: Sequence[tuple[int, int]]) -> tuple[list[int], list[int]]:
    """The places in order, and the bits of the first so many of them."""
    sums = [0]
    for _, bit in marked:
        sums.append(sums[-1] | bit)
    return [place for place, _ in marked], sums


def _weights(which: int, table: Table, boxes: Sequence[tuple[Box, tuple[int, ...]]],
             facts: Sequence[int], sizes: Sequence[int]) -> list[str]:
    near = _Near(table)
    for i, one in enumerate(table.rows):
        for j in near.places(one.box):
            other = table.rows[j]
            met = meet(one.box, other.box) if j > i else None
            if met is not None and all(met.values()):
                raise TableFault([table.file], f"rows that don't overlap; this one overlaps line {one.row}", other.row)
    from fractions import Fraction
    from math import lcm

    each: list[Fraction] = []
    of_row: dict[int, list[Box]] = {}
    for box, chosen in boxes:
        of_row.setdefault(chosen[which], []).append(box)
    for place, row in enumerate(table.rows):
        inside = of_row.get(place, [])
        worlds = _size(inside, facts, sizes)
        if not worlds:
            raise TableFault([table.file], "a row with a share that some vehicle can match", row.row)
        assert row.share is not None
        each.append(Fraction(*row.share) / worlds)
    scale = lcm(*(weight.denominator for weight in each))
    return [str(int(each[chosen[which]] * scale)) for _, chosen in boxes]


def _size(boxes: Sequence[Box], facts: Sequence[int], sizes: Sequence[int]) -> int:
    """How many worlds over `facts` lie in at least one of the boxes."""
    counts: dict[tuple[int, ...], int] = {tuple(range(len(boxes))): 1} if boxes else {}
    for fact in facts:
        cuts = sorted({0, sizes[fact]} | {
            at for box in boxes for first, last in box.get(fact, ()) for at in (first, last + 1)})
        after: dict[tuple[int, ...], int] = {}
        for start, end in pairwise(cuts):
            here = {i for i, box in enumerate(boxes) if fact not in box
                    or any(first <= start <= last for first, last in box[fact])}
            for alive, worlds in counts.items():
                left = tuple(i for i in alive if i in here)
                if left:
                    after[left] = after.get(left, 0) + worlds * (end - start)
        counts = after
    return sum(counts.values())


def _marks(fact: int, boxes: Sequence[Box], size: int) -> tuple[tuple[int, str], ...]:
    toggled: dict[int, int] = {}
    for number, box in enumerate(boxes):
        for first, last in box.get(fact, ((0, size - 1),)):
            toggled[first] = toggled.get(first, 0) ^ (1 << number)
            toggled[last + 1] = toggled.get(last + 1, 0) ^ (1 << number)
    return tuple((place, f"{mask:x}") for place, mask in sorted(toggled.items()) if place < size)
