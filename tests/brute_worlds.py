"""Worlds by brute force: conditions, combinations, weights and statements, as kit-rules.md says them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, product

from tests.specs import Fact, Spec, Statement, Table

World = dict[str, str]
Weighted = list[tuple[World, Fraction]]
SOURCES = ("seen", "told", "register")


class CellError(ValueError):
    """A cell that is no condition on its fact."""


class Contradiction(Exception):
    """Statements of one source that can't be true together."""

    def __init__(
        self, statements: Sequence[Statement], tables: Sequence[str], choices: list[list[Statement]]
    ):
        super().__init__(f"{list(statements)} can't be true together; tables: {list(tables)}")
        self.statements = list(statements)
        self.tables = list(tables)
        self.choices = choices
        """Every set of statements that is as small; `statements` is the first of them."""


@dataclass(frozen=True)
class Open:
    """The open worlds with weights that sum to 1, and which statements stand or were set aside, as merged."""

    worlds: Weighted
    stands: list[Statement]
    aside: list[Statement]


def cell_values(fact: Fact, cell: str) -> frozenset[str]:
    """The values of the fact that a condition cell matches."""
    domain = fact.domain()
    words = cell.split()
    if not words:
        return frozenset(domain)
    if words[0] == "not":
        rest = cell.strip().removeprefix("not").strip()
        if not rest:
            raise CellError(cell)
        return frozenset(domain) - _alternatives(fact, domain, rest)
    return _alternatives(fact, domain, cell)


def _alternatives(fact: Fact, domain: list[str], text: str) -> frozenset[str]:
    found: set[str] = set()
    for alternative in re.split(r"\s+or\s+", text.strip()):
        found |= _alternative(fact, domain, alternative.strip())
    return frozenset(found)


def _alternative(fact: Fact, domain: list[str], text: str) -> set[str]:
    if text in fact.groups:
        members = fact.groups[text]
        if not fact.is_range:
            return set(members)
        return {value for member in members for value in cell_values(fact, member)}
    if text in domain:
        return {text}
    for pattern in (r"from\s+(?P<low>\S+)", r"up\s+to\s+(?P<high>\S+)", r"(?P<low>\S+)\s+to\s+(?P<high>\S+)"):
        match = re.fullmatch(pattern, text)
        if match and fact.is_range:
            ends = {"low": domain[0], "high": domain[-1]} | match.groupdict()
            if ends["low"] in domain and ends["high"] in domain:
                low, high = domain.index(ends["low"]), domain.index(ends["high"])
                if low <= high:
                    return set(domain[low : high + 1])
    raise CellError(text)


class Conditions:
    """Conditions of one catalogue; each cell is read once."""

    def __init__(self, spec: Spec):
        self._facts = {fact.name: fact for fact in spec.facts}
        self._read: dict[tuple[str, str], frozenset[str]] = {}

    def values(self, fact: str, cell: str) -> frozenset[str]:
        """The values that a cell matches."""
        if (fact, cell) not in self._read:
            self._read[fact, cell] = cell_values(self._facts[fact], cell)
        return self._read[fact, cell]

    def hold(self, conditions: Mapping[str, str], world: World) -> bool:
        """Whether every cell matches the world's value of its fact."""
        return all(world[fact] in self.values(fact, cell) for fact, cell in conditions.items())


def joined_tables(spec: Spec, tables: Iterable[Table]) -> list[tuple[list[Fact], list[Table]]]:
    """The tables that hang together by shared facts, with their facts; a fact in no table stands alone."""
    parts: list[tuple[set[str], list[Table]]] = [({fact.name}, []) for fact in spec.facts]
    for table in tables:
        touched = [part for part in parts if part[0] & set(table.facts)]
        names = {name for part in touched for name in part[0]}
        inside = [one for part in touched for one in part[1]]
        parts = [part for part in parts if part not in touched] + [(names, [*inside, table])]
    return [([fact for fact in spec.facts if fact.name in names], inside) for names, inside in parts]


