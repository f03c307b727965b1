"""How long stages take with the waiting for sealant to cure behind their work."""

from collections.abc import Mapping, Sequence
from decimal import ROUND_CEILING, Decimal

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.due import DueRole, due
from kitbuilder.kit.events import acceptable
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Box, Key
from kitbuilder.vehicle.worlds import Worlds


class Cures:
    """The sealants of a job and how long they cure: items with a property `cure`, in minutes.

    What is used in one stage cures side by side, so the longest counts. At least: the item that cures fastest of those
    that may fill a line, nothing that waits for a finding or the customer's choice, and of what is selected from the
    fastest. At most: the slowest of all. An item whose cure isn't told takes no time.
    """

    def __init__(self, edition: Edition, job: str) -> None:
        self._edition = edition
        self._known: dict[Key, tuple[int, int]] = {}
        self._roles = [role for role in due(edition, job).roles if self._curing(role)]

    def by_stage(self, worlds: Worlds, parts: Mapping[str, Sequence[tuple[Box, int]]]) -> dict[str, tuple[int, int]]:
        """The least and the most minutes of work and waiting in any of some worlds, for the stages that may wait.
        `parts`: the minutes of each stage, each with the worlds in which they are due."""
        found = {}
        for stage, pieces in parts.items():
            roles = [role for role in self._roles if any(way.stage == stage for way in role.ways)]
            if roles:
                group = Group(worlds, roles, [box for box, _ in pieces])
                both = [self._minutes(group, mask, stage, pieces) for mask in group.weights]
                found[stage] = min(least for least, _ in both), max(most for _, most in both)
        return found

    def _minutes(self, group: Group, mask: int, stage: str, pieces: Sequence[tuple[Box, int]]) -> tuple[int, int]:
        work = sum(minutes for bit, (_, minutes) in enumerate(pieces) if group.also(mask) >> bit & 1)
        least = most = 0
        for role, outcome in group.outcomes(mask):
            sure = []
            for where, key in outcome.lines:
                if where == stage:
                    fastest, slowest = self._of(key)
                    most = max(most, slowest)
                    if key.finding is None and not role.role.advised:
                        sure.append(fastest)
            if sure:
                used = role.role.select or len(sure)
                least = max(least, sorted(sure)[min(used, len(sure)) - 1])
        return work + least, work + most

    def _curing(self, role: DueRole) -> bool:
        return any(self._of(fit.key)[1] for fit in (*role.fits, *role.otherwise) if not fit.nothing)

    def _of(self, key: Key) -> tuple[int, int]:
        """The least and the most minutes of the items that may fill a line."""
        found = self._known.get(key)
        if found is None:
            minutes = [self._cure(number) for number in acceptable(self._edition, key)]
            found = self._known[key] = min(minutes, default=0), max(minutes, default=0)
        return found

    def _cure(self, number: str) -> int:
        text = self._edition.item(number).properties.get("cure", "0")
        return int(Decimal(text).to_integral_value(ROUND_CEILING))
