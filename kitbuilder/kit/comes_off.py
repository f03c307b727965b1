"""What comes off in a job: drained fluids, old parts and rags, in the worlds in which they do.

A row of a job comes off where the job is due, a row of a role where the role has a line. Rows that say the same of the
same role or job are one; so are rows without an amount that say the same of several, for nothing is added up then.
"""

from collections.abc import Callable, Sequence

import msgspec
from msgspec import UNSET

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueJob, DueRole
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Box, Condition, Waste
from kitbuilder.model.kit import ComesOff, Ground, Reason
from kitbuilder.vehicle.worlds import Worlds

_Key = tuple[str, str, int, str, str, str]
#: What it waits for: the customer's choice, or findings. Nothing is waited for where both are empty.
_Waits = tuple[bool, tuple[str, ...]]


class WasteEvent(msgspec.Struct, frozen=True):
    """Something that comes off in the worlds of `inside`, by `rows`; what it waits for there."""

    group: Group
    inside: frozenset[int]
    rows: tuple[Waste, ...]
    role: str
    findings: tuple[str, ...]
    advised: bool


class _Source(msgspec.Struct, frozen=True):
    """A row with the role that it follows (None: its job), and the bits of its conditions and of its job's ways."""

    waste: Waste
    role: DueRole | None
    bit: int
    ways: int


def waste_events(edition: Edition, job: DueJob, worlds: Worlds) -> list[WasteEvent]:
    """All that may come off in a job over some worlds, in the order of waste.csv: what several rows say alike stands
    where the first of them stands that is of this job or of its roles."""
    roles = {role.role.name: role for role in job.roles}
    ways: dict[str, list[Box]] = {}
    for name, box in job.jobs:
        ways.setdefault(name, []).append(box)
    rows = [row for name in roles for row in edition.wastes_of_role(name)]
    rows += [row for name in ways for row in edition.wastes_of_job(name) if not row.role or row.role in roles]
    alike: dict[_Key, list[Waste]] = {}
    for row in sorted(rows, key=lambda row: row.row):
        place = (row.role, "" if row.role else row.job) if row.amount else ("", "")
        alike.setdefault((row.what, row.code, row.amount, row.unit, *place), []).append(row)
    return [event for same in alike.values() for event in _events(same, roles, ways, worlds)]


def _events(rows: Sequence[Waste], roles: dict[str, DueRole], ways: dict[str, list[Box]],
            worlds: Worlds) -> list[WasteEvent]:
    also: list[Box] = []
    sources = []
    for row in rows:
        role = roles[row.role] if row.role else None
        bit = 1 << len(also)
        also.append(row.box)
        due = 0
        for box in () if role else ways[row.job]:
            due |= 1 << len(also)
            also.append(box)
        sources.append(_Source(row, role, bit, due))
    followed = dict.fromkeys(source.waste.role for source in sources if source.role is not None)
    group = Group(worlds, [roles[name] for name in followed], also)
    inside: dict[_Waits, set[int]] = {}
    counting: dict[_Waits, dict[int, Waste]] = {}
    for mask in group.weights:
        there = [(source.waste, waits) for source in sources if (waits := _waits(source, group, mask)) is not None]
        if there:
            waits = _together([one for _, one in there])
            inside.setdefault(waits, set()).add(mask)
            counting.setdefault(waits, {}).update({row.row: row for row, _ in there})
    found = []
    for waits in sorted(inside):
        counted = tuple(row for _, row in sorted(counting[waits].items()))
        names = {row.role for row in counted}
        found.append(WasteEvent(group, frozenset(inside[waits]), counted, names.pop() if len(names) == 1 else "",
                                waits[1], waits[0]))
    return found


def _waits(source: _Source, group: Group, mask: int) -> _Waits | None:
    """What a row waits for under a mask; None where it doesn't come off there."""
    also = group.also(mask)
    if not also & source.bit:
        return None
    if source.role is None:
        return (False, ()) if also & source.ways else None
    outcome = next(outcome for role, outcome in group.outcomes(mask) if role is source.role)
    if not outcome.lines or outcome.way is None:
        return None
    if source.waste.job and source.role.ways[outcome.way].job != source.waste.job:
        return None
    findings = {key.finding for _, key in outcome.lines}
    return source.role.role.advised, () if None in findings else tuple(sorted(one for one in findings if one))


def _together(waits: Sequence[_Waits]) -> _Waits:
    """What several rows wait for together: nothing, if one of them doesn't wait."""
    if (False, ()) in waits:
        return False, ()
    findings = () if (True, ()) in waits else tuple(sorted({name for _, names in waits for name in names}))
    return all(advised for advised, _ in waits), findings


def shown(edition: Edition, event: WasteEvent, hangs_on: tuple[str, ...], when: tuple[dict[str, tuple[str, ...]], ...],
          grounds: Callable[[Sequence[Condition]], tuple[Ground, ...]]) -> ComesOff:
    """An event as the kit shows it; `hangs_on` and `when` in names, `grounds` puts conditions to what is known."""
    first = event.rows[0]
    return ComesOff(
        first.what, first.code, edition.codes[first.code], first.hazardous,
        amount.show(first.amount) if first.amount else None, first.unit or None, event.role or None,
        "certain" if event.group.certain(event.inside) else "possible", hangs_on, when,
        tuple(Reason(row.file, row.row, row.note, grounds(row.conditions)) for row in event.rows),
        event.findings or UNSET, event.advised or UNSET)
