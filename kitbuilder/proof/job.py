"""Goes over job types one by one: their problems over every vehicle, and what their rows come to.

A job type is always reached by itself, so all that can be said of its own rows shows there. A role that has no problem
in any job whose rows it may be filled by has none where these jobs are included either; only the others are looked at
again, on all their ways.
"""

from collections.abc import Iterator, Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import hangs_shown, problems_in
from kitbuilder.kit.due import DueJob, DueRole, Reached, Way, due_role, reached
from kitbuilder.kit.events import differs, unmet
from kitbuilder.kit.group import Group
from kitbuilder.kit.words import in_words
from kitbuilder.model.catalogue import Condition, Fit, JobType
from kitbuilder.model.kit import Certainty, Problem, RowPlace, When
from kitbuilder.proof.remark import Remark
from kitbuilder.vehicle.statements import fewest_tables

#: The mask of a role in its own job where no row but `otherwise` applies: the one bit is the job itself.
_CAUGHT = 1
#: After so many job types what was read is let go of.
_READ_AT_ONCE = 64


class JobProblem(Problem, frozen=True, kw_only=True):
    """A problem, and the job it is in."""

    job: str


class Caught(msgspec.Struct, frozen=True):
    """What the `otherwise` of a role catches in a job: where no other row of the role applies."""

    job: str
    role: str
    row: RowPlace
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    text: str


class JobFound(msgspec.Struct, frozen=True):
    """What was found in a job: problems, remarks, what is caught; and the items, requirements and roles it names."""

    problems: tuple[JobProblem, ...]
    remarks: tuple[Remark, ...]
    otherwise: tuple[Caught, ...]
    items: frozenset[str]
    requirements: frozenset[str]
    roles: frozenset[str]


