"""Checks a whole catalogue: every problem of every job over every vehicle that can exist, and what only warns."""

from collections.abc import Iterable, Iterator
from typing import Literal, get_args

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kinds import contradictions
from kitbuilder.model.catalogue import NOTHING
from kitbuilder.proof.beside import beside_remarks
from kitbuilder.proof.job import Caught, JobFound, JobProblem
from kitbuilder.proof.processes import look_at_all
from kitbuilder.proof.remark import Kind, Remark
from kitbuilder.proof.supersession import supersession_remarks, takes_its_place


class Check(msgspec.Struct, frozen=True):
    """What a check found; `otherwise` tells what each such row catches; `warnings` as everywhere."""

    format: Literal["kitbuilder.check/1"]
    warnings: tuple[str, ...]
    edition: str
    jobs: int
    problems: tuple[JobProblem, ...]
    remarks: tuple[Remark, ...]
    otherwise: tuple[Caught, ...]


class _Used:
    """What the job types name, gathered while they go by."""

    def __init__(self) -> None:
        self.items: set[str] = set()
        self.requirements: set[str] = set()
        self.roles: set[str] = set()

    def add(self, found: JobFound) -> None:
        self.items |= found.items
        self.requirements |= found.requirements
        self.roles |= found.roles


def check_catalogue(edition: Edition, *, warnings: tuple[str, ...] = (), processes: int = 1) -> Check:
    """Go over every job with nothing known and tell every problem, with where it holds and a witness.

    Exact over all vehicles: worlds are counted, never sampled. With several `processes` the answer is the same.
    """
    problems: list[JobProblem] = []
    otherwise: list[Caught] = []
    remarks: dict[tuple[str, str], Remark] = {}
    used = _Used()
    for found in look_at_all(edition, processes):
        problems += found.problems
        otherwise += found.otherwise
        for remark in found.remarks:
            # a row that belongs to several jobs is told once
            remarks.setdefault((remark.kind, remark.text), remark)
        used.add(found)
    order = get_args(Kind)
    told = sorted((*remarks.values(), *_of_the_whole(edition, used)), key=lambda one: (order.index(one.kind), one.rows))
    return Check("kitbuilder.check/1", warnings, edition.name, len(edition.heading.jobs), tuple(problems), tuple(told),
                 tuple(otherwise))


def _of_the_whole(edition: Edition, used: _Used) -> Iterator[Remark]:
    """Remarks that need all job types to have gone by."""
    shared = []
    for role in edition.roles():
        shared += [fit for fit in role.fits if role.role.name not in used.roles]
        if role.role.name not in used.roles:
            yield Remark("unused role", f"No job lists the role {role.role.name}.", role=role.role.name)
    used.items |= {fit.item for fit in shared if fit.item and fit.item != NOTHING}
    used.requirements |= {fit.requirement for fit in shared if fit.requirement}
    for part in edition.requirements():
        if part.requirement.name in used.requirements:
            used.items.update(number for numbers in part.acceptable.values() for number in numbers)
        else:
            yield Remark("unused requirement", f"No fit asks for the requirement {part.requirement.name}.")
    yield from supersession_remarks(edition, used.items)
    in_use = takes_its_place(used.items, edition.supersessions)
    yield from _of_items(edition, in_use)
    yield from beside_remarks(edition, in_use)


def _of_items(edition: Edition, used: Iterable[str]) -> Iterator[Remark]:
    known = set(used)
    for item in edition.items():
        if item.number not in known:
            yield Remark("unused item", f"Nothing uses the item {item.number} ({item.name}).", item=item.number)
        for sentence in contradictions(item):
            yield Remark("data sheet", sentence, item=item.number)
