"""The best kit where findings are independent: the chance to complete the job is a product over what is aboard.

With A for what carrying costs and B for -ln of that chance, the expected cost A + stopped * (1 - exp(-B)) rises with
both and is strictly concave in B. So its least value lies at a corner of the lower left hull of all (A, B): at a kit
that is best for some weights of A and B (with one thing a finding that is the known rule: by -ln(1 - p) / h, the best
of all beginnings). For fixed weights the sum falls apart into parts that have nothing to do with each other: a list
of kits to look through, or a minimum cut where findings share things without adding up. Corners are found by weighing
between two that are known (Eisner and Severance 1976, Journal of the ACM 23(4)).

Logarithms are taken to so many digits that the error of an expected cost is less than one unit of `Steps`, in which
all expected costs are whole numbers: so the least corner found is the least there is.
"""

from collections.abc import Callable, Sequence
from decimal import ROUND_CEILING, Context, Decimal
from fractions import Fraction
from math import lcm, prod

from kitbuilder.kit.along_steps import Steps, total
from kitbuilder.kit.cuts import worth_having

#: Gives, for weights of A and B, the part's kit of least weighed sum; of several the one of least A.
Weigher = Callable[[int, int], int]


class Listed:
    """A part of which all kits that may be worth it are listed: their steps, and the chance that they are enough."""

    def __init__(self, kits: Sequence[tuple[int, Fraction]]) -> None:
        self.kits = list(kits)
        self.rough: list[int] = []
        self.under = lcm(*(chance.denominator for _, chance in kits))
        self.overs = [int(chance * self.under) for _, chance in kits]

    def chances(self) -> list[Fraction]:
        """The chances whose logarithms it goes by."""
        return [chance for _, chance in self.kits]

    def weigher(self, costs: list[int], barred: int) -> Weigher:
        """Over the kits without the steps in `barred`, where steps cost so much."""
        worth: list[tuple[int, int, int]] = []
        for cost, log, mask in sorted(
                (total(mask, costs), log, mask)
                for (mask, _), log in zip(self.kits, self.rough, strict=True) if not mask & barred):
            if not worth or log < worth[-1][1]:
                worth.append((cost, log, mask))
        return lambda for_cost, for_chance: min(
            worth, key=lambda one: (for_cost * one[0] + for_chance * one[1], one[0]))[2]

    def wishes(self) -> list[int]:
        """The steps that something in this part may need."""
        return [mask for mask, _ in self.kits if mask]

    def over(self, kit: int) -> int:
        """The chance that a kit is enough for this part, out of `under`."""
        return max(over for (mask, _), over in zip(self.kits, self.overs, strict=True) if not mask & ~kit)

    def log(self, kit: int) -> int:
        """-ln of that, in the unit of `rough`."""
        return min(log for (mask, _), log in zip(self.kits, self.rough, strict=True) if not mask & ~kit)


class Shared:
    """Findings that need steps, none of which covers another; what several need is there for all of them at once."""

    def __init__(self, turns: Sequence[tuple[int, Fraction]]) -> None:
        self.turns = list(turns)
        self.rough: list[int] = []
        self.under = prod(chance.denominator for _, chance in turns)

    def chances(self) -> list[Fraction]:
        """The chances whose logarithms it goes by."""
        return [1 - chance for _, chance in self.turns]

    def weigher(self, costs: list[int], barred: int) -> Weigher:
        """As of `Listed`."""
        turns = [(mask, log) for (mask, _), log in zip(self.turns, self.rough, strict=True) if not mask & barred]
        masks = [mask for mask, _ in turns]
        return lambda for_cost, for_chance: worth_having(
            [for_chance * log for _, log in turns], [for_cost * cost for cost in costs], masks)

    def wishes(self) -> list[int]:
        """As of `Listed`."""
        return [mask for mask, _ in self.turns]

    def over(self, kit: int) -> int:
        """As of `Listed`."""
        return prod(
            chance.denominator - chance.numerator if mask & ~kit else chance.denominator for mask, chance in self.turns)

    def log(self, kit: int) -> int:
        """As of `Listed`."""
        return sum(log for (mask, _), log in zip(self.turns, self.rough, strict=True) if mask & ~kit)


class Hull:
    """All parts of a trip. `always`: the chance that nothing turns out which no kit is enough for."""

    def __init__(self, steps: Steps, parts: Sequence[Listed | Shared], always: Fraction) -> None:
        self.steps, self.parts = steps, list(parts)
        # whole, as every chance's denominator divides the unit
        self.sure = int(steps.stopped * always / prod(part.under for part in self.parts))
        logs = sum(len(part.chances()) for part in self.parts)
        #: How much work it is to find the best kit once, about as `Cases` has it.
        self.size = 1 + logs * steps.count // (1 if any(isinstance(part, Shared) for part in parts) else 3)
        # the error of a sum of logarithms is below `logs` units of 2^-bits; times 2 * stopped it stays below one
        bits = (2 * steps.stopped * (logs + 1)).bit_length() + 1
        places = Context(prec=bits * 302 // 1000 + 30)
        scale = places.power(Decimal(2), Decimal(bits))
        for part in self.parts:
            part.rough = [_log(chance, places, scale) for chance in part.chances()]

    def cost(self, kit: int) -> int:
        """The expected cost of a kit."""
        return total(kit, self.steps.costs) + self._risk(kit)

    def wishes(self) -> list[int]:
        """The steps that something may need."""
        return [mask for part in self.parts for mask in part.wishes()]

    def _risk(self, kit: int) -> int:
        return self.steps.stopped - self.sure * prod(part.over(kit) for part in self.parts)

    def least(self, costs: list[int], barred: int) -> tuple[int, int]:
        """The best kit without the steps in `barred`, if carrying costs so much; and its expected cost then."""
        weighers = [part.weigher(costs, barred) for part in self.parts]

        def weighed(for_cost: int, for_chance: int) -> int:
            kit = 0
            for weigher in weighers:
                kit |= weigher(for_cost, for_chance)
            return kit

        def at(kit: int) -> tuple[int, int]:
            return total(kit, costs), sum(part.log(kit) for part in self.parts)

        # so great a weight that the chance counts before any cost
        most = weighed(1, sum(costs) + 1)
        none = weighed(1, 0)
        corners = {none: at(none), most: at(most)}
        between = [(none, most)]
        while between:
            one, other = between.pop()
            (cost, log), (dearer, surer) = corners[one], corners[other]
            if dearer <= cost or surer >= log:
                continue
            kit = weighed(log - surer, dearer - cost)
            its_cost, its_log = at(kit)
            if (log - surer) * (its_cost - cost) + (dearer - cost) * (its_log - log) < 0:
                corners[kit] = (its_cost, its_log)
                between += [(one, kit), (kit, other)]
        found = {kit: cost + self._risk(kit) for kit, (cost, _) in corners.items()}
        best = min(found, key=lambda kit: (found[kit], kit))
        return best, found[best]


def _log(chance: Fraction, places: Context, scale: Decimal) -> int:
    """-ln of a chance, in units of 1 / scale; for none a number so great that exp(-it) is less than any error."""
    if not chance:
        return int(scale) * 10**6
    log = places.ln(places.divide(Decimal(chance.numerator), Decimal(chance.denominator)))
    return int(places.multiply(-log, scale).to_integral_value(rounding=ROUND_CEILING))
