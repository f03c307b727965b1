"""Compares two editions: which kits change, for which vehicles and how, complete over every vehicle that is in both.

What only one edition knows (facts, values, vehicles by its tables, job types) is told by itself; the kits of job types
that both have are compared in every world that exists in both (see kitbuilder.proof.common). Parts that are the same
are not looked into, so a small change of a large catalogue is soon told.
"""

from collections.abc import Iterator, Sequence
from typing import Literal

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import reached
from kitbuilder.model.catalogue import JobType
from kitbuilder.proof.common import Common, OnlyIn, common, only_in_one
from kitbuilder.proof.declared import (
    Declared,
    declared_elsewhere,
    declared_facts,
    declared_in_parts,
    declared_tables,
    job_fields,
)
from kitbuilder.proof.differences import Change, JobPair
from kitbuilder.vehicle.worlds import Space

_READ_AT_ONCE = 64


class JobChange(msgspec.Struct, frozen=True):
    """A job type that one edition alone has, or whose kits or own figures differ; roles that it reaches in one only."""

    job: str
    title: str
    change: Literal["added", "removed", "changed"]
    roles_added: tuple[str, ...]
    roles_removed: tuple[str, ...]
    declared: tuple[Declared, ...]
    changes: tuple[Change, ...]


class Compare(msgspec.Struct, frozen=True):
    """How the edition `new` differs from `old`. `same`: nothing differs in what they say; `jobs_in_both`: so many
    were compared."""

    format: Literal["kitbuilder.compare/1"]
    warnings: tuple[str, ...]
    old: str
    new: str
    same: bool
    jobs_in_both: int
    facts: tuple[Declared, ...]
    vehicles: tuple[OnlyIn, ...]
    jobs: tuple[JobChange, ...]
    declared: tuple[Declared, ...]


def compare_editions(old: Edition, new: Edition, *, warnings: Sequence[str] = ()) -> Compare:
    """Everything that differs between two editions."""
    told = list(warnings)
    was, now = ({job for job, _, _ in edition.heading.jobs} for edition in (old, new))
    if old.name == new.name:
        return Compare("kitbuilder.compare/1", tuple(told), old.name, new.name, True, len(was & now), (), (), (), ())
    changed = _changed_parts(old, new)
    alike = _space_of(old.space) == _space_of(new.space)
    worlds = common(old.space, new.space)
    if worlds.worlds is None and was & now:
        told.append("No vehicle exists in both editions: the facts and tables have none in common, so no kit could be "
                    "compared.")
    facts = tuple(declared_facts(old, new))
    vehicles = () if alike else tuple(only_in_one(old.space, new.space, worlds))
    jobs = tuple(_jobs(old, new, worlds, None if not alike else frozenset(changed)))
    declared = (*declared_elsewhere(old, new), *declared_tables(old, new), *declared_in_parts(changed, old, new))
    same = not (facts or vehicles or jobs or declared)
    return Compare("kitbuilder.compare/1", tuple(told), old.name, new.name, same, len(was & now), facts, vehicles, jobs,
                   declared)


def _changed_parts(old: Edition, new: Edition) -> dict[str, tuple[bytes | None, bytes | None]]:
    """The parts that aren't the same, by key; job types and what is kept whole without their bytes."""
    found: dict[str, tuple[bytes | None, bytes | None]] = {}

    def note(key: str, was: bytes | None, now: bytes | None) -> None:
        found[key] = (None, None) if key.startswith("job/") else (was, now)

    olds, news = old.raw(), new.raw()
    was, now = next(olds, None), next(news, None)
    while was is not None or now is not None:
        if now is None or (was is not None and was[0] < now[0]):
            assert was is not None
            note(was[0], was[1], None)
            was = next(olds, None)
        elif was is None or now[0] < was[0]:
            note(now[0], None, now[1])
            now = next(news, None)
        else:
            if was[1] != now[1]:
                note(was[0], was[1], now[1])
            was, now = next(olds, None), next(news, None)
    return found


def _space_of(space: Space) -> object:
    """What two spaces have in common if they hold the same worlds, written the same."""
    return ([(fact.name, fact.kind, fact.size, fact.values, fact.first) for fact in space.facts],
            [(joint.facts, joint.boxes) for joint in space.joints])


def _jobs(old: Edition, new: Edition, worlds: Common, changed: frozenset[str] | None) -> Iterator[JobChange]:
    """Job types that differ, those of the new edition in its order first; `changed`: the parts that aren't the same,
    None where facts or tables aren't."""
    titles = {job: title for job, title, _ in old.heading.jobs}
    used = _Uses(new)
    for number, (job, title, _) in enumerate(new.heading.jobs):
        if number % _READ_AT_ONCE == 0:
            old.forget()
            new.forget()
        if job not in titles:
            yield JobChange(job, title, "added", (), (), (), ())
        elif changed is None or used.of(job) & changed:
            found = _job(old, new, worlds, job, title)
            if found is not None:
                yield found
    kept = {job for job, _, _ in new.heading.jobs}
    for job, title in titles.items():
        if job not in kept:
            yield JobChange(job, title, "removed", (), (), (), ())


class _Uses:
    """The keys of the parts that a job type's kits are made from."""

    def __init__(self, edition: Edition) -> None:
        self._edition = edition
        self._own: dict[str, frozenset[str]] = {}

    def of(self, job: str) -> frozenset[str]:
        """The parts of a job and of all that it includes."""
        found = self._own.get(job)
        if found is None:
            part = self._edition.job(job)
            fits = [*part.fits, *(fit for name in part.job.roles for fit in self._edition.role(name).fits)]
            found = frozenset((
                f"job/{job}", *(f"role/{name}" for name in part.job.roles),
                *{f"requirement/{fit.requirement}" for fit in fits if fit.requirement})).union(
                    *(self.of(include.job) for include in part.job.includes))
            self._own[job] = found
        return found


def _job(old: Edition, new: Edition, worlds: Common, job: str, title: str) -> JobChange | None:
    was, now = (dict.fromkeys(reached(edition, job).ways) for edition in (old, new))
    changes = tuple(JobPair(worlds, old, new, job).changes()) if worlds.worlds is not None else ()
    sides: list[JobType] = [edition.job(job).job for edition in (old, new)]
    declared = tuple(job_fields(*sides))
    added, removed = tuple(role for role in now if role not in was), tuple(role for role in was if role not in now)
    if not (changes or declared or added or removed):
        return None
    return JobChange(job, title, "changed", added, removed, declared, changes)
