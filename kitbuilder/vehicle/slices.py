"""What something hangs on: the fewest facts that decide it, and at which of their values it is so.

The worlds are folded into a diagram over the facts that the rows name, in the order of facts.toml:
a node for each different future, an edge for each part of a fact's values, a leaf for each mask of
rows. "Something" is a set of masks (see worlds.py).
"""

from collections.abc import Iterable, Sequence
from itertools import combinations

from kitbuilder.vehicle.tables import Box
from kitbuilder.vehicle.values import Values, union
from kitbuilder.vehicle.worlds import Cell, Worlds

Branch = dict[int, Values]
_Tree = tuple[tuple[Values, "_Tree"], ...]
_IN: _Tree = ()


class Slices:
    """The diagram of some worlds under some rows."""

    def __init__(self, worlds: Worlds, rows: Sequence[Box], named: Iterable[int]) -> None:
        self.facts = sorted(named)
        self.free = [fact for fact in self.facts if not worlds.settled(fact)]
        self._parted = worlds.cells(rows, self.facts)
        self._edges: list[tuple[int | None, ...]] = []
        self._mask: dict[int, int] = {}
        self._blocks: dict[tuple[int, ...], list[frozenset[int]]] = {}
        joints = sorted({worlds.space.joint_of[f] for f in self.facts if f in worlds.space.joint_of})
        slots = {at: slot for slot, at in enumerate(joints)}
        slot_of = [slots.get(worlds.space.joint_of.get(fact, -1)) for fact in self.facts]
        unique: dict[tuple[int | None, ...], int] = {}
        known: dict[tuple[int, int, tuple[int, ...]], int] = {}

        def fold(level: int, mask: int, boxes: tuple[int, ...]) -> int:
            key = (level, mask, boxes)
            if key in known:
                return known[key]
            if level == len(self.facts):
                edges: tuple[int | None, ...] = (-1 - mask,)
            else:
                children: list[int | None] = []
                slot = slot_of[level]
                for cell in self._parted[self.facts[level]]:
                    left = boxes
                    if slot is not None:
                        met = boxes[slot] & cell.boxes
                        if not met:
                            children.append(None)
                            continue
                        left = (*boxes[:slot], met, *boxes[slot + 1:])
                    children.append(fold(level + 1, mask & cell.rows, left))
                edges = (level, *children)
            node = unique.get(edges)
            if node is None:
                node = unique[edges] = len(self._edges)
                self._edges.append(edges if level == len(self.facts) else edges[1:])
                if level == len(self.facts):
                    self._mask[node] = mask
            known[key] = node
            return node

        self._root = fold(0, (1 << len(rows)) - 1, tuple(worlds.boxes[at] for at in joints))

    def decides(self, facts: tuple[int, ...], inside: frozenset[int]) -> bool:
        """Whether the values of these facts decide if a world's mask is one of `inside`."""
        blocks = self._blocks.get(facts)
        if blocks is None:
            sets = {frozenset({self._root})}
            for level, fact in enumerate(self.facts):
                if fact in facts:
                    parts = range(len(self._parted[fact]))
                    sets = {self._step(nodes, (part,)) for nodes in sets for part in parts} - {frozenset()}
                else:
                    sets = {self._step(nodes, range(len(self._parted[self.facts[level]]))) for nodes in sets}
            blocks = self._blocks[facts] = [frozenset(self._mask[leaf] for leaf in nodes) for nodes in sets]
        return all(masks <= inside or not masks & inside for masks in blocks)

    def _step(self, nodes: frozenset[int], parts: Iterable[int]) -> frozenset[int]:
        return frozenset(
            child for part in parts for node in nodes if (child := self._edges[node][part]) is not None
        )

    def fewest(self, inside: frozenset[int]) -> tuple[int, ...]:
        """The smallest set of facts that decides it, the first in facts.toml order among equals."""
        for size in range(len(self.free) + 1):
            for facts in combinations(self.free, size):
                if self.decides(facts, inside):
                    return facts
        raise AssertionError("all named facts together always decide")

    def branches(self, facts: tuple[int, ...], inside: frozenset[int]) -> list[Branch]:
        """At which values of the facts that decide it, it is so; values that lead to the same are merged."""
        known: dict[tuple[int, frozenset[int]], _Tree | None] = {}

        def slice_(level: int, nodes: frozenset[int]) -> _Tree | None:
            if level == len(self.facts):
                return _IN if any(self._mask[leaf] in inside for leaf in nodes) else None
            key = (level, nodes)
            if key in known:
                return known[key]
            fact = self.facts[level]
            cells: list[Cell] = self._parted[fact]
            result: _Tree | None
            if fact not in facts:
                result = slice_(level + 1, self._step(nodes, range(len(cells))))
            else:
                merged: dict[_Tree, list[tuple[int, int]]] = {}
                for part, cell in enumerate(cells):
                    after = self._step(nodes, (part,))
                    below = slice_(level + 1, after) if after else None
                    if below is not None:
                        merged.setdefault(below, []).extend(cell.values)
                result = tuple((union(runs), below) for below, runs in merged.items()) or None
            known[key] = result
            return result

        tree = slice_(0, frozenset({self._root}))
        return [] if tree is None else list(_unfold(tree, facts))


def _unfold(tree: _Tree, facts: Sequence[int]) -> Iterable[Branch]:
    if not facts:
        yield {}
        return
    for values, below in tree:
        for branch in _unfold(below, facts[1:]):
            yield {facts[0]: values, **branch}
