"""The best kit where what may turn out is told as cases: needs that may come up, each with its chance.

Only one of the cases comes up, so the expected cost is linear in which cases a kit is enough for, and one minimum cut
gives the best (Mamer and Smith 1982, Management Science 28(11)).
"""

from collections.abc import Sequence
from fractions import Fraction

from kitbuilder.kit.along_steps import Steps, total
from kitbuilder.kit.cuts import worth_having

#: A case: its chance, and the steps that it needs (None: it stops the job whatever is aboard).
Need = tuple[Fraction, int | None]


class Cases:
    """The cases of a trip; their chances add up to one."""

    def __init__(self, steps: Steps, needs: Sequence[Need]) -> None:
        self.steps = steps
        merged: dict[int, Fraction] = {}
        for chance, mask in needs:
            if mask is not None:
                merged[mask] = merged.get(mask, Fraction(0)) + chance
        self._gains = [(mask, int(chance * steps.stopped)) for mask, chance in merged.items()]
        #: How much work it is to find the best kit once: the size of the network in which the cut is found.
        self.size = sum(1 + mask.bit_count() for mask in merged)

    def cost(self, kit: int) -> int:
        """The expected cost of a kit."""
        gained = sum(gain for mask, gain in self._gains if not mask & ~kit)
        return total(kit, self.steps.costs) + self.steps.stopped - gained

    def wishes(self) -> list[int]:
        """The steps that something may need."""
        return [mask for mask, _ in self._gains if mask]

    def least(self, costs: list[int], barred: int) -> tuple[int, int]:
        """The best kit without the steps in `barred`, if carrying costs so much; and its expected cost then."""
        open_ones = [(mask, gain) for mask, gain in self._gains if not mask & barred]
        kit = worth_having([gain for _, gain in open_ones], costs, [mask for mask, _ in open_ones])
        gained = sum(gain for mask, gain in open_ones if not mask & ~kit)
        return kit, total(kit, costs) + self.steps.stopped - gained
