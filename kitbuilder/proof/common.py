"""The worlds that exist in two editions: what their kits are compared over.

A fact of one name and kind (listed values, days, whole numbers) in both editions is one fact, with the values that it
has in both. A fact of one edition alone keeps its values, and the other edition doesn't look at it. A common world
gives each of all these facts a value, and exists in both editions: each one's tables allow its part.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal

import msgspec

from kitbuilder.errors import BadData
from kitbuilder.kit.build import hangs_shown
from kitbuilder.kit.due import DueRole, Way
from kitbuilder.kit.group import Group
from kitbuilder.kit.words import in_words
from kitbuilder.model.catalogue import Fit
from kitbuilder.model.kit import When
from kitbuilder.vehicle.facts import LISTED, Fact
from kitbuilder.vehicle.tables import Box, Joint, even_joint, meet
from kitbuilder.vehicle.values import NONE, Values, both, union
from kitbuilder.vehicle.worlds import Space, Worlds

_Frozen = tuple[tuple[int, Values], ...]


class Side:
    """One edition's facts as those of the common worlds."""

    def __init__(self, number: Mapping[int, int], offset: Mapping[int, int], place: Mapping[int, Mapping[int, int]],
                 everything: Sequence[Values]) -> None:
        self._number, self._offset, self._place, self._everything = number, offset, place, everything

    def number(self, fact: int) -> int:
        """The number of one of the edition's facts among those of the common worlds."""
        return self._number[fact]

    @property
    def numbers(self) -> frozenset[int]:
        """The numbers of all facts of the edition among those of the common worlds."""
        return frozenset(self._number.values())

    def box(self, box: Box) -> Box:
        """A box of the edition among the common worlds; a fact that may have any value is left out, one that may have
        none keeps the empty set."""
        found: Box = {}
        for fact, values in box.items():
            number = self._number[fact]
            moved = self._values(fact, values)
            if moved != self._everything[number]:
                found[number] = moved
        return found

    def _values(self, fact: int, values: Values) -> Values:
        places = self._place.get(fact)
        if places is not None:
            return union((places[at], places[at]) for first, last in values for at in range(first, last + 1)
                         if at in places)
        offset = self._offset.get(fact, 0)
        moved = tuple((first + offset, last + offset) for first, last in values)
        return both(moved, self._everything[self._number[fact]])

    def role(self, role: DueRole, jobs: Iterable[str]) -> DueRole:
        """A role with its ways and rows among the common worlds."""
        ways = [Way(way.job, way.stage, way.steps, self.box(way.box)) for way in role.ways]
        return DueRole(role.role, ways, {job: tuple(self._fit(fit) for fit in role.fits_of(job)) for job in jobs})

    def _fit(self, fit: Fit) -> Fit:
        return msgspec.structs.replace(fit, box=self.box(fit.box)) if fit.box else fit


class Common(msgspec.Struct, frozen=True):
    """The common worlds of two editions; `worlds` is None where there are none."""

    facts: tuple[Fact, ...]
    old: Side
    new: Side
    worlds: Worlds | None


