"""The amounts of a trip's things as steps, and its costs as whole numbers, for those who search.

A step is one more amount of a thing; a kit is a mask of steps, and holds with each step those before it. Costs are
counted in a unit so small that every expected cost is a whole number of it. A little is added to each step, less in
all than costs can differ by: so no two kits cost the same, and the least is the one of fewest steps, then of those
that are named first.
"""

from fractions import Fraction
from math import lcm, prod

from kitbuilder.kit.along import Thing, Trip, Turn


class Steps:
    """A trip's steps; `costs`, `weights` and `values` of each beyond the one before, `stopped` in the unit of costs."""

    def __init__(self, trip: Trip) -> None:
        self.things = trip.things
        self.first: dict[str, int] = {}
        costs: list[Fraction] = []
        weights: list[Fraction] = []
        values: list[Fraction] = []
        for thing in trip.things:
            self.first[thing.name] = len(costs)
            before = (Fraction(0), Fraction(0), Fraction(0))
            for one in thing.amounts:
                costs.append(one.cost - before[0])
                weights.append(one.weight - before[1])
                values.append(one.value - before[2])
                before = (one.cost, one.weight, one.value)
        self.count = len(costs)
        chances = lcm(*(case.weight.denominator * prod(turn.chance.denominator for turn in case.turns)
                        for case in trip.cases))
        size = lcm(trip.stopped.denominator, *(cost.denominator for cost in costs)) * chances
        last = 1 << self.count
        self.unit = size * 2 * last * (self.count + 1)
        self.costs = [int(cost * self.unit) + last + (1 << number) for number, cost in enumerate(costs)]
        self.stopped = int(trip.stopped * self.unit)
        self.weights, self.most_weight = _whole(weights, trip.most_weight)
        self.values, self.most_value = _whole(values, trip.most_value)

    def mask(self, takes: dict[str, int]) -> int | None:
        """The steps that some amounts need; None if a thing has no such amount."""
        found = 0
        for thing in self.things:
            wanted = takes.get(thing.name, 0)
            if wanted:
                number = next((n for n, one in enumerate(thing.amounts) if one.amount >= wanted), None)
                if number is None:
                    return None
                found |= ((2 << number) - 1) << self.first[thing.name]
        return found

    def need(self, turn: Turn) -> int | None:
        """The steps that a finding by itself needs; None if they can't be had."""
        return None if turn.never else self.mask(turn.takes)

    def amounts(self, kit: int) -> dict[str, int]:
        """The amounts that a kit holds of each thing."""
        found = {}
        for thing in self.things:
            count = (kit >> self.first[thing.name] & ((1 << len(thing.amounts)) - 1)).bit_count()
            if count:
                found[thing.name] = thing.amounts[count - 1].amount
        return found

    def below(self, step: int) -> int:
        """A step and those before it."""
        thing = self._thing(step)
        first = self.first[thing.name]
        return ((2 << (step - first)) - 1) << first

    def above(self, step: int) -> int:
        """A step and those after it."""
        thing = self._thing(step)
        end = self.first[thing.name] + len(thing.amounts)
        return (1 << end) - (1 << step)

    def _thing(self, step: int) -> Thing:
        return next(thing for thing in reversed(self.things) if self.first[thing.name] <= step and thing.amounts)


def total(kit: int, of: list[int]) -> int:
    """The sum over a kit's steps."""
    found = 0
    while kit:
        low = kit & -kit
        found += of[low.bit_length() - 1]
        kit ^= low
    return found


def _whole(of: list[Fraction], most: Fraction | None) -> tuple[list[int], int | None]:
    """Numbers and their limit as whole numbers of one unit."""
    if most is None:
        return [0] * len(of), None
    unit = lcm(most.denominator, *(one.denominator for one in of))
    return [int(one * unit) for one in of], int(most * unit)
