"""Order lines, orders and their money in a whole-number model."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import reduce
from math import gcd
from typing import NamedTuple

from kitbuilder.stock.components import Band, Line, Order, Problem
from kitbuilder.stock.packs import price_in
from kitbuilder.stock.terms import Key
from kitbuilder.stock.whole import Model, Terms, value

#: Rounded prices are given to the solver in no larger a unit, so that its tolerance can't hide a half.
_UNIT = 200_000


class Taker(NamedTuple):
    """Who takes from a line: how many steps of `width`, of `most` in all, from which of its places."""

    variable: int
    width: int
    most: int
    keys: frozenset[Key]


@dataclass
class _BandModel:
    """One band of one line: of each pack how many, whether it is used, and its price if that needs rounding."""

    band: Band
    counts: dict[int, int]
    used: int | None
    price: int | None


@dataclass
class LineModel:
    """The bands of one line, and in which slot it is bought if there are several."""

    keys: tuple[Key, ...]
    line: Line
    bands: list[_BandModel] = field(default_factory=list)
    slots: list[int] = field(default_factory=list)

    def key_of(self, answer: Sequence[int]) -> Key:
        """The place that an answer buys from."""
        return self.keys[next((number for number, slot in enumerate(self.slots) if answer[slot]), 0)]

    def packs_of(self, answer: Sequence[int]) -> dict[int, int]:
        """Of each pack, how many an answer buys."""
        found: dict[int, int] = {}
        for band in self.bands:
            for pack, count in band.counts.items():
                if answer[count]:
                    found[pack] = found.get(pack, 0) + answer[count]
        return found

    def answer(self, key: Key, packs: dict[int, int], answer: list[int]) -> None:
        """Put so many packs, from one place, into an answer."""
        if self.slots:
            answer[self.slots[self.keys.index(key) if key in self.keys else -1]] = 1
        priced = price_in(self.line, sum(pack * count for pack, count in packs.items()))
        for one in self.bands:
            if priced is None or one.band != priced[0]:
                continue
            for pack, count in packs.items():
                answer[one.counts[pack]] = count
            if one.used is not None:
                answer[one.used] = 1
            if one.price is not None:
                answer[one.price] = priced[1]


class Ordering:
    """All order lines of a part, and what they cost."""

    def __init__(self, model: Model, problem: Problem, grain: int, money: Terms) -> None:
        self.model, self.problem, self.grain, self.money = model, problem, grain, money
        self.orders: dict[Order, int] = {}
        self.used: dict[Order, list[int]] = {}
        self.costs: dict[Order, Terms] = {}
        self.pools: dict[Key, list[Terms]] = {}

    def line(self, keys: Sequence[Key], takers: Sequence[Taker]) -> LineModel:
        """Model a line that is bought in one slot of several, the widest first, or in its only one."""
        # one without a fee does for all that fewer can wait for
        last = next((number for number, key in enumerate(keys) if not self._open(self.problem.lines[key].order)), None)
        keys = keys if last is None else keys[:last + 1]
        line = self.problem.lines[keys[0]]
        _, minimum = self.problem.orders[line.order]
        whole = sum(taker.most for taker in takers)
        most = self._most(line, whole, minimum)
        # such a line needs no yes or no of its own: the slot's or the order's will do, if it has one
        free = line.linear and not minimum
        made = LineModel(tuple(keys), line)
        bought: Terms = {}
        for band in line.bands:
            end = most if band.most is None else min(most, band.most)
            if end < band.least:
                continue
            one = self._band(line.order, line.packs, band, end, free=free)
            made.bands.append(one)
            bought |= {count: pack // self.grain for pack, count in one.counts.items()}
        taken = {taker.variable: taker.width // self.grain for taker in takers}
        self.model.row(0, None, {**bought, **{variable: -times for variable, times in taken.items()}})
        self.pools.setdefault(self.problem.pool_of[keys[0]], []).append(bought)
        used = [one.used for one in made.bands if one.used is not None]
        if len(keys) > 1:
            made.slots = self._slots(keys, takers)
            opened = made.slots
        else:
            opened = self._open(line.order)
        if free and opened:
            self.model.row(None, 0, {**{count: times * self.grain for count, times in bought.items()},
                                     **dict.fromkeys(opened, -most)})
            if not made.slots:
                self.used.setdefault(line.order, []).extend(bought)
                self._tighten(opened, takers)
        elif not free:
            self._link(opened, used, taken, bool(minimum))
            if not made.slots:
                self.used.setdefault(line.order, []).extend(used)
            self._tighten(used, takers)
        return made

    def _slots(self, keys: Sequence[Key], takers: Sequence[Taker]) -> list[int]:
        """Of each slot, whether the line is bought in it: in one at most, and for those only who can wait for it."""
        slots = [self.model.choice() for _ in keys]
        self.model.row(None, 1, dict.fromkeys(slots, 1))
        for key, slot in zip(keys, slots, strict=True):
            order = self.problem.lines[key].order
            for opened in self._open(order):
                self.model.row(None, 0, {slot: 1, opened: -1})
                self.used.setdefault(order, []).append(slot)
        for taker in takers:
            self._tighten([slots[number] for number, key in enumerate(keys) if key in taker.keys], [taker])
        return slots

    def _most(self, line: Line, whole: int, minimum: int) -> int:
        """Enough for any best plan: a pack more than the needs, the last break and the order's minimum ask for could be
        left out."""
        last = line.bands[-1]
        alone = -(-minimum * last.per // last.minor) if last.minor else 0
        most = max(whole, last.least, alone) + max(line.packs)
        return most if line.most is None else min(most, line.most)

    def _band(self, order: Order, packs: Sequence[int], band: Band, end: int, *, free: bool) -> _BandModel:
        counts = {pack: self.model.variable(end // pack) for pack in packs}
        self.model.bought += counts.values()
        amount = {count: pack for pack, count in counts.items()}
        used = None
        if not free:
            used = self.model.choice()
            self.model.row(0, None, {**amount, used: -band.least})
            self.model.row(None, 0, {**amount, used: -end})
        elif end < sum(end // pack * pack for pack in packs):
            self.model.row(None, end, amount)
        price = None
        if all(band.minor * pack % band.per == 0 for pack in packs):
            cost = {count: band.minor * pack // band.per for pack, count in counts.items()}
        else:
            assert used is not None
            price = self.model.variable((2 * end * band.minor + band.per) // (2 * band.per))
            self._round(band, counts, used, price)
            cost = {price: 1}
        for variable, times in cost.items():
            if times:
                self.money[variable] = times
        self.costs.setdefault(order, {}).update(cost)
        return _BandModel(band, counts, used, price)

    def _round(self, band: Band, counts: dict[int, int], used: int, price: int) -> None:
        """The price is the whole number above exact less a half, and at most exact plus a half."""
        parts = {count: band.minor * pack for pack, count in counts.items()}
        divisor = reduce(gcd, parts.values(), band.per)
        per = band.per // divisor
        exact = {count: -2 * times // divisor for count, times in parts.items()}
        self.model.rising[price] = len(self.model.rows)
        self.model.row(0, None, {price: 2 * per, **exact, used: per - 1}, min(2 * per, _UNIT))
        self.model.row(None, 0, {price: 2 * per, **exact, used: -per}, min(2 * per, _UNIT))

    def _open(self, order: Order) -> list[int]:
        """Whether an order is opened, if that means anything."""
        fee, minimum = self.problem.orders[order]
        if not fee and not minimum:
            return []
        if order not in self.orders:
            self.orders[order] = self.model.choice()
            if fee:
                self.money[self.orders[order]] = fee
        return [self.orders[order]]

    def _link(self, opened: list[int], used: list[int], taken: Terms, minimum: bool) -> None:
        if opened:
            self.model.row(None, 0, {**dict.fromkeys(used, 1), **dict.fromkeys(opened, -1)})
        elif len(used) > 1:
            self.model.row(None, 1, dict.fromkeys(used, 1))
        if minimum:
            # an order isn't brought to its minimum with what nobody needs
            self.model.row(0, None, {**taken, **dict.fromkeys(used, -1)})

    def _tighten(self, used: list[int], takers: Sequence[Taker]) -> None:
        """Say of each taker what follows from the other rows: it makes the solver's bounds much tighter."""
        for taker in takers:
            self.model.row(None, 0, {taker.variable: taker.width, **dict.fromkeys(used, -taker.most)})

    def finish(self) -> None:
        """The rows that join lines: minimums of orders, pools over several slots."""
        for order, opened in self.orders.items():
            _, minimum = self.problem.orders[order]
            if minimum:
                self.model.row(0, None, {**self.costs.get(order, {}), opened: -minimum})
        for pool, lines in self.pools.items():
            if pool in self.problem.pools and len(lines) > 1:
                together = {count: times for line in lines for count, times in line.items()}
                self.model.row(None, self.problem.pools[pool] // self.grain, together)

    def answer(self, answer: list[int]) -> None:
        """Open the orders that an answer's lines stand in."""
        for order, opened in self.orders.items():
            answer[opened] = int(value(dict.fromkeys(self.used.get(order, ()), 1), answer) > 0)
