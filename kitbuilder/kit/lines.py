"""The lines of a kit alone (certain or possible, with their rows), many times faster than the whole kit.

For one job type the regions of all its roles (see regions.py) are laid side by side, one bit a region, with one number
a cell of each fact: the bits of the regions that have the cell. What is known picks cells; AND over the facts of OR
over what each may still be leaves the bits of the regions that have a world left. Facts that tables join are put
together box by box of their joint, in which they are free of each other. A line is possible if a region with it is
left, certain if its role has no region left without it. The answer is that of `build_kit`, which also tells what a line
hangs on, its chance, the questions and the problems.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from datetime import date
from typing import Final, NamedTuple

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueRole, due
from kitbuilder.kit.group import Group
from kitbuilder.kit.regions import Regions, Row, Turn, parts, regions, turn
from kitbuilder.model.catalogue import Key
from kitbuilder.vehicle.facts import DAYS, LISTED, NUMBERS, Fact
from kitbuilder.vehicle.statements import TOLD, Statement, settle
from kitbuilder.vehicle.tables import Box
from kitbuilder.vehicle.values import Values, both
from kitbuilder.vehicle.worlds import Cell, Worlds

#: What was worked out is kept up to so many answers a role, and so many job types.
_KEPT: Final = 20_000
_KEPT_JOBS: Final = 500
_TOGETHER: Final = 8


class LineFound(NamedTuple):
    """A line: its stage, its role's name, its key, whether all open worlds have it, and the rows that bring it."""

    stage: str
    role: str
    key: Key
    certain: bool
    rows: tuple[Row, ...]


class KitLines:
    """The lines of the kits of one edition. Job types are laid out when first asked for, and kept."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition
        self._jobs: dict[str, JobLines] = {}

    def job(self, name: str) -> "JobLines":
        """The lines of one job type. Raises WrongUse if there is none of this name."""
        found = self._jobs.get(name)
        if found is None:
            while len(self._jobs) >= _KEPT_JOBS:
                del self._jobs[next(iter(self._jobs))]
            found = self._jobs[name] = JobLines(self._edition, name)
        return found

    def lines(self, job: str, statements: Sequence[Statement] = ()) -> tuple[LineFound, ...]:
        """The lines of the kit that `build_kit` makes of the same; raises what it raises."""
        return self.job(job).under(statements)


class _Told(NamedTuple):
    """What values of a fact leave: regions, boxes of the fact's joint, and the cells that the values are of."""

    fact: int
    regions: int
    boxes: int
    cells: tuple[Cell, ...]
    values: Values


class _Fact:
    """A fact as the regions part it: its cells, and which of them a value is in."""

    def __init__(self, number: int, fact: Fact, cells: Sequence[Cell]) -> None:
        self.number, self.fact, self.cells = number, fact, tuple(cells)
        runs = sorted((first, last, cell) for cell in cells for first, last in cell.values)
        self._starts = [first for first, _, _ in runs]
        self._runs = runs
        self._single = {id(cell): _Told(number, cell.rows, cell.boxes, (cell,), cell.values) for cell in cells}
        self.said: dict[str, _Told] = {}
        if fact.kind == LISTED:
            self.said = {word: found for place, word in enumerate(fact.values) if (found := self._at(place))}

    def read(self, text: str) -> _Told | None:
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

    def told(self, values: Values) -> _Told | None:
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
        return _Told(self.number, left, boxes, cells, values)

    def _at(self, place: int) -> _Told | None:
        at = bisect_right(self._starts, place) - 1
        if at < 0 or self._runs[at][1] < place:
            return None
        return self._single[id(self._runs[at][2])]


class _Joined:
    """A joint: the facts of it that regions name, and for each box what it leaves of them."""

    def __init__(self, boxes: int, named: Sequence[_Fact]) -> None:
        self.boxes, self.named = boxes, tuple(named)
        self._within: dict[int, dict[int, int]] = {}
        self._known: dict[tuple[int, tuple[tuple[int, Values | None], ...]], int] = {}

    def left(self, told: Mapping[int, _Told], alive: int, every: int) -> int:
        """The regions that have a world left in the boxes that are alive, as far as this joint's facts go."""
        open_: list[tuple[_Fact, _Told | None]] = []
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

    def _open(self, open_: Sequence[tuple[_Fact, _Told | None]], alive: int) -> int:
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

    def _inside(self, fact: _Fact, box: int) -> int:
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


class _Place:
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


def _few(some: Sequence[Regions]) -> Iterator[list[Regions]]:
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


class _Hard:
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


