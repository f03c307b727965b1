"""Checks a whole catalogue: every problem of every job over every vehicle that can exist, and what only warns."""

from collections.abc import Iterator
from typing import Any, Literal

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import find_problems
from kitbuilder.kit.due import DueRole, due
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import NOTHING, Fit
from kitbuilder.model.kit import Problem, RowPlace


class JobProblem(Problem, frozen=True, kw_only=True):
    """A problem, and the job it is in."""

    job: str


class Remark(msgspec.Struct, frozen=True):
    """Something that is allowed and may be meant otherwise: what it is, in one sentence, and the rows it speaks of."""

    kind: Literal["twin rows", "unused item", "unused requirement", "unused role"]
    text: str
    rows: tuple[RowPlace, ...]


class Check(msgspec.Struct, frozen=True):
    """What a check found; `warnings` as everywhere."""

    format: Literal["kitbuilder.check/1"]
    warnings: tuple[str, ...]
    edition: str
    jobs: int
    problems: tuple[JobProblem, ...]
    remarks: tuple[Remark, ...]


def check_catalogue(edition: Edition, *, warnings: tuple[str, ...] = ()) -> Check:
    """Build every job with nothing known and tell every problem, with where it holds and a witness.

    Exact over all vehicles: worlds are counted, never sampled.
    """
    problems: list[JobProblem] = []
    twins: dict[tuple[RowPlace, ...], Remark] = {}
    for name, _, _ in edition.heading.jobs:
        problems += [JobProblem(job=name, **_fields(one)) for one in find_problems(edition, name)]
        for remark in _twin_rows(edition, name):
            twins.setdefault(remark.rows, remark)
    remarks = (*sorted(twins.values(), key=lambda one: one.rows), *_unused(edition))
    return Check("kitbuilder.check/1", warnings, edition.name, len(edition.heading.jobs), tuple(problems), remarks)


def _fields(problem: Problem) -> dict[str, Any]:
    return {name: getattr(problem, name) for name in Problem.__struct_fields__}


def _twin_rows(edition: Edition, job: str) -> Iterator[Remark]:
    worlds = edition.space.all()
    for role in due(edition, job).roles:
        keys = [fit.key for fit in role.fits]
        if len(set(keys)) == len(keys):
            continue
        together: set[tuple[RowPlace, ...]] = set()
        for mask in Group(worlds, [role]).weights:
            together |= set(_twins(role, mask))
        for rows in sorted(together):
            places = " and ".join(f"{row.file} line {row.row}" for row in rows)
            yield Remark("twin rows", f"{places} say the same and apply together; one of them can go.", rows)


def _twins(role: DueRole, mask: int) -> Iterator[tuple[RowPlace, ...]]:
    by_key: dict[object, list[Fit]] = {}
    for fit in role.outcome(mask).fits:
        by_key.setdefault(fit.key, []).append(fit)
    for fits in by_key.values():
        if len(fits) > 1:
            yield tuple(sorted(RowPlace(fit.file, fit.row) for fit in fits))


def _unused(edition: Edition) -> Iterator[Remark]:
    roles = list(edition.roles())
    jobs = [edition.job(name) for name, _, _ in edition.heading.jobs]
    fits = [fit for part in jobs for fit in part.fits] + [fit for part in roles for fit in part.fits]
    asked = {fit.requirement for fit in fits if fit.requirement}
    used = {fit.item for fit in fits if fit.item and fit.item != NOTHING}
    for part in edition.requirements():
        if part.requirement.name in asked:
            used.update(number for numbers in part.acceptable.values() for number in numbers)
        else:
            yield Remark("unused requirement", f"No fit asks for the requirement {part.requirement.name}.", ())
    listed = {name for part in jobs for name in part.job.roles}
    for role in roles:
        if role.role.name not in listed:
            yield Remark("unused role", f"No job lists the role {role.role.name}.", ())
    for number in sorted(used):
        # what takes the place of something used is used, along the whole chain
        while number in edition.supersessions:
            number = edition.supersessions[number].new
            used.add(number)
    for item in edition.items():
        if item.number not in used:
            yield Remark("unused item", f"Nothing uses the item {item.number} ({item.name}).", ())
