"""The roles of a job, the ways on which each is reached, and what each comes to in a world.

A world shows itself to a role as a mask: one bit for each way's conditions and for each fit's
(see kitbuilder.vehicle.worlds). `outcome` turns a mask into lines, a stated nothing, a gap, a clash.
"""

from collections.abc import Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.catalogue import Box, Fit, Include, JobType, Key, Role
from kitbuilder.vehicle.values import both


class Step(msgspec.Struct, frozen=True):
    """One include on a way: the file it stands in, and the include."""

    file: str
    include: Include


class Way(msgspec.Struct, frozen=True):
    """A way on which a role is reached: the job whose fits count, the stage, the includes in between.

    `box` holds the conditions of all these together; it has no values for a fact they disagree on.
    """

    job: str
    stage: str
    steps: tuple[Step, ...]
    box: Box


class Outcome(msgspec.Struct, frozen=True):
    """What a role comes to in a world. `fits` are the rows that apply there; in a clash there are no lines."""

    way: int | None
    lines: frozenset[tuple[str, Key]]
    nothing: str | None
    problem: str | None
    fits: tuple[Fit, ...]


class DueRole:
    """A role of the job with all its ways and all fits of the jobs they lead to."""

    def __init__(self, role: Role, ways: Sequence[Way], fits_of: dict[str, tuple[Fit, ...]]) -> None:
        self.role, self.ways = role, tuple(ways)
        self.fits: list[Fit] = []
        self._bits: dict[str, list[tuple[int, Fit]]] = {}
        self._otherwise: dict[str, Fit] = {}
        for job, fits in fits_of.items():
            self._bits[job] = []
            for fit in fits:
                if fit.otherwise:
                    self._otherwise[job] = fit
                else:
                    self._bits[job].append((1 << (len(self.ways) + len(self.fits)), fit))
                    self.fits.append(fit)
        self.rows: list[Box] = [way.box for way in self.ways] + [fit.box for fit in self.fits]
        self.named = frozenset(fact for row in self.rows for fact in row)
        self._known: dict[int, Outcome] = {}
        self._keys: dict[int, Key] = {}

    @property
    def otherwise(self) -> list[Fit]:
        """The fits that catch what no other does."""
        return list(self._otherwise.values())

    def fits_of(self, job: str) -> list[Fit]:
        """The fits that count where the role is reached through a job, what catches the rest last."""
        last = [self._otherwise[job]] if job in self._otherwise else []
        return [fit for _, fit in self._bits[job]] + last

    def outcome(self, mask: int) -> Outcome:
        """What the role comes to in the worlds of a mask."""
        found = self._known.get(mask)
        if found is None:
            found = self._known[mask] = self._work_out(mask)
        return found

    def _key(self, bit: int, fit: Fit) -> Key:
        """A fit's key; a fit may apply under many masks."""
        if not bit:
            return fit.key
        found = self._keys.get(bit)
        if found is None:
            found = self._keys[bit] = fit.key
        return found

    def _work_out(self, mask: int) -> Outcome:
        number = next((n for n in range(len(self.ways)) if mask >> n & 1), None)
        if number is None:
            return Outcome(None, frozenset(), None, None, ())
        way = self.ways[number]
        here = [(bit, fit) for bit, fit in self._bits[way.job] if mask & bit]
        if not here and way.job in self._otherwise:
            here = [(0, self._otherwise[way.job])]
        fits = tuple([fit for _, fit in here])
        keys = {self._key(bit, fit) for bit, fit in here}
        nothing = any(key.nothing for key in keys)
        problem = None
        if not keys and self.role.takes in ("one", "at least one"):
            problem = "gap"
        elif len(keys) > 1 and (nothing or self.role.takes in ("one", "at most one")):
            problem = "clash"
        if problem == "clash" or nothing:
            lines: frozenset[tuple[str, Key]] = frozenset()
        else:
            lines = frozenset((way.stage, key) for key in keys)
        return Outcome(number, lines, way.stage if nothing and not problem else None, problem, fits)


class DueJob(msgspec.Struct, frozen=True):
    """A job with everything that may be due in it: roles by place, and the cautions and the job type of each way."""

    job: JobType
    roles: tuple[DueRole, ...]
    cautions: tuple[tuple[Box, tuple[str, ...]], ...]
    jobs: tuple[tuple[str, Box], ...] = ()

    def circuits(self) -> dict[str, tuple[DueRole, ...]]:
        """The circuits that more than one role belongs to, or one role that takes more than one fit."""
        found: dict[str, list[DueRole]] = {}
        for role in self.roles:
            if role.role.circuit:
                found.setdefault(role.role.circuit, []).append(role)
        return {name: tuple(roles) for name, roles in found.items()}


class Reached(msgspec.Struct, frozen=True):
    """A job with every way on which each of its roles is reached, roles by place; and the cautions and the job type of
    each way."""

    job: JobType
    ways: dict[str, list[Way]]
    cautions: tuple[tuple[Box, tuple[str, ...]], ...]
    jobs: tuple[tuple[str, Box], ...] = ()


def reached(edition: Edition, job: str) -> Reached:
    """How the roles of a job are reached. Raises WrongUse if there is no such job type."""
    top = edition.job(job).job
    ways: dict[str, list[Way]] = {}
    cautions: list[tuple[Box, tuple[str, ...]]] = []
    jobs: list[tuple[str, Box]] = []

    def walk(inner: JobType, stages: dict[str, str], steps: tuple[Step, ...], box: Box) -> None:
        cautions.append((box, inner.cautions))
        jobs.append((inner.name, box))
        for role, stage in inner.roles.items():
            ways.setdefault(role, []).append(Way(inner.name, stages[stage], steps, box))
        for include in inner.includes:
            narrowed = dict(box)
            for fact, values in include.box.items():
                narrowed[fact] = both(narrowed[fact], values) if fact in narrowed else values
            onto = {name: stages[outer] for name, outer in include.stages.items()}
            walk(edition.job(include.job).job, onto, (*steps, Step(inner.file, include)), narrowed)

    walk(top, {stage.name: stage.name for stage in top.stages}, (), {})
    return Reached(top, ways, tuple(cautions), tuple(jobs))


def due_role(edition: Edition, name: str, ways: Sequence[Way]) -> DueRole:
    """A role with the fits of every job through which it is reached."""
    part = edition.role(name)
    fits_of = {
        way.job: part.fits + tuple(fit for fit in edition.job(way.job).fits if fit.role == name) for way in ways
    }
    return DueRole(part.role, ways, fits_of)


def due(edition: Edition, job: str) -> DueJob:
    """All that may be due in a job. Raises WrongUse if there is no such job type."""
    found = reached(edition, job)
    roles = tuple(due_role(edition, name, ways) for name, ways in found.ways.items())
    return DueJob(found.job, roles, found.cautions, found.jobs)
