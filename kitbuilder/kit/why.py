"""Why a line is in a kit, or isn't: every row of its role, and how its conditions stand against what is known."""

from collections.abc import Sequence
from typing import Any, Literal

import msgspec
from msgspec import UNSET, UnsetType

from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import WrongUse, offered
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.due import DueRole, Way, due
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Condition
from kitbuilder.model.kit import ComesOff, ExchangeShown, HazardShown, Kit, KnownFact, Line, NotNeeded, Problem
from kitbuilder.model.sourced import Sourcing
from kitbuilder.vehicle.statements import Statement, settle
from kitbuilder.vehicle.values import both
from kitbuilder.vehicle.worlds import Worlds

Holds = Literal["yes", "open", "no"]


class Tested(msgspec.Struct, frozen=True):
    """A condition against what is known: it holds in all worlds, in some, or in none."""

    fact: str
    cell: str
    known: tuple[str, ...]
    source: str
    holds: Holds


class RowTested(msgspec.Struct, frozen=True):
    """A row of a role, and whether it counts: in all worlds, in some, in none. `through` names the jobs
    included on the way, with their conditions."""

    file: str
    row: int
    note: str | None
    role: str
    item: str | None
    requirement: str | None
    finding: str | None
    otherwise: bool
    through: tuple[str, ...]
    applies: Holds
    conditions: tuple[Tested, ...]


class Why(msgspec.Struct, frozen=True):
    """The answer: the lines, stated nothings and problems of what was asked for, and all rows of its roles; what comes
    off with these, and what the kit tells beside its lines of the items asked for, where there is any; of a booking's
    kit where its lines come from."""

    format: Literal["kitbuilder.why/1"]
    warnings: tuple[str, ...]
    job: str
    asked: str
    edition: str
    facts: tuple[KnownFact, ...]
    lines: tuple[Line, ...]
    nothing: tuple[NotNeeded, ...]
    problems: tuple[Problem, ...]
    rows: tuple[RowTested, ...]
    comes_off: tuple[ComesOff, ...] | UnsetType = UNSET
    hazards: tuple[HazardShown, ...] | UnsetType = UNSET
    exchange: tuple[ExchangeShown, ...] | UnsetType = UNSET
    sourcing: Sourcing | UnsetType = UNSET


def why(edition: Edition, job: str, asked: str, statements: Sequence[Statement] = (), *,
        warnings: Sequence[str] = ()) -> Why:
    """The reasons of an item, requirement or role of a job.

    Raises WrongUse, with the nearest name, if the job can have nothing to do with it.
    """
    kit = build_kit(edition, job, statements, warnings=warnings)
    roles = due(edition, job).roles
    touched = [role for role in roles if _speaks_of(edition, role, asked)]
    if not touched:
        known = {role.role.name for role in roles}
        known |= {name for role in roles for fit in (*role.fits, *role.otherwise)
                  for name in (fit.item, fit.requirement) if name and not fit.nothing}
        raise WrongUse(f"{job} has no item or role {asked!r}. {offered(asked, sorted(known))}")
    names = {role.role.name for role in touched}
    by_role = asked in names
    worlds = settle(edition.space, edition.tables, statements).worlds
    facts = {one.fact: one for one in kit.facts}
    lines = tuple(one for one in kit.lines if one.role in names and (by_role or asked in _names(one)))
    return Why(
        "kitbuilder.why/1", kit.warnings, job, asked, kit.edition, kit.facts,
        lines,
        tuple(one for one in kit.nothing if one.role in names),
        tuple(one for one in kit.problems if one.role in names),
        tuple(row for role in touched for row in _rows(edition, role, worlds, facts)),
        **_beside(kit, names, {number for line in lines for number in line.acceptable if by_role or number == asked}))


def _beside(kit: Kit, roles: set[str], numbers: set[str]) -> dict[str, Any]:
    """What the kit tells beside its lines of some roles and items."""
    found = {
        "comes_off": tuple(one for one in kit.comes_off or () if one.role in roles),
        "hazards": tuple(one for one in kit.hazards or () if one.item in numbers),
        "exchange": tuple(one for one in kit.exchange or () if one.item in numbers)}
    return {name: told for name, told in found.items() if told}


def _names(line: Line) -> tuple[str | None, ...]:
    return (line.item, line.requirement, *line.acceptable)


def _speaks_of(edition: Edition, role: DueRole, asked: str) -> bool:
    fits = (*role.fits, *role.otherwise)
    if asked == role.role.name or any(asked in (fit.item, fit.requirement) for fit in fits):
        return True
    requirements = {fit.requirement for fit in fits if fit.requirement}
    return any(
        asked in numbers
        for name in requirements for numbers in edition.requirement(name).acceptable.values())


def _rows(edition: Edition, role: DueRole, worlds: Worlds, facts: dict[str, KnownFact]) -> list[RowTested]:
    weights = Group(worlds, [role]).weights
    found = []
    for way_number, way in enumerate(role.ways):
        for fit in role.fits_of(way.job):
            counting = [
                mask for mask in weights
                if role.outcome(mask).way == way_number and fit in role.outcome(mask).fits
            ]
            applies: Holds = "yes" if len(counting) == len(weights) else "open" if counting else "no"
            conditions = (*_of_way(way), *fit.conditions)
            found.append(RowTested(
                fit.file, fit.row, fit.note, role.role.name, fit.item, fit.requirement, fit.finding, fit.otherwise,
                tuple(step.include.job for step in way.steps), applies,
                # an include and a fit may ask for the same
                tuple(dict.fromkeys(_tested(edition, one, worlds, facts) for one in conditions))))
    return found


def _of_way(way: Way) -> tuple[Condition, ...]:
    return tuple(condition for step in way.steps for condition in step.include.conditions)


def _tested(edition: Edition, condition: Condition, worlds: Worlds, facts: dict[str, KnownFact]) -> Tested:
    number = edition.space.number[condition.fact]
    opened = worlds.opened(number)
    meant = both(opened, edition.facts[number].read(condition.cell))
    holds: Holds = "yes" if meant == opened else "open" if meant else "no"
    known = facts[condition.fact]
    return Tested(condition.fact, condition.cell, known.values, known.source, holds)

