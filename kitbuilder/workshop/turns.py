"""What may turn out once a job is open, what it then wants, and with what chance.

A finding counts in the worlds in which a fit on condition of it has a line. It is *used* if it occurs and no finding
that covers it and counts there occurs; findings are independent of each other and of the facts (kit-rules, section 5).
Where it `turns_into` another job type, that job's certain lines and its stages from there on come on top: of each role
the other job's lines there, else the finding's own, without what this job takes anyhow; and the planned minutes of the
stages that this job hasn't (those of one name are done once). What has been fitted by then is not taken back, and the
findings of the other job are not followed further.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from fractions import Fraction
from itertools import product
from typing import NamedTuple

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueJob, DueRole, due
from kitbuilder.kit.stages import stage_parts
from kitbuilder.model.catalogue import Box, Finding, Key, Role
from kitbuilder.vehicle.worlds import Worlds
from kitbuilder.workshop.charges import PriceOf
from kitbuilder.workshop.together import together

#: Tools come back: they are neither charged for nor taken from stock.
TOOL = "special tool"


class Want(NamedTuple):
    """What a finding wants in some worlds: at which stage, which lines of which roles, and the minutes of each further
    stage."""

    stage: str
    lines: tuple[tuple[Role, Key], ...]
    minutes: tuple[int, ...]


class Case(NamedTuple):
    """Worlds in which the same findings want the same, and their weight."""

    weight: int
    wants: Mapping[str, Want]


def cases(edition: Edition, needs: DueJob, worlds: Worlds) -> list[Case]:
    """What a job's findings want, over all open worlds."""
    names = {fit.finding for role in needs.roles for fit in role.fits if fit.finding is not None}
    turned = {
        name: _Turned(edition, needs, edition.findings[name].turns_into) for name in sorted(names)
        if edition.findings[name].turns_into not in ("", needs.job.name)}
    roles = needs.roles if turned else tuple(role for role in needs.roles if any(fit.finding for fit in role.fits))
    parts = [role.rows for role in roles]
    for one in turned.values():
        parts += one.rows
    found: dict[tuple[tuple[str, Want], ...], int] = {}
    for weight, masks in together(worlds, parts):
        lines = [(role, role.outcome(mask).lines) for role, mask in zip(roles, masks, strict=False)]
        rest = iter(masks[len(roles):])
        others = {name: one.wants(rest) for name, one in turned.items()}
        wants = []
        for name in sorted(names):
            own = [(role.role, stage, key) for role, there in lines for stage, key in there if key.finding == name]
            if own:
                wants.append((name, _want(needs, own, lines, others.get(name))))
        place = tuple(wants)
        found[place] = found.get(place, 0) + weight
    return [Case(weight, dict(place)) for place, weight in found.items()]


class _Turned:
    """A job type that the work may become."""

    def __init__(self, edition: Edition, needs: DueJob, job: str) -> None:
        self._roles = due(edition, job).roles
        own = {stage.name for stage in needs.job.stages}
        self._stages = [parts for name, parts in stage_parts(edition, job).items() if name not in own]

    @property
    def rows(self) -> list[list[Box]]:
        """The rows of its roles, then those of its further stages."""
        return [role.rows for role in self._roles] + [[box for box, _ in parts] for parts in self._stages]

    def wants(self, masks: Iterator[int]) -> tuple[list[tuple[Role, Key]], tuple[int, ...]]:
        """Its lines without a finding, and the minutes of its further stages."""
        lines = [
            (role.role, key) for role in self._roles for _, key in _sorted(role.outcome(next(masks)).lines)
            if key.finding is None and not role.role.advised]
        minutes = []
        for parts in self._stages:
            mask = next(masks)
            minutes.append(sum(one for bit, (_, one) in enumerate(parts) if mask >> bit & 1))
        return lines, tuple(minutes)


def _sorted(lines: Iterable[tuple[str, Key]]) -> list[tuple[str, Key]]:
    return sorted(lines, key=lambda line: (line[1].order, line[0]))


def _want(needs: DueJob, own: list[tuple[Role, str, Key]], lines: list[tuple[DueRole, frozenset[tuple[str, Key]]]],
          other: tuple[list[tuple[Role, Key]], tuple[int, ...]] | None) -> Want:
    stages = [stage.name for stage in needs.job.stages]
    stage = min((stage for _, stage, _ in own), key=stages.index)
    wanted = sorted(((role, _bare(key)) for role, _, key in own), key=lambda one: (one[0].name, one[1].order))
    if other is None:
        return Want(stage, tuple(wanted), ())
    theirs, minutes = other
    taken = {(role.role.name, key) for role, there in lines for _, key in there if key.finding is None}
    named = {role.name for role, _ in theirs}
    wanted = [one for one in wanted if one[0].name not in named] + theirs
    return Want(stage, tuple((role, key) for role, key in wanted if (role.name, key) not in taken), minutes)


def _bare(key: Key) -> Key:
    return msgspec.structs.replace(key, finding=None)


def role_price(role: Role, keys: Iterable[Key], price_of: PriceOf) -> tuple[int, int]:
    """What a role's lines cost in a world, least and most. Of a role that selects all lines go along, and just so many
    are used: the cheapest at least, the dearest at most. A line without a price adds nothing here: it is named."""
    if role.sort == TOOL:
        return 0, 0
    prices = [price for key in keys if (price := price_of(key)) is not None]
    leasts, mosts = sorted(one.least for one in prices), sorted((one.most for one in prices), reverse=True)
    used = role.select or len(prices)
    return sum(leasts[:used]), sum(mosts[:used])


def want_price(want: Want, price_of: PriceOf, labour: Callable[[int], int]) -> tuple[int, int]:
    """What a finding adds where it wants this, in parts and labour: least and most, in minor units."""
    by_role: dict[str, tuple[Role, list[Key]]] = {}
    for role, key in want.lines:
        by_role.setdefault(role.name, (role, []))[1].append(key)
    prices = [role_price(role, keys, price_of) for role, keys in by_role.values()]
    work = sum(labour(minutes) for minutes in want.minutes)
    return sum(one[0] for one in prices) + work, sum(one[1] for one in prices) + work


def chance_used(case: Case, finding: Finding, findings: Mapping[str, Finding]) -> Fraction:
    """The chance that a finding is used in the worlds of a case in which it counts."""
    chance = Fraction(*finding.chance)
    for name in finding.covered_by:
        if name in case.wants:
            chance *= 1 - Fraction(*findings[name].chance)
    return chance


def chance_of_any(case: Case, wanted: Iterable[str], findings: Mapping[str, Finding]) -> Fraction:
    """The chance that at least one of some findings is used in the worlds of a case.

    None is, if each that occurs is covered by one that occurs and isn't among them: if the one that covers it is among
    them too, then that one must be covered in turn, and what covers it covers both. So it is enough to go through what
    may occur of those others.
    """
    among = [name for name in wanted if name in case.wants]
    rivals = sorted({
        rival for name in among for rival in findings[name].covered_by if rival in case.wants} - set(among))
    none = Fraction(0)
    for occurs in product((True, False), repeat=len(rivals)):
        there = {rival for rival, so in zip(rivals, occurs, strict=True) if so}
        part = Fraction(1)
        for rival in rivals:
            chance = Fraction(*findings[rival].chance)
            part *= chance if rival in there else 1 - chance
        for name in among:
            if not there & set(findings[name].covered_by):
                part *= 1 - Fraction(*findings[name].chance)
        none += part
    return 1 - none
