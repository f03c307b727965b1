"""The lines of a role by the bits of its regions that are left (see lines.py)."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from typing import Final, NamedTuple

from kitbuilder.kit.due import DueRole
from kitbuilder.kit.group import Group
from kitbuilder.kit.regions import Regions, Row, Turn, turn
from kitbuilder.model.catalogue import Key
from kitbuilder.vehicle.worlds import Worlds

#: So many answers are kept for each place.
_KEPT: Final = 20_000
_TOGETHER: Final = 8


class LineFound(NamedTuple):
    """A line: its stage, its role's name, its key, whether all open worlds have it, and the rows that bring it."""

    stage: str
    role: str
    key: Key
    certain: bool
    rows: tuple[Row, ...]


class Place:
    """A role's place in the answer: its bytes among the regions, and the lines of what may be left of it."""

    __slots__ = ("_first", "_known", "_order", "_parts", "_role", "end", "get", "start")

    def __init__(self, role: str, start: int, some: Sequence[Regions], order: Mapping[str, int]) -> None:
        self._role, self.start, self._parts, self._order = role, start, tuple(some), order
        self.end = start + (sum(len(one.boxes) for one in some) + 7) // 8
        self._known: dict[bytes, tuple[LineFound, ...]] = {}
        self.get = self._known.get

    def lines(self, left: bytes) -> tuple[LineFound, ...]:
        """The lines where these regions are left."""
        if len(self._known) >= _KEPT:
            self._known.clear()
        bits = int.from_bytes(left, "little")
        found: list[LineFound] = []
        for one in self._parts:
            turns = {one.turn_of[bit] for bit in _bits(bits & (1 << len(one.boxes)) - 1)}
            bits >>= len(one.boxes)
            found += _lines(self._role, [one.turns[number] for number in turns])
        found.sort(key=lambda line: (self._order[line.stage], line.key.order))
        self._known[left] = answer = tuple(found)
        return answer


def _bits(mask: int) -> Iterator[int]:
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def few(some: Sequence[Regions]) -> Iterator[list[Regions]]:
    """Parts of a role that have nothing to do with each other, a few at a time: so few that all that may be left of
    them is soon known."""
    together: list[Regions] = []
    for one in some:
        if together and sum(len(part.boxes) for part in (*together, one)) > _TOGETHER:
            yield together
            together = []
        together.append(one)
    if together:
        yield together


def _lines(role: str, turns: Sequence[Turn]) -> Iterator[LineFound]:
    """The lines of a role that may turn out so."""
    rows: dict[tuple[str, Key], set[Row]] = {}
    times: dict[tuple[str, Key], int] = {}
    for one in turns:
        for line, brought in one.lines:
            rows.setdefault(line, set()).update(brought)
            times[line] = times.get(line, 0) + 1
    for (stage, key), brought_ in rows.items():
        yield LineFound(stage, role, key, times[stage, key] == len(turns), tuple(sorted(brought_)))


class HardPlace:
    """The place of a role whose regions are too many: the boxes of its own rows stand among the regions. Where the
    facts that they name are settled these say all; else its worlds are walked."""

    __slots__ = ("_known", "end", "named", "role", "start")

    def __init__(self, role: DueRole, start: int) -> None:
        self.role, self.start, self.named = role, start, role.named
        self.end = start + (len(role.rows) + 7) // 8
        self._known: dict[int, tuple[LineFound, ...]] = {}

    def lines(self, left: bytes, settled: Set[int], worlds: Callable[[], Worlds]) -> tuple[LineFound, ...]:
        """The lines where these rows are left, and these facts are settled."""
        masks: Set[int] = {int.from_bytes(left, "little")}
        if not self.named <= settled:
            masks = Group(worlds(), [self.role]).weights.keys()
        if len(masks) > 1:
            return self._of(masks)
        (mask,) = masks
        found = self._known.get(mask)
        if found is None:
            if len(self._known) >= _KEPT:
                self._known.clear()
            found = self._known[mask] = self._of(masks)
        return found

    def _of(self, masks: Iterable[int]) -> tuple[LineFound, ...]:
        turns = {turn(self.role, self.role.outcome(mask)) for mask in masks}
        return tuple(sorted(_lines(self.role.role.name, list(turns)), key=lambda line: (line.stage, line.key.order)))
