"""What each open world has, and what all of them have together: roles, lines, problems, what they hang on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import Any

from tests.brute_values import satisfying, shown_amount, shown_values
from tests.brute_worlds import Conditions, World, open_worlds
from tests.specs import NOTHING, Fact, Job, Placed, Role, Spec, Statement, placed


@dataclass(frozen=True)
class Way:
    """The job itself, or a chain of includes: its conditions in turn, its stages put onto the job's."""

    job: Job
    conditions: tuple[tuple[str, str], ...]
    stages: dict[str, str]


@dataclass(frozen=True)
class Key:
    """What makes fits one fit: item, requirement or nothing; amount and unit as shown; finding."""

    item: str = ""
    requirement: str = ""
    amount: Fraction = Fraction(0)
    unit: str = ""
    finding: str = ""

    @property
    def is_nothing(self) -> bool:
        """Whether it states that no line is needed."""
        return self.item == NOTHING


@dataclass(frozen=True)
class Line:
    """A stage, a role and a key; `nothing` is one too."""

    stage: str
    role: str
    key: Key


@dataclass(frozen=True)
class RoleThere:
    """What a role is in one world in which it is due."""

    rows: list[Placed]
    lines: set[Line]
    gap: bool
    clash: bool


@dataclass
class Thing:
    """A line or a problem, with the numbers of the open worlds that have it and the facts it may hang on."""

    worlds: set[int]
    candidates: list[str]
    settled_by: list[str] | None = None
    """What it hangs on, once that has been worked out."""


def ways(spec: Spec, job: Job) -> list[Way]:
    """The job itself, then through its includes in order, depth first."""
    jobs = {one.name: one for one in spec.jobs}

    def through(one: Job, conditions: tuple[tuple[str, str], ...], stages: dict[str, str]) -> list[Way]:
        found = [Way(one, conditions, stages)]
        for include in one.includes:
            inner = {own: stages[outer] for own, outer in include.stages.items()}
            found += through(jobs[include.job], conditions + tuple(include.when.items()), inner)
        return found

    return through(job, (), {stage: stage for stage in job.stages})