def _joint_weights(
    facts: list[Fact], tables: list[Table], conditions: Conditions
) -> dict[tuple[str, ...], Fraction]:
    """The weight of each combination of values of these facts that every one of these tables allows."""
    allowed: list[World] = []
    for values in product(*(fact.domain() for fact in facts)):
        world = dict(zip((fact.name for fact in facts), values, strict=True))
        if all(any(conditions.hold(row, world) for row in table.rows) for table in tables):
            allowed.append(world)
    weights = {tuple(world.values()): Fraction(1, len(allowed)) for world in allowed}
    for table in tables:
        total = sum((Fraction(share) for share in table.shares), Fraction(0))
        for row, share in zip(table.rows, table.shares, strict=False):
            matched = [world for world in allowed if conditions.hold(row, world)]
            for world in matched:
                weights[tuple(world.values())] = Fraction(share) / total / len(matched)
    return weights


def worlds(spec: Spec, without: Iterable[str] = ()) -> Weighted:
    """Every world in order with its weight; `without` names files of tables to leave out."""
    conditions = Conditions(spec)
    tables = [table for table in spec.tables if table.file not in set(without)]
    parts = []
    for facts, inside in joined_tables(spec, tables):
        parts.append(([fact.name for fact in facts], _joint_weights(facts, inside, conditions)))
    found: Weighted = []
    for values in product(*(fact.domain() for fact in spec.facts)):
        world = dict(zip((fact.name for fact in spec.facts), values, strict=True))
        weight = Fraction(1)
        for names, weights in parts:
            weight *= weights.get(tuple(world[name] for name in names), Fraction(0))
        if weight:
            found.append((world, weight))
    return found


def agree(spec: Spec, found: Weighted, statements: Iterable[Statement]) -> Weighted:
    """Those of the worlds that agree with every statement."""
    conditions = Conditions(spec)
    told = list(statements)
    return [
        (world, weight)
        for world, weight in found
        if all(world[one.fact] in conditions.values(one.fact, one.cell) for one in told)
    ]


def in_order(spec: Spec, statements: Iterable[Statement], source: str) -> list[Statement]:
    """The statements of one source in facts.toml order, then as given."""
    place = {fact.name: number for number, fact in enumerate(spec.facts)}
    return sorted((one for one in statements if one.source == source), key=lambda one: place[one.fact])


def open_worlds(spec: Spec, statements: Iterable[Statement]) -> Open:
    """Merge the statements from the highest rank down; raise `Contradiction` as section 2 says."""
    given = list(statements)
    everything = worlds(spec)
    for source in ("seen", "told"):
        _refuse_contradiction(spec, everything, in_order(spec, given, source))
    still = everything
    stands: list[Statement] = []
    aside: list[Statement] = []
    for source in SOURCES:
        for one in in_order(spec, given, source):
            agreeing = agree(spec, still, [one])
            if agreeing:
                stands.append(one)
                still = agreeing
            else:
                aside.append(one)
    total = sum((weight for _, weight in still), Fraction(0))
    return Open([(world, weight / total) for world, weight in still], stands, aside)


def _refuse_contradiction(spec: Spec, everything: Weighted, statements: list[Statement]) -> None:
    if agree(spec, everything, statements):
        return
    for size in range(1, len(statements) + 1):
        choices = [list(some) for some in combinations(statements, size) if not agree(spec, everything, some)]
        if choices:
            raise Contradiction(choices[0], _fewest_tables(spec, choices[0]), choices)


def _fewest_tables(spec: Spec, statements: list[Statement]) -> list[str]:
    """The fewest tables without which the statements could be true, first by file name; or none."""
    files = sorted(table.file for table in spec.tables)
    for size in range(1, len(files) + 1):
        for some in combinations(files, size):
            if agree(spec, worlds(spec, without=some), statements):
                return list(some)
    return []
