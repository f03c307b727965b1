"""How much of a thing a kit takes over all open worlds: the least in any of them, and the most."""

from collections.abc import Callable, Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueRole, Outcome, due
from kitbuilder.kit.events import acceptable
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Key
from kitbuilder.vehicle.statements import Statement, settle

Edited = Callable[[str, Key], Key | None]
"""What a role's key comes to by hand; None if it was struck."""
_Filler = tuple[str, bool, str]


class Total(msgspec.Struct, frozen=True):
    """An item or requirement (`filler`): `least` is taken in every open world, `most` in some, in milli-units of
    `unit`, the finest unit of those in which lines ask for it. `acceptable`: the items that may fill it, best first.

    Only lines that wait for no finding and no choice of the customer count: what does is chosen otherwise.
    """

    filler: str
    is_item: bool
    unit: str
    least: int
    most: int
    acceptable: tuple[str, ...]


def totals(edition: Edition, job: str, statements: Sequence[Statement],
           edited: Edited = lambda _, key: key) -> list[Total]:
    """The totals of a job, for every filler of which some line is only possible; what is certain adds up by itself.

    Raises as build_kit does.
    """
    worlds = settle(edition.space, edition.tables, statements).worlds
    bringing: dict[_Filler, list[DueRole]] = {}
    keys: dict[_Filler, Key] = {}
    opened: set[_Filler] = set()
    for role in due(edition, job).roles:
        outcomes = [role.outcome(mask) for mask in Group(worlds, [role]).weights]
        fillers = set()
        for line in {line for outcome in outcomes for line in outcome.lines}:
            key = _counted(role, line[1], edited)
            if key is None:
                continue
            filler = _filler(key)
            fillers.add(filler)
            if filler not in keys or _size(key.unit) < _size(keys[filler].unit):
                keys[filler] = key
            # a line is its stage too: one that stands now in this stage, now in that one, is certain in neither
            if not all(line in outcome.lines for outcome in outcomes):
                opened.add(filler)
        for filler in fillers:
            bringing.setdefault(filler, []).append(role)
    found = []
    for filler in sorted(opened):
        key = keys[filler]
        group = Group(worlds, bringing[filler])
        amounts = [
            sum(_amount(role, outcome, filler, key.unit, edited) for role, outcome in group.outcomes(mask))
            for mask in group.weights]
        found.append(Total(filler[0], filler[1], key.unit, min(amounts), max(amounts), acceptable(edition, key)))
    return found


def _counted(role: DueRole, key: Key, edited: Edited) -> Key | None:
    """A key as it counts: after edits, and only where it waits for no finding and no choice of the customer."""
    return None if key.finding is not None or role.role.advised else edited(role.role.name, key)


def _filler(key: Key) -> _Filler:
    return (key.item or key.requirement or "", key.item is not None, amount.quantity(key.unit))


def _size(unit: str) -> int:
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def _amount(role: DueRole, outcome: Outcome, filler: _Filler, unit: str, edited: Edited) -> int:
    changed = [_counted(role, key, edited) for _, key in outcome.lines]
    # into the finest unit, which is exact
    return sum(
        amount.convert(key.amount, key.unit, unit) for key in changed if key is not None and _filler(key) == filler)
