"""Draws nights to be sourced: bookings of ten lines, a shelf, suppliers with slots, fees, packs and breaks."""

import random
from datetime import UTC, date, datetime, timedelta

from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Need, Supply

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)


def night(lines: int, *, scarce: bool, seed: int = 1) -> tuple[list[Need], list[Supply], datetime]:
    """Needs of so many lines and what there is: on a normal night nine items in ten lie on the shelf in plenty, on a
    scarce one the shelf holds about half."""
    draw = random.Random(f"{lines} {scarce} {seed}")
    items = [f"item {number:04}" for number in range(max(12, lines // 8))]
    needs = []
    for number in range(lines):
        booking = number // 10
        start = NOW + timedelta(hours=16) + timedelta(minutes=15 * random.Random(f"{seed} {booking}").randrange(200))
        item, other = draw.sample(items, 2)
        needs.append(Need(
            f"{number:05}", booking, booking % 20 == 7, (item, other) if draw.random() < 0.1 else (item,),
            1000 * draw.choice((1, 1, 1, 1, 2, 4)), "each", start + timedelta(minutes=15 * draw.randrange(8)),
            may_order=draw.random() < 0.95))
    return needs, [_shelf(draw, items, needs, scarce=scarce), *_suppliers(draw, items)], NOW


def _shelf(draw: random.Random, items: list[str], needs: list[Need], *, scarce: bool) -> Supply:
    offers = []
    for item in items:
        wanted = sum(need.quantity for need in needs if item in need.acceptable)
        plenty = draw.random() < (0.3 if scarce else 0.9)
        lots = draw.randrange(1, 4)
        for lot in range(lots):
            share = wanted if plenty else wanted * draw.choice((0, 1, 2)) // 4
            pool = share // lots // 1000 * 1000 + (1000 if plenty else 0)
            offers.append(Offer(
                item=item, unit="each", pool=pool, lot=f"L{lot}",
                arrivals=(Arrival(slot="now", sureness="on the shelf"),),
                use_by=date(2026, 4 + draw.randrange(6), 1) if draw.random() < 0.2 else None))
    slot = Slot(name="now", ready=NOW)
    return Supply("shelf", True, Quote(as_of=NOW, currency="EUR", slots=(slot,), offers=tuple(offers)))


def _suppliers(draw: random.Random, items: list[str]) -> list[Supply]:
    base = {item: draw.randrange(100, 9000) for item in items}
    found = []
    for number in range(8):
        fee = draw.choice((0, 450, 900, 1500))
        minimum = draw.choice((0, 0, 0, 5000))
        slots = tuple(
            Slot(name=name, ready=NOW + timedelta(hours=after), cut_off=NOW + timedelta(hours=1), fee=more + fee,
                 minimum=minimum) for name, after, more in (("morning", 15, 300), ("noon", 21, 0), ("late", 45, 0)))
        offers = []
        for item in items:
            if draw.random() > (1.0 if number == 0 else 0.3):
                continue
            price = base[item] * draw.randrange(90, 130) // 100
            prices = [Price(minor=price, per=1000)]
            if draw.random() < 0.2:
                prices.append(Price(minor=price * 9 // 10, per=1000, least=10_000))
            offers.append(Offer(
                item=item, unit="each", pool=None if draw.random() < 0.8 else 20_000, packs=draw.choice(
                    ((), (), (), (2000,), (5000, 1000))),
                arrivals=tuple(Arrival(slot=slot.name, sureness="promised", prices=tuple(prices))
                               for slot in slots if number == 0 or draw.random() < 0.7) or (
                    Arrival(slot="noon", sureness="promised", prices=tuple(prices)),)))
        found.append(Supply(
            f"supplier {number}", False, Quote(as_of=NOW, currency="EUR", slots=slots, offers=tuple(offers))))
    return found
