"""Sourcing as a CP-SAT model: a peer to measure against, and a judge of what is proven, on sizes that no exhaustive
search reaches.

It shares no code with kitbuilder's sourcing: it is written from what `Need`, `Supply` and `Value` say. Each amount that
a need takes must be a whole number of the offer's steps (ValueError else). The levels are minimised one by one, each
proven before the next; one worker with `linearization_level=2` is the setting that proves these models soonest.
"""

from __future__ import annotations

import re
import time
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from ortools.sat.python import cp_model

from kitbuilder.model.offer import Arrival, Offer, Slot
from kitbuilder.model.plan import Need, Supply

UNITS = {"L": ("volume", 1000), "mL": ("volume", 1), "kg": ("mass", 1000), "g": ("mass", 1), "m": ("length", 1000),
         "mm": ("length", 1)}


class Spot(NamedTuple):
    """One offer in one slot; `size`: one step of it in smallest units."""

    source: str
    own: bool
    offer: Offer
    arrival: Arrival
    slot: Slot
    pool: int
    size: int


class Answer(NamedTuple):
    """What the levels come to, in the order of the fields of `Value`, as far as they are proven in time."""

    levels: list[int]
    proven: bool


def solve(needs: Sequence[Need], supplies: Sequence[Supply], now: datetime, seconds: float) -> Answer:
    """The least levels, each proven, as far as the time goes."""
    deadline = time.monotonic() + seconds
    peer = _Peer(needs, supplies, now)
    found: list[int] = []
    values: list[int] | None = None
    for level in peer.levels:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 2
        solver.parameters.max_time_in_seconds = max(0.01, deadline - time.monotonic())
        if isinstance(level, int):
            found.append(level)
            continue
        peer.model.minimize(level)
        if values is not None:
            peer.model.clear_hints()
            for at, value in enumerate(values):
                peer.model.add_hint(peer.model.get_int_var_from_proto_index(at), value)
        if solver.solve(peer.model) != cp_model.OPTIMAL:
            return Answer(found, False)
        found.append(round(solver.objective_value))
        peer.model.add(level == found[-1])
        values = list(solver.response_proto.solution)
    return Answer(found, True)