class Judge:
    """One job under some statements."""

    def __init__(self, spec: Spec, job: str, statements: Iterable[Statement]):
        self.spec = spec
        self.facts = {fact.name: fact for fact in spec.facts}
        self.roles = {role.name: role for role in spec.roles}
        self.items = {item.number: item for item in spec.items}
        self.requirements = {one.name: one for one in spec.requirements}
        self.conditions = Conditions(spec)
        self.placed = placed(spec)
        self.job = next(one for one in spec.jobs if one.name == job)
        self.ways = ways(spec, self.job)
        self.open = open_worlds(spec, statements)
        self.worlds = [world for world, _ in self.open.worlds]
        self.weights = [weight for _, weight in self.open.worlds]
        self.places: list[str] = list(dict.fromkeys(role for way in self.ways for role in way.job.roles))
        self.there = [
            {role: there for role in self.places if (there := self.role_there(self.roles[role], world))}
            for world in self.worlds
        ]

    # One world

    def holds(self, way: Way, world: World) -> bool:
        """Whether every condition along the way holds."""
        return all(self.conditions.hold({fact: cell}, world) for fact, cell in way.conditions)

    def fits(self, role: str, job: Job) -> list[Placed]:
        """The fits of a role in a job that lists it."""
        return [one for one in self.placed if one.fit.role == role and one.fit.job in ("", job.name)]

    def key(self, one: Placed) -> Key:
        """The key of a fit, its amount in the unit it is shown in."""
        fit = one.fit
        if fit.item == NOTHING:
            return Key(NOTHING)
        unit = self.items[fit.item].unit if fit.item else fit.unit
        return Key(fit.item, fit.requirement, shown_amount(fit.amount, fit.unit, unit), unit, fit.finding)

    def role_there(self, role: Role, world: World) -> RoleThere | None:
        """What the role is in a world, or None if it isn't due there."""
        for way in self.ways:
            if role.name in way.job.roles and self.holds(way, world):
                break
        else:
            return None
        fits = self.fits(role.name, way.job)
        rows = [one for one in fits if not one.fit.otherwise and self.conditions.hold(one.fit.when, world)]
        if not rows:
            rows = [one for one in fits if one.fit.otherwise]
        keys = {self.key(one) for one in rows}
        gap = role.takes in ("one", "at least one") and not keys
        clash = len(keys) > 1 and (
            role.takes in ("one", "at most one") or any(key.is_nothing for key in keys)
        )
        stage = way.stages[way.job.roles[role.name]]
        lines = set() if clash else {Line(stage, role.name, key) for key in keys}
        return RoleThere(rows, lines, gap, clash)

    def acceptable(self, key: Key) -> list[str]:
        """The items that may be taken for a line."""
        if key.item:
            return [key.item]
        return satisfying(self.spec, self.requirements[key.requirement], key.unit)

    # All open worlds

    def candidates(self, roles: Iterable[str]) -> list[str]:
        """The facts that fits and include conditions of all ways of these roles name, in facts.toml order."""
        named: set[str] = set()
        for role in roles:
            for way in self.ways:
                if role in way.job.roles:
                    named |= {fact for fact, cell in way.conditions if cell.strip()}
                    for one in self.fits(role, way.job):
                        named |= {fact for fact, cell in one.fit.when.items() if cell.strip()}
        return [fact.name for fact in self.spec.facts if fact.name in named]

    def lines(self) -> dict[Line, Thing]:
        """Every line and `nothing` of any open world, in the order they stand in."""
        found: dict[Line, Thing] = {}
        for number, there in enumerate(self.there):
            for line in {line for role in there.values() for line in role.lines}:
                found.setdefault(line, Thing(set(), self.candidates([line.role]))).worlds.add(number)
        return dict(sorted(found.items(), key=lambda pair: self.line_order(pair[0])))

    def line_order(self, line: Line) -> tuple[Any, ...]:
        """Stage, the role's place, item before requirement, name by code point, amount, unit, finding."""
        key = line.key
        place = (self.job.stages.index(line.stage), self.places.index(line.role))
        return (*place, not key.item, key.item or key.requirement, key.amount, key.unit, key.finding)

    def problems(self) -> dict[tuple[str, str, str], Thing]:
        """Every problem, named by kind, role and circuit, in the order they stand in."""
        circuits: dict[str, list[str]] = {}
        for role in self.places:
            if self.roles[role].circuit:
                circuits.setdefault(self.roles[role].circuit, []).append(role)
        found: dict[tuple[str, str, str], Thing] = {}
        for role in self.places:
            for kind in ("clash", "gap", "unmet"):
                has = {
                    number
                    for number, there in enumerate(self.there)
                    if self.has_problem(kind, there.get(role))
                }
                found[kind, role, ""] = Thing(has, self.candidates([role]))
        for circuit, members in circuits.items():
            has = {number for number, there in enumerate(self.there) if self.differs(there, members)}
            found["circuit", "", circuit] = Thing(has, self.candidates(members))

        def order(named: tuple[str, str, str]) -> tuple[int, str]:
            kind, role, circuit = named
            return self.places.index(role or circuits[circuit][0]), kind

        return {named: found[named] for named in sorted(found, key=order) if found[named].worlds}

    def has_problem(self, kind: str, there: RoleThere | None) -> bool:
        """Whether a role, where it is due, has a gap, a clash, or a line that no item satisfies."""
        if there is None:
            return False
        if kind == "unmet":
            return any(not self.acceptable(line.key) for line in there.lines)
        return there.gap if kind == "gap" else there.clash

    def differs(self, there: dict[str, RoleThere], members: list[str]) -> bool:
        """Whether the lines of a circuit's roles name more than one item or requirement."""
        lines = {line for role in members if role in there for line in there[role].lines}
        return len({(line.key.item, line.key.requirement) for line in lines if not line.key.is_nothing}) > 1

    def certain(self, thing: Thing) -> bool:
        """Whether it is so in all open worlds."""
        return len(thing.worlds) == len(self.worlds)

    def hangs_on(self, thing: Thing) -> list[str]:
        """The smallest set of facts whose values decide it; nothing for what is certain."""
        if thing.settled_by is None:
            sizes = range(len(thing.candidates) + 1)
            sets = (list(some) for size in sizes for some in combinations(thing.candidates, size))
            thing.settled_by = next(some for some in sets if self.decides(some, thing))
        return thing.settled_by

    def decides(self, facts: list[str], thing: Thing) -> bool:
        """Whether open worlds with the same values of these facts all have it or all lack it."""
        answers: dict[tuple[str, ...], bool] = {}
        for number, world in enumerate(self.worlds):
            has = number in thing.worlds
            if answers.setdefault(tuple(world[fact] for fact in facts), has) != has:
                return False
        return True

    def when(self, thing: Thing) -> list[dict[str, list[str]]]:
        """The branches of open values in which it is so; none for what is certain."""
        names = self.hangs_on(thing)
        if not names:
            return []
        return _branches(
            [self.facts[name] for name in names],
            {tuple(self.worlds[number][name] for name in names) for number in thing.worlds},
        )

    def weight(self, numbers: Iterable[int]) -> Fraction:
        """The weight of some open worlds."""
        return sum((self.weights[number] for number in numbers), Fraction(0))

    def chance(self, line: Line, thing: Thing) -> Fraction:
        """The chance that the line will be used."""
        return sum(
            (self.weights[number] * self.used(line.key.finding, number) for number in thing.worlds),
            Fraction(0),
        )

    def used(self, finding: str, number: int) -> Fraction:
        """The chance in one world that a line on this finding is used: it occurs, none covering it does."""
        if not finding:
            return Fraction(1)
        there = {line.key.finding for role in self.there[number].values() for line in role.lines}
        chances = {one.name: Fraction(one.chance) for one in self.spec.findings}
        used = chances[finding]
        for other, chance in chances.items():
            if other in there and finding in self.covered(other):
                used *= 1 - chance
        return used

    def covered(self, finding: str) -> set[str]:
        """All that a finding covers, also through others."""
        own = next(one.covers for one in self.spec.findings if one.name == finding)
        return set(own) | {further for one in own for further in self.covered(one)}


def _branches(facts: list[Fact], inside: set[tuple[str, ...]]) -> list[dict[str, list[str]]]:
    """Slice by the first fact; values at which the rest is in alike are one branch."""
    if not facts:
        return [{}]
    first, rest = facts[0], facts[1:]
    alike: dict[frozenset[tuple[str, ...]], set[str]] = {}
    for value in first.domain():
        tails = frozenset(values[1:] for values in inside if values[0] == value)
        if tails:
            alike.setdefault(tails, set()).add(value)
    found = []
    for tails, values in alike.items():
        for branch in _branches(rest, set(tails)):
            found.append({first.name: shown_values(first, values)} | branch)
    return found
