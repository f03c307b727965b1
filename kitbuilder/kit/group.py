"""Roles looked at together: the weight of each way they may turn out, and what is so in how many worlds.

Most groups are one role; a circuit is one, and so is a finding with what covers it.
"""

from collections.abc import Callable, Iterator, Sequence

from kitbuilder.kit.due import DueRole, Outcome
from kitbuilder.model.catalogue import Box, Fit
from kitbuilder.vehicle.slices import Branch, Slices
from kitbuilder.vehicle.worlds import Worlds


class Group:
    """Some roles in some worlds. What can be so is a set of masks over the rows of all of them."""

    def __init__(self, worlds: Worlds, roles: Sequence[DueRole], also: Sequence[Box] = ()) -> None:
        """`also`: further rows to look at together with those of the roles."""
        self.worlds, self.roles = worlds, tuple(roles)
        self.rows = [*(row for role in roles for row in role.rows), *also]
        self.named = frozenset(fact for role in roles for fact in role.named) | {fact for row in also for fact in row}
        self._shifts = []
        shift = 0
        for role in roles:
            self._shifts.append((role, shift, (1 << len(role.rows)) - 1))
            shift += len(role.rows)
        self._also = shift
        self.weights = worlds.spread(self.rows)[0]
        self.total = sum(self.weights.values())
        self._slices: Slices | None = None
        self._hangs: dict[frozenset[int], tuple[tuple[int, ...], list[Branch]]] = {}

    def outcomes(self, mask: int) -> Iterator[tuple[DueRole, Outcome]]:
        """What each role comes to under a mask."""
        for role, shift, bits in self._shifts:
            yield role, role.outcome(mask >> shift & bits)

    def also(self, mask: int) -> int:
        """Which of the further rows apply under a mask, a bit each."""
        return mask >> self._also

    def masks(self, wanted: Callable[[int], bool]) -> frozenset[int]:
        """The masks of some world for which `wanted` is true."""
        return frozenset(mask for mask in self.weights if wanted(mask))

    def weight(self, inside: frozenset[int]) -> int:
        """The weight of the worlds of some masks, out of `total`."""
        return self.total if len(inside) == len(self.weights) else sum(self.weights[mask] for mask in inside)

    def certain(self, inside: frozenset[int]) -> bool:
        """Whether it is so in all worlds."""
        return len(inside) == len(self.weights)

    def hangs_on(self, inside: frozenset[int]) -> tuple[tuple[int, ...], list[Branch]]:
        """The fewest facts that decide it, and at which values it is so; both empty for what is certain."""
        if self.certain(inside):
            return (), []
        found = self._hangs.get(inside)
        if found is None:
            if self._slices is None:
                self._slices = Slices(self.worlds, self.rows, self.named)
            facts = self._slices.fewest(inside)
            found = self._hangs[inside] = facts, self._slices.branches(facts, inside)
        return found

    def witness(self, inside: frozenset[int]) -> tuple[dict[str, str], tuple[Fit, ...]]:
        """The first world in which it is so, and the rows that apply there."""
        world = self.worlds.first(self.rows, inside.__contains__)
        assert world is not None
        space = self.worlds.space
        at = self.worlds
        for number, fact in enumerate(space.facts):
            at = at.where(number, fact.read(world[fact.name]))
        (mask,) = at.masks(self.rows)
        fits = {(fit.file, fit.row): fit for _, outcome in self.outcomes(mask) for fit in outcome.fits}
        return world, tuple(fits[place] for place in sorted(fits))