class _Peer:
    def __init__(self, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime) -> None:
        self.model, self.now = cp_model.CpModel(), now
        self.spots: list[Spot] = []
        self._read(supplies)
        self.days, self.lots = self._earlier()
        self.last = max((len(set(days.values())) for days in self.days.values()), default=0)
        self.taken: dict[int, list[tuple[Any, int, int]]] = defaultdict(list)
        self.booking: dict[int, tuple[Any, dict[int, Any]]] = {}
        self.parts: list[list[Any]] = [[] for _ in range(13)]
        self._needs(needs)
        self._pools()
        self._lines()
        self.levels = [cp_model.LinearExpr.sum(part) if part else 0 for part in self.parts]

    def _read(self, supplies: Sequence[Supply]) -> None:
        pool = 0
        for supply in supplies:
            slots = {slot.name: slot for slot in supply.quote.slots}
            for offer in supply.quote.offers:
                pool += 1
                step = 1 if offer.unit in UNITS else 1000
                size = step * UNITS.get(offer.unit, ("", 1))[1]
                for arrival in offer.arrivals if offer.item not in supply.quote.unreadable else ():
                    slot = slots[arrival.slot]
                    if supply.own or (arrival.prices and (slot.cut_off is None or now_before(self.now, slot))):
                        self.spots.append(Spot(supply.source, supply.own, offer, arrival, slot, pool, size))

    def _earlier(self) -> tuple[dict[str, dict[str, int]], dict[str, dict[str, int]]]:
        """Of each item the ranks of the use-by days and of the lots in own stock."""
        days: dict[str, set[str]] = defaultdict(set)
        lots: dict[str, set[str]] = defaultdict(set)
        for spot in self.spots:
            if spot.own:
                days[spot.offer.item].add(_day(spot.offer))
                lots[spot.offer.item].add(spot.offer.lot)
        return ({item: {one: rank for rank, one in enumerate(sorted(all_))} for item, all_ in days.items()},
                {item: {one: rank for rank, one in enumerate(sorted(all_, key=_lot))} for item, all_ in lots.items()})

    def _needs(self, needs: Sequence[Need]) -> None:
        model = self.model
        vor = {need.booking for need in needs if need.vor}
        by_item: dict[str, list[int]] = defaultdict(list)
        for at, spot in enumerate(self.spots):
            by_item[spot.offer.item].append(at)
        usable = {need.name: [(at, self._delay(need, self.spots[at])) for item in dict.fromkeys(need.acceptable)
                              for at in by_item[item] if self._fits(need, self.spots[at])] for need in needs}
        delays: dict[int, set[int]] = defaultdict(set)
        for need in needs:
            delays[need.booking] |= {delay for _, delay in usable[need.name] if delay}
        for booking in sorted({need.booking for need in needs}):
            which = 0 if booking in vor else 1
            short = model.new_bool_var("")
            late = {delay: model.new_bool_var("") for delay in sorted(delays[booking])}
            self.parts[which].append(short)
            before, last = 0, None
            for delay, variable in late.items():
                if last is not None:
                    model.add_implication(variable, last)
                self.parts[4 + which].append((delay - before) * variable)
                before, last = delay, variable
            missed = model.new_bool_var("")
            model.add_implication(short, missed)
            if late:
                model.add_implication(late[min(late)], missed)
            self.parts[2 + which].append(missed)
            self.booking[booking] = (short, late)
        circuits: dict[tuple[int, str], dict[str, Any]] = defaultdict(dict)
        for need in needs:
            self._need(need, usable[need.name], circuits)
        for items in circuits.values():
            model.add_at_most_one(items.values())

    def _need(self, need: Need, usable: list[tuple[int, int]], circuits: dict[tuple[int, str], dict[str, Any]]) -> None:
        model = self.model
        want = need.quantity * UNITS.get(need.unit, ("", 1))[1]
        short, late = self.booking[need.booking]
        held = {(one.source, one.item, one.lot, one.slot): one.quantity for one in need.held}
        given = []
        for at, delay in usable:
            spot = self.spots[at]
            if want % spot.size:
                raise ValueError(f"{need.name}: {want} isn't a whole number of {spot.size}")
            most = want // spot.size
            steps = model.new_int_var(0, most, "")
            self.taken[at].append((steps, spot.size, most))
            given.append(spot.size * steps)
            if delay:
                model.add(steps <= most * (late[delay] + short))
            day, lot = self._ranks(spot)
            for field, rank in ((10, day), (11, lot), (12, need.acceptable.index(spot.offer.item))):
                if rank:
                    self.parts[field].append(rank * spot.size * steps)
            if need.circuit:
                items = circuits[need.booking, need.circuit]
                model.add(steps <= most * items.setdefault(spot.offer.item, model.new_bool_var("")))
            keep = held.pop((spot.source, spot.offer.item, spot.offer.lot, spot.slot.name), 0)
            if keep:
                changed = model.new_bool_var("")
                part = keep * UNITS.get(spot.offer.unit, ("", 1))[1]
                model.add(spot.size * steps + part * changed >= part)
                self.parts[9].append(changed)
        self.parts[9] += [1] * sum(one > 0 for one in held.values())
        lack, lacks = model.new_int_var(0, want, ""), model.new_bool_var("")
        model.add(cp_model.LinearExpr.sum(given) + lack == want)
        model.add(lack <= want * lacks)
        model.add_implication(lacks, short)
        self.parts[6].append(lacks)
        self.parts[7].append(lack)

    def _fits(self, need: Need, spot: Spot) -> bool:
        if UNITS.get(need.unit, (need.unit,))[0] != UNITS.get(spot.offer.unit, (spot.offer.unit,))[0]:
            return False
        if not spot.own and not need.may_order:
            return False
        day = max(need.wanted_at, spot.slot.ready, self.now).astimezone(need.wanted_at.tzinfo).date()
        return spot.offer.use_by is None or day <= spot.offer.use_by

    def _delay(self, need: Need, spot: Spot) -> int:
        if spot.own and spot.slot.ready <= self.now:
            return 0
        arrives = spot.slot.ready if spot.own else max(spot.slot.ready, self.now)
        return max(0, -((need.wanted_at - arrives) // timedelta(seconds=1)))

    def _ranks(self, spot: Spot) -> tuple[int, int]:
        if not spot.own:
            return self.last, 0
        return self.days[spot.offer.item][_day(spot.offer)], self.lots[spot.offer.item][spot.offer.lot]

    def _pools(self) -> None:
        pools: dict[int, list[Any]] = defaultdict(list)
        for at, pairs in self.taken.items():
            spot = self.spots[at]
            if not spot.own:
                continue
            factor = UNITS.get(spot.offer.unit, ("", 1))[1]
            amounts = [size * steps for steps, size, _ in pairs]
            pools[spot.pool] += amounts
            if spot.arrival.most is not None:
                self.model.add(cp_model.LinearExpr.sum(amounts) <= spot.arrival.most * factor)
        limits = {spot.pool: (spot.offer.pool, UNITS.get(spot.offer.unit, ("", 1))[1]) for spot in self.spots}
        for pool, amounts in pools.items():
            limit, factor = limits[pool]
            if limit is not None:
                self.model.add(cp_model.LinearExpr.sum(amounts) <= limit * factor)

    def _lines(self) -> None:
        model = self.model
        pools: dict[int, tuple[int | None, list[Any]]] = {}
        orders: dict[tuple[str, str], tuple[Slot, list[Any], list[Any]]] = {}
        for at, pairs in self.taken.items():
            spot = self.spots[at]
            if spot.own:
                continue
            offer, factor = spot.offer, UNITS.get(spot.offer.unit, ("", 1))[1]
            least_step = 1 if offer.unit in UNITS else 1000
            wanted = sum(size * most for _, size, most in pairs) // factor
            top = self._top(spot, wanted)
            packs = [pack for pack in offer.packs if pack % least_step == 0] if offer.packs else [least_step]
            if not packs:
                for steps, _, _ in pairs:
                    model.add(steps == 0)
                continue
            used = model.new_bool_var("")
            counts = [model.new_int_var(0, top // pack, "") for pack in packs]
            # in whole steps of the offer's unit
            amount = sum(pack // least_step * count for pack, count in zip(packs, counts, strict=True))
            model.add(amount <= top // least_step * used)
            model.add(amount >= max(-(-offer.least // least_step), 1) * used)
            model.add(cp_model.LinearExpr.sum([steps for steps, _, _ in pairs]) <= amount)
            # nothing is bought that nobody takes
            model.add(cp_model.LinearExpr.sum([steps for steps, _, _ in pairs]) >= used)
            for steps, _, most in pairs:
                model.add(steps <= most * used)  # follows from the others, and makes the bounds much tighter
            money = self._price(spot, amount, used, top, least_step)
            if spot.arrival.most is not None:
                model.add(amount <= spot.arrival.most // least_step)
            limit = None if offer.pool is None else offer.pool // least_step
            pools.setdefault(spot.pool, (limit, []))[1].append(amount)
            order = orders.setdefault((spot.source, spot.slot.name), (spot.slot, [], []))
            order[1].append(used)
            order[2].append(money)
        for limit, amounts in pools.values():
            if limit is not None:
                model.add(cp_model.LinearExpr.sum(amounts) <= limit)
        for slot, used, money in orders.values():
            opened = model.new_bool_var("")
            for one in used:
                model.add_implication(one, opened)
            self.parts[8] += [*money, slot.fee * opened]
            if slot.minimum:
                model.add(cp_model.LinearExpr.sum(money) >= slot.minimum * opened)

    def _top(self, spot: Spot, wanted: int) -> int:
        """Enough for every best plan: a pack beyond what is wanted, the last break, or the order's minimum."""
        dear = min((price.minor / price.per for price in spot.arrival.prices if price.minor), default=0)
        alone = int(spot.slot.minimum / dear) + 1 if dear else 0
        breaks = max(price.least for price in spot.arrival.prices)
        return max(wanted, alone, breaks, spot.offer.least) + max(spot.offer.packs or (1000,)) + 1000

    def _price(self, spot: Spot, amount: Any, used: Any, top: int, step: int) -> Any:
        """The price at the largest break that is reached, rounded half up."""
        model = self.model
        prices = sorted(spot.arrival.prices, key=lambda price: price.least)
        if len(prices) == 1 and prices[0].minor * step % prices[0].per == 0:
            model.add(step * amount >= prices[0].least * used)
            return prices[0].minor * step // prices[0].per * amount
        money = model.new_int_var(0, max(top * price.minor // price.per + 1 for price in prices), "")
        bands = []
        for number, price in enumerate(prices):
            chosen = model.new_bool_var("")
            bands.append(chosen)
            model.add(amount >= -(-price.least // step)).only_enforce_if(chosen)
            if number + 1 < len(prices):
                model.add(amount <= (prices[number + 1].least - 1) // step).only_enforce_if(chosen)
            if price.minor * step % price.per == 0:
                model.add(money == price.minor * step // price.per * amount).only_enforce_if(chosen)
            else:
                twice, per = 2 * price.minor * step * amount, price.per
                model.add(2 * per * money <= twice + per).only_enforce_if(chosen)
                model.add(2 * per * money > twice - per).only_enforce_if(chosen)
        model.add(cp_model.LinearExpr.sum(bands) == used)
        model.add(money == 0).only_enforce_if(used.negated())
        return money


def now_before(now: datetime, slot: Slot) -> bool:
    """Whether it can still be ordered."""
    return slot.cut_off is not None and now < slot.cut_off


def _day(offer: Offer) -> str:
    return str(offer.use_by or "9999-99-99")


def _lot(lot: str) -> tuple[bool, str, str]:
    return lot == "", re.sub(r"[0-9]+", lambda digits: digits[0].zfill(12), lot), lot
