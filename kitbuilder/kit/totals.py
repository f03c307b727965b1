"""How much of a thing a kit takes over all open worlds: the least in any of them, and the most."""

from collections.abc import Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueRole, due
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Key
from kitbuilder.vehicle.statements import Statement, settle


class Total(msgspec.Struct, frozen=True):
    """An item or requirement (`filler`) in milli-units of `unit`: `least` is taken in every open world, `most` in some.

    Only lines without a finding count: what waits for a finding is chosen otherwise.
    """

    filler: str
    is_item: bool
    unit: str
    least: int
    most: int


def totals(edition: Edition, job: str, statements: Sequence[Statement]) -> list[Total]:
    """The totals of a job, for every filler of which some line is only possible; what is certain adds up by itself."""
    worlds = settle(edition.space, edition.tables, statements).worlds
    bringing: dict[tuple[str, bool, str], list[DueRole]] = {}
    open_fillers: set[tuple[str, bool, str]] = set()
    for role in due(edition, job).roles:
        outcomes = [role.outcome(mask) for mask in Group(worlds, [role]).weights]
        keys = {key for outcome in outcomes for _, key in outcome.lines if key.finding is None}
        for filler in {_filler(key) for key in keys}:
            bringing.setdefault(filler, []).append(role)
        open_fillers |= {
            _filler(key) for key in keys
            if not all(key in {one for _, one in outcome.lines} for outcome in outcomes)}
    found = []
    for filler in sorted(open_fillers):
        group = Group(worlds, bringing[filler])
        amounts = [
            sum(key.amount for _, outcome in group.outcomes(mask) for _, key in outcome.lines
                if key.finding is None and _filler(key) == filler)
            for mask in group.weights]
        name, is_item, unit = filler
        found.append(Total(name, is_item, unit, min(amounts), max(amounts)))
    return found


def _filler(key: Key) -> tuple[str, bool, str]:
    return (key.item or key.requirement or "", key.item is not None, key.unit)
