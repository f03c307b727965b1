"""What may be so in a kit: each line, each stated nothing, each problem, with the masks in which it is."""

from collections.abc import Iterator

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueJob, DueRole
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Key
from kitbuilder.vehicle.worlds import Worlds

GAP, CLASH, UNMET, CIRCUIT = "gap", "clash", "unmet", "circuit"


class LineEvent(msgspec.Struct, frozen=True):
    """A line: in the worlds of `inside` its role, in its stage, holds its key."""

    group: Group
    role: DueRole
    stage: str
    key: Key
    inside: frozenset[int]


class NothingEvent(msgspec.Struct, frozen=True):
    """A stated nothing."""

    group: Group
    role: DueRole
    stage: str
    inside: frozenset[int]


class ProblemEvent(msgspec.Struct, frozen=True):
    """A problem of a role, or of a circuit (`role` is None then)."""

    group: Group
    kind: str
    role: DueRole | None
    circuit: str | None
    inside: frozenset[int]


class Events(msgspec.Struct, frozen=True):
    """All events of a job, in the order in which they are shown."""

    lines: list[LineEvent]
    nothing: list[NothingEvent]
    problems: list[ProblemEvent]

    def all(self) -> Iterator[LineEvent | NothingEvent | ProblemEvent]:
        """Every event."""
        yield from self.lines
        yield from self.nothing
        yield from self.problems


def events(edition: Edition, job: DueJob, worlds: Worlds) -> Events:
    """All that may be so in a job over some worlds."""
    lines: list[LineEvent] = []
    nothing: list[NothingEvent] = []
    placed: list[tuple[int, ProblemEvent]] = []
    places = {role.role.name: place for place, role in enumerate(job.roles)}
    for role in job.roles:
        group = Group(worlds, [role])
        found_lines: dict[tuple[str, Key], set[int]] = {}
        found_nothing: dict[str, set[int]] = {}
        problems: dict[str, set[int]] = {}
        for mask in group.weights:
            outcome = role.outcome(mask)
            for stage_key in outcome.lines:
                found_lines.setdefault(stage_key, set()).add(mask)
                if unmet(edition, stage_key[1]):
                    problems.setdefault(UNMET, set()).add(mask)
            if outcome.nothing is not None:
                found_nothing.setdefault(outcome.nothing, set()).add(mask)
            if outcome.problem is not None:
                problems.setdefault(outcome.problem, set()).add(mask)
        lines += [LineEvent(group, role, stage, key, frozenset(masks)) for (stage, key), masks in found_lines.items()]
        nothing += [NothingEvent(group, role, stage, frozenset(masks)) for stage, masks in found_nothing.items()]
        placed += [
            (places[role.role.name], ProblemEvent(group, kind, role, None, frozenset(masks)))
            for kind, masks in problems.items()
        ]
    for name, roles in job.circuits().items():
        group = Group(worlds, roles)
        masks = group.masks(lambda mask, group=group: differs(group, mask))  # type: ignore[misc]
        if masks:
            placed.append((places[roles[0].role.name], ProblemEvent(group, CIRCUIT, None, name, masks)))
    stages = {stage.name: number for number, stage in enumerate(job.job.stages)}
    lines.sort(key=lambda one: (stages[one.stage], places[one.role.role.name], one.key.order))
    nothing.sort(key=lambda one: (stages[one.stage], places[one.role.role.name]))
    placed.sort(key=lambda one: (one[0], one[1].kind, one[1].circuit or ""))
    return Events(lines, nothing, [one for _, one in placed])


def acceptable(edition: Edition, key: Key) -> tuple[str, ...]:
    """The numbers of the items that may fill a line."""
    if key.item is not None:
        return (key.item,)
    assert key.requirement is not None
    return edition.requirement(key.requirement).acceptable.get(amount.quantity(key.unit), ())


def unmet(edition: Edition, key: Key) -> bool:
    """Whether a line asks for something that no item is."""
    return key.requirement is not None and not acceptable(edition, key)


def differs(group: Group, mask: int) -> bool:
    """Whether the roles of a circuit name more than one item or requirement under a mask."""
    fillers = {(key.item, key.requirement) for _, outcome in group.outcomes(mask) for _, key in outcome.lines}
    return len(fillers) > 1