class JobLines:
    """The lines of one job type."""

    def __init__(self, edition: Edition, job: str) -> None:
        self._edition, self.name = edition, job
        needs = due(edition, job)
        everything = edition.space.all()
        self._stages = {stage.name: number for number, stage in enumerate(needs.job.stages)}
        self._roles = {role.role.name: number for number, role in enumerate(needs.roles)}
        self._places: list[_Place] = []
        self._hard: list[tuple[int, _Hard]] = []
        boxes: list[Box] = []
        for role in sorted(needs.roles, key=lambda one: min(self._stages[way.stage] for way in one.ways)):
            some = [regions(everything, part) for part in parts(role)]
            boxes += [{}] * (-len(boxes) % 8)
            if None in some:
                self._hard.append((len(self._places), _Hard(role, len(boxes) // 8)))
                boxes += role.rows
            for together in _few([one for one in some if one is not None and None not in some]):
                boxes += [{}] * (-len(boxes) % 8)
                self._places.append(_Place(role.role.name, len(boxes) // 8, together, self._stages))
                boxes += [box for one in together for box in one.boxes]
        # roles stand by their stage; the lines of one that has several may have to be put where they belong
        self._in_place = all(len({way.stage for way in role.ways}) == 1 for role in needs.roles)
        self._size = (len(boxes) + 7) // 8
        self._lay_out(everything, boxes)

    def _lay_out(self, everything: Worlds, boxes: Sequence[Box]) -> None:
        space = everything.space
        named = {fact for box in boxes for fact in box}
        # also those that no region names: what is told of them must be possible
        cells = everything.cells(boxes, range(len(space.facts)))
        self._facts = [_Fact(number, fact, cells[number]) for number, fact in enumerate(space.facts)]
        self._named = {fact.fact.name: fact for fact in self._facts}
        self._joint_of = space.joint_of
        self._joints = [
            _Joined(everything.boxes[at], [self._facts[n] for n in joint.facts if n in named])
            for at, joint in enumerate(space.joints)]
        self._every = (1 << len(boxes)) - 1
        for joint in self._joints:
            self._every &= joint.left({}, joint.boxes, self._every)

    def lines(self, known: Mapping[str, str]) -> tuple[LineFound, ...]:
        """The lines where each fact is in its cell (a value, or any condition). Raises WrongUse, Contradiction."""
        left = self._every
        said: list[_Told] = []
        joined: dict[int, dict[int, _Told]] = {}
        facts, joint_of = self._named, self._joint_of
        for name, text in known.items():
            fact = facts.get(name)
            told = None if fact is None else fact.said.get(text) or fact.read(text)
            if told is None:
                break
            said.append(told)
            at = joint_of.get(told.fact)
            if at is None:
                left &= told.regions
            elif at in joined:
                joined[at][told.fact] = told
            else:
                joined[at] = {told.fact: told}
        else:
            kept = self._put_together(left, joined)
            if kept is not None:
                return self._answer(kept, said)
        # something is wrong with it: it is told as for a whole kit
        return self.under([Statement(name, text, TOLD) for name, text in known.items()])

    def under(self, statements: Sequence[Statement]) -> tuple[LineFound, ...]:
        """The lines under statements, which are put together as for a whole kit. Raises WrongUse, Contradiction."""
        worlds = settle(self._edition.space, self._edition.tables, statements).worlds
        left = self._every
        said: list[_Told] = []
        joined: dict[int, dict[int, _Told]] = {}
        for number, fact in enumerate(self._facts):
            if worlds.values[number] == fact.fact.everything:
                continue
            told = fact.told(worlds.values[number])
            assert told is not None
            said.append(told)
            if number in self._joint_of:
                joined.setdefault(self._joint_of[number], {})[number] = told
            else:
                left &= told.regions
        kept = self._put_together(left, joined)
        assert kept is not None
        return self._answer(kept, said)

    def _put_together(self, left: int, joined: Mapping[int, Mapping[int, _Told]]) -> int | None:
        """The regions left once the joints are looked at; None if no world is left."""
        for at, told in joined.items():
            joint = self._joints[at]
            alive = joint.boxes
            for one in told.values():
                alive &= one.boxes
            if not alive:
                return None
            left = joint.left(told, alive, left)
        return left

    def _answer(self, left: int, said: Sequence[_Told]) -> tuple[LineFound, ...]:
        data = left.to_bytes(self._size, "little")
        found: list[LineFound] = []
        start = 0
        if self._hard:
            settled = {one.fact for one in said if len(one.cells) == 1}
            for before, hard in self._hard:
                self._plain(data, start, before, found)
                start = before
                found += hard.lines(data[hard.start:hard.end], settled, lambda: self._worlds(said))
        self._plain(data, start, len(self._places), found)
        return tuple(found) if self._in_place else tuple(sorted(found, key=self._order))

    def _plain(self, data: bytes, start: int, end: int, found: list[LineFound]) -> None:
        for place in self._places[start:end]:
            some = data[place.start:place.end]
            lines = place.get(some)
            found += place.lines(some) if lines is None else lines

    def _order(self, line: LineFound) -> tuple[int, int, tuple[object, ...]]:
        return self._stages[line.stage], self._roles[line.role], line.key.order

    def _worlds(self, said: Iterable[_Told]) -> Worlds:
        return self._edition.space.all().within({one.fact: one.values for one in said})