def common(old: Space, new: Space) -> Common:
    """The worlds that exist in both."""
    facts: list[Fact] = []
    old_numbers: dict[int, int] = {}
    new_numbers: dict[int, int] = {}
    by_name = {fact.name: (number, fact) for number, fact in enumerate(old.facts)}
    offsets: tuple[dict[int, int], dict[int, int]] = ({}, {})
    places: tuple[dict[int, Mapping[int, int]], dict[int, Mapping[int, int]]] = ({}, {})
    empty = False
    for number, fact in enumerate(new.facts):
        there = by_name.get(fact.name)
        new_numbers[number] = len(facts)
        if there is None or there[1].kind != fact.kind:
            facts.append(fact)
            continue
        old_numbers[there[0]] = len(facts)
        shared = _shared(there[1], fact)
        empty = empty or not shared.size
        if fact.kind == LISTED:
            at = {value: place for place, value in enumerate(shared.values)}
            for side, of, its in ((0, there[1], there[0]), (1, fact, number)):
                places[side][its] = {place: at[value] for place, value in enumerate(of.values) if value in at}
        else:
            offsets[0][there[0]], offsets[1][number] = there[1].first - shared.first, fact.first - shared.first
        facts.append(shared)
    names = {fact.name for fact in facts}
    for number, fact in enumerate(old.facts):
        if number not in old_numbers:
            old_numbers[number] = len(facts)
            name = f"{fact.name} (old)" if fact.name in names else fact.name
            facts.append(msgspec.structs.replace(fact, name=name))
    everything = [fact.everything if fact.size else NONE for fact in facts]
    sides = (Side(old_numbers, offsets[0], places[0], everything), Side(new_numbers, offsets[1], places[1], everything))
    worlds = None
    if not empty:
        boxes = _boxes(old, sides[0]), _boxes(new, sides[1])
        joints = _joints(*boxes, [fact.size for fact in facts])
        worlds = Space(facts, joints).all()
    return Common(tuple(facts), *sides, None if worlds is None or worlds.empty else worlds)


def _shared(old: Fact, new: Fact) -> Fact:
    """A fact with the values that it has in both editions."""
    if new.kind == LISTED:
        values = tuple(value for value in new.values if value in old.values)
        places = {new.values.index(value): at for at, value in enumerate(values)}
        groups = {name: union((places[at], places[at]) for first, last in group for at in range(first, last + 1)
                              if at in places) for name, group in new.groups.items()}
        return msgspec.structs.replace(new, values=values, size=len(values), first=0, groups=_some(groups))
    first = max(old.first, new.first)
    size = max(min(old.first + old.size, new.first + new.size) - first, 0)
    away = new.first - first
    groups = {name: both(tuple((low + away, high + away) for low, high in group), ((0, size - 1),) if size else NONE)
              for name, group in new.groups.items()}
    return msgspec.structs.replace(new, first=first, size=size, groups=_some(groups))


def _some(groups: Mapping[str, Values]) -> dict[str, Values]:
    return {name: group for name, group in groups.items() if group}


class OnlyIn(msgspec.Struct, frozen=True):
    """Vehicles (or jobs) that one edition's combinations tables `files` allow and the other's don't, by facts and
    values that both have. `when` is empty where it would be too long to tell."""

    edition: Literal["old", "new"]
    files: tuple[str, ...]
    hangs_on: tuple[str, ...]
    when: When
    text: str


#: So many combinations of rows of tables that are joined in the other edition alone can be gone through.
_MOST_BOXES = 1_000_000
#: So many differing rows of tables are still worked out in words.
_ROWS_TOLD = 400


def only_in_one(old: Space, new: Space, both_of: Common) -> Iterator[OnlyIn]:
    """What exists in one edition alone, where the facts have values that both know."""
    shared = both_of.old.numbers & both_of.new.numbers
    if not all(both_of.facts[number].size for number in shared):
        return
    groups = _together(_boxes(old, both_of.old), _boxes(new, both_of.new))
    for _, olds, news in groups:
        was, now = (_of_facts(_product(joints).values(), shared) for joints in (olds, news))
        files = tuple(sorted({file for joint in (*olds, *news) for file in joint[1]}))
        yield from _only("old", files, both_of.facts, was, now)
        yield from _only("new", files, both_of.facts, now, was)


def _of_facts(boxes: Iterable[Box], facts: frozenset[int]) -> dict[_Frozen, Box]:
    """Boxes by some of their facts alone; those that say the same once."""
    cut = [{fact: values for fact, values in box.items() if fact in facts} for box in boxes]
    return {_frozen(box): box for box in cut}


def _meets(one: Box, other: Box) -> bool:
    met = meet(one, other)
    return met is not None and all(met.values())