class Walk:
    """A walk over the job types of an edition, in any order."""

    def __init__(self, edition: Edition) -> None:
        self._edition, self._worlds = edition, edition.space.all()
        self._troubled: dict[str, tuple[frozenset[str], frozenset[str]]] = {}
        self._done = 0

    def look_at(self, job: str) -> JobFound:
        """All about one job type."""
        self._done += 1
        if self._done % _READ_AT_ONCE == 0:
            self._edition.forget()
        own = self._own(job)
        part = self._edition.job(job).job
        remarks: list[Remark] = [*self._dead_includes(part)]
        caught: list[Caught] = []
        for group in own:
            remarks += self._rows(job, group)
            caught += self._caught(job, group)
        if self._edition.more & {"exchange", "ports"}:
            from kitbuilder.proof.amounts import amounts_in

            remarks += amounts_in(self._edition, job, self._worlds)
        fits = [fit for group in own for fit in group.roles[0].fits_of(job)]
        return JobFound(
            tuple(self._problems(job)), tuple(remarks), tuple(caught),
            frozenset(fit.item for fit in fits if fit.item and not fit.key.nothing),
            frozenset(fit.requirement for fit in fits if fit.requirement), frozenset(part.roles))

    # Problems

    def _own(self, job: str) -> list[Group]:
        """The roles that a job lists, each filled by the job's own rows alone; which of them, and which circuits, have
        a problem so is noted."""
        part = self._edition.job(job)
        fits: dict[str, list[Fit]] = {name: [] for name in part.job.roles}
        for fit in part.fits:
            fits[fit.role].append(fit)
        found = []
        for name, stage in part.job.roles.items():
            shared = self._edition.role(name)
            role = DueRole(shared.role, [Way(job, stage, (), {})], {job: (*shared.fits, *fits[name])})
            found.append(Group(self._worlds, [role]))
        if job not in self._troubled:
            roles = frozenset(group.roles[0].role.name for group in found if self._has_problem(group))
            circuits = DueJob(part.job, tuple(group.roles[0] for group in found), ()).circuits()
            self._troubled[job] = roles, frozenset(
                name for name, members in circuits.items() if self._circuit_differs(members))
        return found

    def _has_problem(self, group: Group) -> bool:
        (role,) = group.roles
        bad = {fit.key for fit in (*role.fits, *role.otherwise) if unmet(self._edition, fit.key)}
        for mask in group.weights:
            outcome = role.outcome(mask)
            if outcome.problem is not None or (bad and any(key in bad for _, key in outcome.lines)):
                return True
        return False

    def _circuit_differs(self, roles: Sequence[DueRole]) -> bool:
        fillers = {(fit.item, fit.requirement) for role in roles for fit in (*role.fits, *role.otherwise)}
        if len({filler for filler in fillers if filler != ("nothing", None)}) < 2:
            return False
        group = Group(self._worlds, roles)
        return any(differs(group, mask) for mask in group.weights)

    def _trouble(self, job: str) -> tuple[frozenset[str], frozenset[str]]:
        if job not in self._troubled:
            self._own(job)
        return self._troubled[job]

    def _problems(self, job: str) -> Iterator[JobProblem]:
        found = reached(self._edition, job)
        wanted = {name for name, ways in found.ways.items() if any(name in self._trouble(way.job)[0] for way in ways)}
        circuits: dict[str, list[str]] = {}
        for name in found.ways:
            circuit = self._edition.role(name).role.circuit
            if circuit:
                circuits.setdefault(circuit, []).append(name)
        for circuit, names in circuits.items():
            if self._may_differ(found, circuit, names):
                wanted.update(names)
        if wanted:
            roles = tuple(due_role(self._edition, name, ways) for name, ways in found.ways.items() if name in wanted)
            for one in problems_in(self._edition, DueJob(found.job, roles, ()), self._worlds):
                yield JobProblem(job=job, **{name: getattr(one, name) for name in Problem.__struct_fields__})

    def _may_differ(self, found: Reached, circuit: str, names: Sequence[str]) -> bool:
        """Whether the roles of a circuit may differ: not where all of them always come from one and the same job, and
        don't differ there."""
        ways = [[(way.job, way.box) for way in found.ways[name]] for name in names]
        if all(one == ways[0] for one in ways):
            return any(circuit in self._trouble(job)[1] for job, _ in ways[0])
        return True

    # Rows

    def _dead_includes(self, job: JobType) -> Iterator[Remark]:
        for include in job.includes:
            if self._worlds.within(include.box).empty:
                why = self._why(include.box, include.conditions)
                yield Remark(
                    "dead include", f"{job.file} line {include.row}: {job.name} never includes {include.job}: {why}.",
                    (RowPlace(job.file, include.row),), job.name)

    def _rows(self, job: str, group: Group) -> Iterator[Remark]:
        """Rows that never apply, and rows that say the same and apply together."""
        (role,) = group.roles
        keys = [fit.key for fit in role.fits]
        doubled = len(set(keys)) < len(keys)
        applied = 0
        together: set[tuple[RowPlace, ...]] = set()
        for mask in group.weights:
            applied |= mask
            if doubled:
                together |= set(_twins(role, mask))
        for number, fit in enumerate(role.fits):
            if not applied >> (number + 1) & 1:
                yield _dead(fit, self._why(fit.box, fit.conditions))
        for fit in role.otherwise:
            if _CAUGHT not in group.weights:
                yield _dead(fit, f"in {job} other rows of the role apply to every vehicle")
        for rows in sorted(together):
            places = " and ".join(f"{row.file} line {row.row}" for row in rows)
            yield Remark("twin rows", f"{places} say the same and apply together; one of them can go.", rows,
                         role=role.role.name)

    def _caught(self, job: str, group: Group) -> Iterator[Caught]:
        facts = self._edition.facts
        for fit in group.roles[0].otherwise if _CAUGHT in group.weights else ():
            inside = frozenset({_CAUGHT})
            hangs_on, branches = group.hangs_on(inside)
            where = f"where {in_words(facts, branches)}" if branches else "every vehicle: no other row ever applies"
            yield Caught(
                job, fit.role, RowPlace(fit.file, fit.row), "certain" if group.certain(inside) else "possible",
                *hangs_shown(facts, hangs_on, branches),
                f"{fit.file} line {fit.row} ({fit.item or fit.requirement}) catches {where}.")

    def _why(self, box: dict[int, tuple[tuple[int, int], ...]], conditions: Sequence[Condition]) -> str:
        """Why no world lies in a box."""
        if not all(box.values()):
            return "its conditions leave no value"
        space = self._worlds.space
        touched = {space.joint_of[fact] for fact in box if fact in space.joint_of}
        files = {file for at in touched for file in space.joints[at].files}
        blamed = fewest_tables([table for table in self._edition.tables if table.file in files], box)
        said = " and ".join(f"{one.fact} {one.cell}" for one in conditions)
        return f"no vehicle in {' and '.join(blamed)} has {said}" if blamed else f"no vehicle has {said}"


def _dead(fit: Fit, why: str) -> Remark:
    place = RowPlace(fit.file, fit.row)
    return Remark("dead fit", f"{fit.file} line {fit.row} ({fit.role}: {fit.item or fit.requirement}) never applies: "
                  f"{why}.", (place,), role=fit.role)


def _twins(role: DueRole, mask: int) -> Iterator[tuple[RowPlace, ...]]:
    by_key: dict[object, list[Fit]] = {}
    for fit in role.outcome(mask).fits:
        by_key.setdefault(fit.key, []).append(fit)
    for fits in by_key.values():
        if len(fits) > 1:
            yield tuple(sorted(RowPlace(fit.file, fit.row) for fit in fits))
