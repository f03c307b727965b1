"""Draws small sourcing cases in which packs, fees, minimums, breaks, lots, circuits and cut-offs bind."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import msgspec
from hypothesis import strategies as st

from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Held, Need, Supply

NOW = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)
ITEMS = ("A", "B")
DAYS = (None, date(2026, 3, 10), date(2026, 3, 12), date(2026, 9, 1))


def hours(count: float) -> datetime:
    """So many hours from now."""
    return NOW + timedelta(hours=count)


def rarely(strategy: st.SearchStrategy, usual: object) -> st.SearchStrategy:
    return st.one_of(st.just(usual), st.just(usual), strategy)


@st.composite
def needs(draw: st.DrawFn, unit: str, unit_size: int) -> list[Need]:
    found = []
    for number in range(draw(st.integers(1, 3))):
        held = tuple(
            Held("shelf", item, lot, "here", amount * unit_size) for item, lot, amount in draw(rarely(st.lists(
                st.tuples(st.sampled_from(ITEMS), st.sampled_from(("2", "10", "7")), st.integers(1, 2)),
                max_size=2, unique_by=lambda one: one[:2]), [])))
        found.append(Need(
            name=f"n{number}", booking=draw(st.integers(1, 2)), vor=draw(rarely(st.just(True), False)),
            acceptable=draw(st.sampled_from((("A",), ("B",), ("A", "B"), ("B", "A")))),
            quantity=draw(st.integers(1, 3)) * unit_size, unit=unit,
            wanted_at=hours(draw(st.sampled_from((-5, 20, 40)))), may_order=draw(rarely(st.just(False), True)),
            circuit=draw(rarely(st.just("oil"), "")), held=held))
    return found


@st.composite
def own(draw: st.DrawFn, source: str, slots: dict[str, float], lots: tuple[str, ...], unit: str, size: int) -> Supply:
    offers = []
    for item in ITEMS:
        for lot in draw(st.lists(st.sampled_from(lots), max_size=2, unique=True)):
            arrivals = tuple(
                Arrival(slot=slot, sureness="on the shelf", most=draw(rarely(st.just(size), None))) for slot in slots)
            offers.append(Offer(
                item=item, unit=unit, pool=draw(st.one_of(st.none(), *[st.integers(0, 3).map(size.__mul__)] * 4)),
                arrivals=arrivals, lot=lot, use_by=draw(st.sampled_from(DAYS)) if lot else None))
    made = tuple(Slot(name=name, ready=hours(ready)) for name, ready in slots.items())
    unreadable = draw(rarely(st.just({"B": "the cell says many"}), {}))
    quote = Quote(as_of=NOW, currency="EUR", slots=made, offers=tuple(offers), unreadable=unreadable)
    return Supply(source, True, quote)


@st.composite
def brought(draw: st.DrawFn, source: str, unit: str, size: int) -> Supply:
    """Own stock elsewhere, with two trips of which each may cost something."""
    made = draw(own(source, {"noon": 10, "night": 22}, ("2", "7"), unit, size))
    slots = tuple(
        Slot(name=slot.name, ready=slot.ready, fee=draw(st.sampled_from((0, 60, 250))),
             cut_off=draw(rarely(st.sampled_from((hours(0), hours(1))), None)))
        for slot in made.quote.slots)
    return Supply(source, True, msgspec.structs.replace(made.quote, slots=slots), transfer=True)


@st.composite
def bought(draw: st.DrawFn, source: str, unit: str, size: int) -> Supply:
    ready = {"next": 18, "later": 42}
    slots = tuple(
        Slot(name=name, ready=hours(after), cut_off=draw(rarely(st.sampled_from((hours(0), hours(-1))), hours(1))),
             fee=draw(st.sampled_from((0, 0, 90, 400))), minimum=draw(rarely(st.sampled_from((150, 260)), 0)))
        for name, after in ready.items())
    offers = []
    for item in draw(st.lists(st.sampled_from(ITEMS), max_size=2, unique=True)):
        arrivals: list[Arrival] = []
        alike = draw(st.booleans())
        for slot in draw(st.lists(st.sampled_from(tuple(ready)), min_size=1, max_size=2, unique=True)):
            if alike and arrivals:
                arrivals.append(msgspec.structs.replace(arrivals[0], slot=slot))
                continue
            base = draw(st.sampled_from((100, 130, 77)))
            per = draw(st.sampled_from((size, size, 3 * size)))
            prices = [Price(minor=base, per=per, least=draw(rarely(st.just(2 * size), 0)))]
            if draw(st.booleans()):
                prices.append(Price(minor=base * draw(st.sampled_from((50, 80))) // 100, per=per, least=3 * size))
            arrivals.append(Arrival(
                slot=slot, sureness="promised", prices=tuple(draw(rarely(st.just([]), prices))),
                most=draw(rarely(st.integers(1, 4).map(size.__mul__), None))))
        offers.append(Offer(
            item=item, unit=unit, arrivals=tuple(arrivals),
            pool=draw(rarely(st.integers(0, 5).map(size.__mul__), None)),
            packs=draw(st.sampled_from(((), (size,), (2 * size,), (3 * size, 2 * size), (size, 3 * size)))),
            least=draw(rarely(st.just(2 * size), 0))))
    return Supply(source, False, Quote(as_of=NOW, currency="EUR", slots=slots, offers=tuple(offers)))


@st.composite
def cases(draw: st.DrawFn) -> tuple[list[Need], list[Supply]]:
    """Needs and supplies, in counted units, or in thousandths of a measured one."""
    unit, size = draw(st.sampled_from((("each", 1000), ("L", 1))))
    supplies = [
        draw(own("shelf", {"here": -1}, ("2", "10", "7"), unit, size)),
        draw(bought("north", unit, size)),
    ]
    if draw(st.booleans()):
        supplies.append(draw(own("coming", {"monday": 24}, ("",), unit, size)))
    elif draw(st.booleans()):
        supplies.append(draw(brought("van", unit, size)))
    else:
        supplies.append(draw(bought("south", unit, size)))
    return draw(needs(unit, size)), supplies
