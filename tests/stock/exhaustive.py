"""The plain judge of sourcing: every way to fill the needs, every way to buy for it, the least value of all.

It is slow on purpose, for a handful of needs and small amounts, and shares no code with what it judges: units, prices,
delays, days and lots are worked out here again, from what the values' docstrings say.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from kitbuilder.model.offer import Arrival, Offer, Slot
from kitbuilder.model.plan import Need, Supply

SMALLEST = {"L": 1000, "mL": 1, "kg": 1000, "g": 1, "m": 1000, "mm": 1, "each": 1, "set": 1, "pair": 1}
MEASURES = {"L": "volume", "mL": "volume", "kg": "mass", "g": "mass", "m": "length", "mm": "length"}
#: More than this is never bought in one line; the cases must be small enough for it not to matter.
MOST_BOUGHT = 25

#: what a plan is worth, as the fields of Value
Worth = tuple[int, ...]
#: need, item, source, slot
Choices = frozenset[tuple[str, str, str, str]]


@dataclass(frozen=True)
class Spot:
    """One offer in one slot."""

    source: str
    own: bool
    offer: Offer
    arrival: Arrival
    slot: Slot
    number: int
    pool: int
    trip: bool

    @property
    def step(self) -> int:
        return 1 if self.offer.unit in MEASURES else 1000


def all_values(needs: Sequence[Need], supplies: Sequence[Supply], now: datetime) -> dict[Choices, Worth]:
    """For each set of choices that some plan makes, the least value of such a plan."""
    return Exhaustive(needs, supplies, now).run()


class Exhaustive:
    def __init__(self, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime) -> None:
        self.needs, self.now = list(needs), now
        self.spots: list[Spot] = []
        pool = 0
        for supply in supplies:
            slots = {slot.name: slot for slot in supply.quote.slots}
            for offer in supply.quote.offers:
                pool += 1
                for arrival in offer.arrivals:
                    if offer.item not in supply.quote.unreadable:
                        slot = slots[arrival.slot]
                        self.spots.append(Spot(
                            supply.source, supply.own, offer, arrival, slot, len(self.spots), pool, supply.transfer))
        self.money_for: dict[tuple[int, ...], int | None] = {}

    def plans(self) -> Iterator[tuple[tuple[tuple[int, ...], ...], frozenset[str], Worth]]:
        """What each need takes of each spot, the names of the needs that count, and the least value of such a plan."""
        for taken in itertools.product(*(list(self.ways(need)) for need in self.needs)):
            if not (self.pools_hold(taken) and self.circuits_hold(taken)):
                continue
            money = self.money(taken)
            if money is not None:
                for on, preference in self.wholes(taken):
                    yield taken, on, self.worth(taken, money, on, preference)

    def run(self) -> dict[Choices, Worth]:
        found: dict[Choices, Worth] = {}
        for taken, _, worth in self.plans():
            choices = frozenset(
                (need.name, self.spots[at].offer.item, self.spots[at].source, self.spots[at].slot.name)
                for need, way in zip(self.needs, taken, strict=True) for at, amount in enumerate(way) if amount)
            if choices not in found or worth < found[choices]:
                found[choices] = worth
        return found

    def ways(self, need: Need) -> Iterator[tuple[int, ...]]:
        """Every way to give a need something: milli-units of each spot, no step more than it takes."""
        want = need.quantity * SMALLEST[need.unit]
        ranges = []
        for spot in self.spots:
            size = spot.step * SMALLEST[spot.offer.unit]
            top = -(-want // size) if self.usable(need, spot) else 0
            for limit in (spot.offer.pool, spot.arrival.most):
                top = top if limit is None else min(top, limit // spot.step)
            ranges.append([spot.step * count for count in range(top + 1)])
        for way in itertools.product(*ranges):
            used = [
                spot.step * SMALLEST[spot.offer.unit]
                for spot, amount in zip(self.spots, way, strict=True) if amount]
            if not used or self.given(way) - want < min(used):
                yield way

    def delay_of(self, number: int, way: tuple[int, ...]) -> int | None:
        """By how much a need, by its place, is late; None if it isn't wholly filled."""
        need = self.needs[number]
        if self.given(way) < need.quantity * SMALLEST[need.unit]:
            return None
        return max(self.delay(need, spot) for spot, amount in zip(self.spots, way, strict=True) if amount)

    def given(self, way: tuple[int, ...]) -> int:
        return sum(amount * SMALLEST[spot.offer.unit] for spot, amount in zip(self.spots, way, strict=True))

    def usable(self, need: Need, spot: Spot) -> bool:
        if spot.offer.item not in need.acceptable:
            return False
        if MEASURES.get(need.unit, need.unit) != MEASURES.get(spot.offer.unit, spot.offer.unit):
            return False
        if not spot.own and (not need.may_order or not spot.arrival.prices):
            return False
        if (spot.trip or not spot.own) and spot.slot.cut_off is not None and not self.now < spot.slot.cut_off:
            return False
        day = max(need.wanted_at, spot.slot.ready, self.now).astimezone(need.wanted_at.tzinfo).date()
        return spot.offer.use_by is None or day <= spot.offer.use_by

    def pools_hold(self, taken: tuple[tuple[int, ...], ...]) -> bool:
        pools: dict[int, int] = {}
        for at, spot in enumerate(self.spots):
            amount = sum(way[at] for way in taken)
            pools[spot.pool] = pools.get(spot.pool, 0) + amount
            if spot.arrival.most is not None and amount > spot.arrival.most:
                return False
        return all(spot.offer.pool is None or pools[spot.pool] <= spot.offer.pool for spot in self.spots)

    def circuits_hold(self, taken: tuple[tuple[int, ...], ...]) -> bool:
        items: dict[tuple[int, str], set[str]] = {}
        for need, way in zip(self.needs, taken, strict=True):
            if need.circuit:
                mine = items.setdefault((need.booking, need.circuit), set())
                mine |= {spot.offer.item for spot, amount in zip(self.spots, way, strict=True) if amount}
        return all(len(mine) < 2 for mine in items.values())

    def wholes(self, taken: tuple[tuple[int, ...], ...]) -> Iterator[tuple[frozenset[str], int]]:
        """Every choice of a way for each binding under which no need of another way is given anything: the names of the
        needs that count, and what the ways add to the preference."""
        numbers: dict[tuple[int, str], set[int]] = {}
        for need in self.needs:
            if need.binding:
                numbers.setdefault((need.booking, need.binding), set()).update(need.ways)
        for choice in itertools.product(*numbers.values()):
            way_of = dict(zip(numbers, choice, strict=True))
            on = [not need.binding or way_of[need.booking, need.binding] in need.ways for need in self.needs]
            if all(here or not any(way) for here, way in zip(on, taken, strict=True)):
                yield frozenset(need.name for need, here in zip(self.needs, on, strict=True) if here), sum(
                    way_of[need.booking, need.binding] * need.quantity * SMALLEST[need.unit]
                    for need, here in zip(self.needs, on, strict=True) if here and need.binding)

    def money(self, taken: tuple[tuple[int, ...], ...]) -> int | None:
        """The least money that buys what is taken; None if it can't be bought."""
        asked = tuple(0 if spot.own else sum(way[at] for way in taken) for at, spot in enumerate(self.spots))
        if asked not in self.money_for:
            self.money_for[asked] = self.cheapest(asked)
        return self.money_for[asked]

    def cheapest(self, asked: tuple[int, ...]) -> int | None:
        lines = [spot for spot in self.spots if asked[spot.number]]
        options = [list(self.purchases(spot, asked[spot.number])) for spot in lines]
        best = None
        for bought in itertools.product(*options):
            pools: dict[int, int] = {}
            orders: dict[tuple[str, str], tuple[Slot, int]] = {}
            for spot, (amount, price) in zip(lines, bought, strict=True):
                pools[spot.pool] = pools.get(spot.pool, 0) + amount
                before = orders.get((spot.source, spot.slot.name), (spot.slot, 0))[1]
                orders[spot.source, spot.slot.name] = (spot.slot, before + price)
            if any(spot.offer.pool is not None and pools[spot.pool] > spot.offer.pool for spot in lines):
                continue
            if any(price < slot.minimum for slot, price in orders.values()):
                continue
            money = sum(price + slot.fee for slot, price in orders.values())
            best = money if best is None else min(best, money)
        return best

    def purchases(self, spot: Spot, asked: int) -> Iterator[tuple[int, int]]:
        """Every amount that may be bought to cover what is asked, with its price."""
        packs = [pack for pack in spot.offer.packs if pack % spot.step == 0] if spot.offer.packs else [spot.step]
        reached = {0}
        for _ in range(MOST_BOUGHT):
            reached |= {sum_ + pack for sum_ in reached for pack in packs if sum_ + pack <= MOST_BOUGHT * spot.step}
        for amount in sorted(reached - {0}):
            if amount < asked or amount < spot.offer.least:
                continue
            if spot.arrival.most is not None and amount > spot.arrival.most:
                continue
            prices = [price for price in spot.arrival.prices if amount >= price.least]
            if prices:
                price = sorted(prices, key=lambda price: price.least)[-1]
                exact = Fraction(amount * price.minor, price.per) + Fraction(1, 2)
                yield amount, exact.numerator // exact.denominator

    def worth(self, taken: tuple[tuple[int, ...], ...], money: int, on: frozenset[str], preference: int) -> Worth:
        vor = {need.booking for need in self.needs if need.vor}
        delays: dict[int, int] = {need.booking: 0 for need in self.needs}
        short: set[int] = set()
        trips = {
            (spot.source, spot.slot.name): spot.slot.fee for way in taken
            for spot, amount in zip(self.spots, way, strict=True) if amount and spot.trip}
        money += sum(trips.values())
        missing = missing_amount = changes = use_by = lots = 0
        for need, way in zip(self.needs, taken, strict=True):
            lack = need.quantity * SMALLEST[need.unit] - self.given(way)
            if lack > 0 and need.name in on:
                short.add(need.booking)
                missing, missing_amount = missing + 1, missing_amount + lack
            for spot, milli in zip(self.spots, way, strict=True):
                if milli:
                    delays[need.booking] = max(delays[need.booking], self.delay(need, spot))
                    amount = milli * SMALLEST[spot.offer.unit]
                    use_by += amount * self.earlier(spot, _day)
                    lots += amount * self.earlier(spot, _lot)
                    preference += amount * need.acceptable.index(spot.offer.item)
            changes += sum(self.kept(held, way) < held.quantity for held in need.held)
        late = {booking for booking, delay in delays.items() if delay and booking not in short}
        return (
            len(short & vor), len(short - vor), len((short | late) & vor), len((short | late) - vor),
            sum(delays[booking] for booking in late & vor), sum(delays[booking] for booking in late - vor),
            missing, missing_amount, money, changes, use_by, lots, preference)

    def delay(self, need: Need, spot: Spot) -> int:
        """Whole seconds begun; what is here already is in time."""
        if spot.own and spot.slot.ready <= self.now:
            return 0
        arrives = spot.slot.ready if spot.own else max(spot.slot.ready, self.now)
        late = (arrives - need.wanted_at) / timedelta(seconds=1)
        return max(0, int(late) + (late > int(late)))

    def earlier(self, spot: Spot, what) -> int:  # type: ignore[no-untyped-def]
        """How many different earlier days, or lots, own stock of the item has; what is bought comes after all days."""
        if not spot.own:
            days: dict[str, set[tuple[bool, str]]] = {}
            for one in self.spots:
                if one.own:
                    days.setdefault(one.offer.item, set()).add(_day(one))
            return max(map(len, days.values()), default=0) if what is _day else 0
        others = {what(one) for one in self.spots if one.own and one.offer.item == spot.offer.item}
        return sum(one < what(spot) for one in others)

    def kept(self, held, way: tuple[int, ...]) -> int:  # type: ignore[no-untyped-def]
        return sum(
            amount for spot, amount in zip(self.spots, way, strict=True)
            if (spot.source, spot.offer.item, spot.offer.lot, spot.slot.name)
            == (held.source, held.item, held.lot, held.slot))


def _day(spot: Spot) -> tuple[bool, str]:
    """What lies here comes before what a trip brings, whatever its day."""
    return spot.trip, str(spot.offer.use_by or "9999-99-99")


def _lot(spot: Spot) -> tuple[bool, str, str]:
    padded = re.sub(r"[0-9]+", lambda digits: digits[0].zfill(12), spot.offer.lot)
    return spot.offer.lot == "", padded, spot.offer.lot
