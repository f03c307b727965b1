"""The lines of a kit alone (certain or possible, with their rows), many times faster than the whole kit.

For one job type the regions of all its roles (see regions.py) are laid side by side, one bit a region, with one number
a cell of each fact: the bits of the regions that have the cell. What is known picks cells; AND over the facts of OR
over what each may still be leaves the bits of the regions that have a world left. Facts that tables join are put
together box by box of their joint, in which they are free of each other. A line is possible if a region with it is
left, certain if its role has no region left without it. The answer is that of `build_kit`, which also tells what a line
hangs on, its chance, the questions and the problems.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import due
from kitbuilder.kit.places import HardPlace, LineFound, Place, few
from kitbuilder.kit.regions import parts, regions
from kitbuilder.kit.told import JoinedFacts, PartedFact, Told
from kitbuilder.vehicle.statements import TOLD, Statement, settle
from kitbuilder.vehicle.tables import Box
from kitbuilder.vehicle.worlds import Worlds

#: So many job types are kept laid out.
_KEPT_JOBS: Final = 500


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


class JobLines:
    """The lines of one job type."""

    def __init__(self, edition: Edition, job: str) -> None:
        self._edition, self.name = edition, job
        needs = due(edition, job)
        everything = edition.space.all()
        self._stages = {stage.name: number for number, stage in enumerate(needs.job.stages)}
        self._roles = {role.role.name: number for number, role in enumerate(needs.roles)}
        self._places: list[Place] = []
        self._hard: list[tuple[int, HardPlace]] = []
        boxes: list[Box] = []
        for role in sorted(needs.roles, key=lambda one: min(self._stages[way.stage] for way in one.ways)):
            some = [regions(everything, part) for part in parts(role)]
            boxes += [{}] * (-len(boxes) % 8)
            if None in some:
                self._hard.append((len(self._places), HardPlace(role, len(boxes) // 8)))
                boxes += role.rows
            for together in few([one for one in some if one is not None and None not in some]):
                boxes += [{}] * (-len(boxes) % 8)
                self._places.append(Place(role.role.name, len(boxes) // 8, together, self._stages))
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
        self._facts = [PartedFact(number, fact, cells[number]) for number, fact in enumerate(space.facts)]
        self._named = {fact.fact.name: fact for fact in self._facts}
        self._joint_of = space.joint_of
        self._joints = [
            JoinedFacts(everything.boxes[at], [self._facts[n] for n in joint.facts if n in named])
            for at, joint in enumerate(space.joints)]
        self._every = (1 << len(boxes)) - 1
        for joint in self._joints:
            self._every &= joint.left({}, joint.boxes, self._every)

    def lines(self, known: Mapping[str, str]) -> tuple[LineFound, ...]:
        """The lines where each fact is in its cell (a value, or any condition). Raises WrongUse, Contradiction."""
        left = self._every
        said: list[Told] = []
        joined: dict[int, dict[int, Told]] = {}
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
        said: list[Told] = []
        joined: dict[int, dict[int, Told]] = {}
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

    def _put_together(self, left: int, joined: Mapping[int, Mapping[int, Told]]) -> int | None:
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

    def _answer(self, left: int, said: Sequence[Told]) -> tuple[LineFound, ...]:
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

    def _worlds(self, said: Iterable[Told]) -> Worlds:
        return self._edition.space.all().within({one.fact: one.values for one in said})
