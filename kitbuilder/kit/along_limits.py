"""The best kit that a van can carry: branch and bound over what goes along, with prices for weight and value.

Where findings are independent, `swept` finds it. Otherwise: without limits the best kit is known (`Cases`, `Hull`). A
price on weight (and value) makes that a bound for all kits within the limit: what the best kit costs with the price
paid on each step, less the price of the whole limit (Everett 1963, Operations Research 11(3)). A node takes some steps
along and bars others.
"""

from fractions import Fraction
from functools import reduce
from heapq import heappop, heappush
from operator import or_
from typing import Protocol

from kitbuilder.kit.along_hull import Hull
from kitbuilder.kit.along_steps import Steps, total
from kitbuilder.kit.along_sweep import swept

#: So much work is done (the size of the form, each time its best kit is looked for); what is found by then is told with
#: what nothing can cost less than.
MOST_WORK = 400_000
_ROUNDS = 24
_MOST_WISHES = 64


class Form(Protocol):
    """What finds the best kit where there are no limits. `size`: how much work that is."""

    size: int

    def cost(self, kit: int) -> int:
        """The expected cost of a kit."""

    def wishes(self) -> list[int]:
        """The steps that something may need."""

    def least(self, costs: list[int], barred: int) -> tuple[int, int]:
        """The best kit without the steps in `barred`, if carrying costs so much; and its expected cost then."""


def least_within(form: Form, steps: Steps) -> tuple[int, int, int]:
    """The best kit within the limits of a trip, its expected cost, and a bound below which none within them lies."""
    kit, cost = form.least(steps.costs, 0)
    if _fits(steps, kit):
        return kit, cost, cost
    search = _Search(form, steps, kit)
    found = swept(form, steps, search.best) if isinstance(form, Hull) else None
    if found is not None:
        cost, kit = found
        return kit, cost, cost
    return search.run()


def _limits(steps: Steps) -> list[tuple[list[int], int]]:
    return [(of, most) for of, most in ((steps.weights, steps.most_weight), (steps.values, steps.most_value))
            if most is not None]


def _fits(steps: Steps, kit: int) -> bool:
    return all(total(kit, of) <= most for of, most in _limits(steps))


class _Search:
    def __init__(self, form: Form, steps: Steps, freely: int) -> None:
        self._form, self._steps, self._limits = form, steps, _limits(steps)
        self.best = (form.cost(0), 0)
        self._done = 0
        for kit in (freely, (1 << steps.count) - 1):
            self._trim(kit)
        self._prices = [0] * len(self._limits)

    def _trim(self, kit: int) -> None:
        """Leave out of a kit what frees most of the limits for the least, until it fits; then add what still pays."""
        cost_of, wishes = self._form.cost, self._form.wishes()
        if len(wishes) > _MOST_WISHES:
            wishes = [self._steps.below(step) for step in range(self._steps.count)]
        aboard = [wish for wish in wishes if not wish & ~kit]
        kit = reduce(or_, aboard, 0)
        while not _fits(self._steps, kit):
            cost = cost_of(kit)
            tried = []
            for place in range(len(aboard)):
                rest = reduce(or_, aboard[:place] + aboard[place + 1:], 0)
                freed = self._taken(kit) - self._taken(rest)
                tried.append((not freed, Fraction(cost_of(rest) - cost, freed or 1), place, rest))
            _, _, place, kit = min(tried)
            del aboard[place]
        better = True
        while better:
            self.best = min(self.best, (cost_of(kit), kit))
            more = [kit | wish for wish in wishes if wish & ~kit and _fits(self._steps, kit | wish)]
            best = min(((cost_of(one), one) for one in more), default=(cost_of(kit), kit))
            better = best < (cost_of(kit), kit)
            kit = best[1] if better else kit

    def _taken(self, kit: int) -> int:
        """How much of the limits a kit takes, in small parts of their sum."""
        return sum((total(kit, of) << 32) // max(most, 1) for of, most in self._limits)

    def run(self) -> tuple[int, int, int]:
        """Best bound first."""
        self._prices = self._priced()
        waiting: list[tuple[int, int, int, int]] = []
        self._look(0, 0, waiting)
        while waiting and waiting[0][0] < self.best[0] and self._done < MOST_WORK:
            _, along, barred, kit = heappop(waiting)
            step = self._weightiest(kit & ~along)
            self._look(along | self._steps.below(step), barred, waiting)
            self._look(along, barred | self._steps.above(step), waiting)
        cost, kit = self.best
        return kit, cost, min(cost, waiting[0][0]) if waiting else cost

    def _look(self, along: int, barred: int, waiting: list[tuple[int, int, int, int]]) -> None:
        """Bound a node, and let it wait if something better may be in it."""
        if along & barred or not _fits(self._steps, along):
            return
        kit, bound = self._bounded(along, barred, [0] * len(self._limits))
        if _fits(self._steps, kit):
            return
        if any(self._prices):
            bound = max(bound, self._bounded(along, barred, self._prices)[1])
        if bound < self.best[0]:
            heappush(waiting, (bound, along, barred, kit))

    def _bounded(self, along: int, barred: int, prices: list[int]) -> tuple[int, int]:
        """The best kit of a node under some prices, and what no kit of it within the limits costs less than."""
        paid = sum(price * total(along, of) - price * most
                   for price, (of, most) in zip(prices, self._limits, strict=True))
        costs = [
            0 if along >> step & 1 else cost + sum(
                price * of[step] for price, (of, _) in zip(prices, self._limits, strict=True))
            for step, cost in enumerate(self._steps.costs)]
        kit, cost = self._form.least(costs, barred)
        self._done += self._form.size
        kit |= along
        if _fits(self._steps, kit):
            self.best = min(self.best, (self._form.cost(kit), kit))
        return kit, cost + total(along, self._steps.costs) + paid

    def _priced(self) -> list[int]:
        """Prices under which the best kit just keeps within the limits: halved in between, one limit after another."""
        prices = [0] * len(self._limits)
        for number, (of, most) in enumerate(self._limits):
            low, high = 0, self._steps.stopped + 1
            for _ in range(_ROUNDS):
                if self._done > MOST_WORK // 4:
                    break
                prices[number] = (low + high) // 2
                kit, _ = self._bounded(0, 0, prices)
                if total(kit, of) <= most:
                    high = prices[number]
                else:
                    low = prices[number]
            prices[number] = high
        return prices

    def _weightiest(self, kit: int) -> int:
        """The step that takes most of the limits."""
        return max(
            (step for step in range(self._steps.count) if kit >> step & 1),
            key=lambda step: (self._taken(1 << step), -step))