def _only(name: Literal["old", "new"], files: tuple[str, ...], facts: Sequence[Fact], here: Mapping[_Frozen, Box],
          there: Mapping[_Frozen, Box]) -> Iterator[OnlyIn]:
    """The worlds of boxes `here` that are in none of those `there`."""
    lone = [box for key, box in here.items() if key not in there]
    if not lone:
        return
    by = f"Only in the {name} edition, by {' and '.join(files)}, there"
    near = [] if len(lone) > _ROWS_TOLD else [box for box in there.values() if any(_meets(box, one) for one in lone)]
    rows = [*lone, *near]
    if len(rows) > _ROWS_TOLD:
        yield OnlyIn(name, files, (), (), f"{by} may be vehicles: {len(lone)} combinations of rows are in it alone.")
        return
    free = Space([fact if fact.size else msgspec.structs.replace(fact, size=1) for fact in facts], ()).all()
    group = Group(free, [], rows)
    ours = (1 << len(lone)) - 1
    inside = group.masks(lambda mask: bool(mask & ours) and not mask & ~ours)
    if inside:
        hangs_on, branches = group.hangs_on(inside)
        where = f" whose {in_words(facts, branches)}" if branches else ""
        yield OnlyIn(name, files, *hangs_shown(facts, hangs_on, branches), f"{by} are vehicles{where}.")


_Boxes = list[tuple[frozenset[int], tuple[str, ...], list[Box]]]


def _boxes(space: Space, side: Side) -> _Boxes:
    """For each joint of an edition: its facts, its files, its boxes that have a common world."""
    found = []
    for joint in space.joints:
        boxes = {_frozen(box): box for box in map(side.box, joint.boxes)}
        found.append((frozenset(side.number(fact) for fact in joint.facts), joint.files,
                      [box for box in boxes.values() if all(box.values())]))
    return found


def _joints(old: _Boxes, new: _Boxes, sizes: Sequence[int]) -> list[Joint]:
    """Joints of the worlds that lie in those of both editions."""
    found = []
    for facts, olds, news in _together(old, new):
        boxes = _meet_sides(_product(olds), _product(news))
        files = tuple(dict.fromkeys(file for joint in (*olds, *news) for file in joint[1]))
        found.append(even_joint(tuple(sorted(facts)), files, tuple(boxes), sizes))
    return found


def _together(old: _Boxes, new: _Boxes) -> list[tuple[set[int], _Boxes, _Boxes]]:
    """The joints of both editions, put together where they share facts."""
    groups: list[tuple[set[int], _Boxes, _Boxes]] = []
    for which, joints in enumerate((old, new)):
        for joint in joints:
            facts, olds, news = set(joint[0]), [joint][which:], [joint][:which]
            rest = []
            for group in groups:
                if group[0] & facts:
                    facts |= group[0]
                    olds, news = olds + group[1], news + group[2]
                else:
                    rest.append(group)
            groups = [*rest, (facts, olds, news)]
    return groups


def _product(joints: _Boxes) -> dict[_Frozen, Box]:
    """The boxes of worlds that lie in a box of each of an edition's joints (which share no facts with each other)."""
    found: list[Box] = [{}]
    for _, files, boxes in joints:
        if len(found) * len(boxes) > _MOST_BOXES:
            raise BadData(f"The two editions' tables can't be compared: those that only one of them joins, {files[0]} "
                          f"among them, have more than {_MOST_BOXES:,} combinations of rows together.")
        found = [one | other for one in found for other in boxes]
    return {_frozen(box): box for box in found}


def _meet_sides(old: Mapping[_Frozen, Box], new: Mapping[_Frozen, Box]) -> list[Box]:
    """Boxes that hold the worlds in some box of both sides. Boxes that both have stand for themselves, so that a small
    edit of a long table is little work."""
    found = {key: box for key, box in old.items() if key in new}
    for key, one in old.items():
        if key in new:
            continue
        for other_key, other in new.items():
            if other_key not in old:
                met = meet(one, other)
                if met is not None and all(met.values()):
                    found.setdefault(_frozen(met), met)
    return list(found.values())


def _frozen(box: Box) -> _Frozen:
    return tuple(sorted(box.items()))
