"""From the works of a window to holds and order proposals: what is needed, the plan, and what it changes."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import msgspec

from kitbuilder import amount
from kitbuilder.model.catalogue import Item
from kitbuilder.model.offer import Arrival, Offer, Quote, Slot
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.model.plan import Held, Need, Plan, Supply
from kitbuilder.model.shelf import HoldRow, Promise
from kitbuilder.workshop.needs import needs_of, reserves_of
from kitbuilder.workshop.work import Work

#: The slot that the own shelf's offers are in.
NOW = "now"


class Asked(msgspec.Struct, frozen=True):
    """What a window needs: to be sourced, and to be reserved from the shelf only."""

    needs: tuple[Need, ...]
    reserves: tuple[Need, ...]


class Changes(msgspec.Struct, frozen=True):
    """What a plan changes: holds to let go (ids), promises to make, the open proposals as they should be."""

    release: tuple[int, ...]
    promises: tuple[Promise, ...]
    orders: tuple[OrderRow, ...]


def what_is_needed(works: Sequence[Work], holds: Sequence[HoldRow], orders: Sequence[OrderRow],
                   acceptable: Mapping[str, tuple[str, ...]], shelf: str) -> Asked:
    """The needs of all works, less what is being picked, picked or issued, and less what is ordered already."""
    planned: dict[str, list[Held]] = {}
    settled: dict[str, list[tuple[int, str]]] = {}
    for hold in holds:
        if hold.state == "planned":
            planned.setdefault(hold.need, []).append(Held(shelf, hold.item, hold.lot, NOW, hold.quantity))
        else:
            settled.setdefault(hold.need, []).append((hold.quantity, hold.unit))
    for order in orders:
        if order.state == "ordered":
            units = {line.item: line.unit for line in order.lines}
            for one in order.wanted_for:
                settled.setdefault(one.need, []).append((one.quantity, units[one.item]))
    needs: list[Need] = []
    reserves: list[Need] = []
    for work in works:
        one = (work.booking, work.lines, work.starts, work.totals, acceptable, planned)
        needs += needs_of(*one)
        reserves += reserves_of(*one)
    return Asked(_less(needs, settled), _less(reserves, settled))


def _less(needs: Sequence[Need], settled: Mapping[str, Sequence[tuple[int, str]]]) -> tuple[Need, ...]:
    found = []
    for need in needs:
        left = need.quantity - sum(
            amount.convert(quantity, unit, need.unit) for quantity, unit in settled.get(need.name, ()))
        if left > 0:
            found.append(msgspec.structs.replace(need, quantity=left))
    return tuple(found)


def own_supply(source: str, quote: Quote, holds: Sequence[HoldRow], window: set[int], today: datetime) -> Supply:
    """The shelf as a plan may use it: what is free, and what is only planned for the window; no lot past its use-by."""
    back: dict[tuple[str, str], int] = {}
    for hold in holds:
        if hold.state == "planned" and hold.booking in window:
            back[hold.item, hold.lot] = back.get((hold.item, hold.lot), 0) + hold.quantity
    offers = []
    known = {(offer.item, offer.lot) for offer in quote.offers}
    for offer in quote.offers:
        if offer.use_by is None or offer.use_by >= today.date():
            pool = None if offer.pool is None else offer.pool + back.get((offer.item, offer.lot), 0)
            offers.append(msgspec.structs.replace(offer, pool=pool))
    for (item, lot), quantity in back.items():
        if (item, lot) not in known:  # all of it was planned, so the shelf offered none
            hold = next(one for one in holds if (one.item, one.lot) == (item, lot))
            if hold.use_by is None or hold.use_by >= today.date():
                offers.append(Offer(
                    item=item, unit=hold.unit, pool=quantity, lot=lot, use_by=hold.use_by,
                    arrivals=(Arrival(slot=NOW, sureness="on the shelf"),)))
    slots = quote.slots if any(slot.name == NOW for slot in quote.slots) else (
        *quote.slots, Slot(name=NOW, ready=quote.as_of))
    return Supply(source, True, msgspec.structs.replace(quote, offers=tuple(offers), slots=slots))


def changes_of(site: str, day: str, plan: Plan, asked: Asked, supplies: Sequence[Supply], holds: Sequence[HoldRow],
               window: set[int], items: Mapping[str, Item], now: datetime) -> Changes:
    """What is to be done so that holds and proposals are the plan's; what is so already is left alone."""
    own = {supply.source for supply in supplies if supply.own}
    booking_of = {need.name: need.booking for need in (*asked.needs, *asked.reserves)}
    wanted: dict[str, Promise] = {}
    for one in plan.allocations:
        if one.source in own:
            key = f"{one.need}|{one.item}|{one.lot}"
            quantity = wanted[key].quantity + one.quantity if key in wanted else one.quantity
            wanted[key] = Promise(key, booking_of[one.need], one.need, one.item, one.lot, quantity)
    for promise in _reserved(asked.reserves, plan, supplies, items):
        wanted[promise.key] = promise
    have: dict[str, list[HoldRow]] = {}
    for hold in holds:
        if hold.state == "planned" and hold.booking in window:
            have.setdefault(hold.key, []).append(hold)
    same = {
        key for key, rows in have.items()
        if key in wanted and sum(row.quantity for row in rows) == wanted[key].quantity}
    release = sorted(row.id for key, rows in have.items() if key not in same for row in rows)
    promises = tuple(wanted[key] for key in sorted(wanted) if key not in same)
    return Changes(tuple(release), promises, tuple(_orders(site, day, plan, booking_of, supplies, own, now)))


def _reserved(reserves: Sequence[Need], plan: Plan, supplies: Sequence[Supply],
              items: Mapping[str, Item]) -> list[Promise]:
    """What open questions may take more, from what the plan leaves on the shelf: earliest start first."""
    left: dict[tuple[str, str], int] = {}
    lots: dict[str, list[tuple[bool, str, str]]] = {}
    for supply in supplies:
        for offer in supply.quote.offers if supply.own else ():
            left[offer.item, offer.lot] = left.get((offer.item, offer.lot), 0) + (offer.pool or 0)
            use_by = offer.use_by.isoformat() if offer.use_by else ""
            lots.setdefault(offer.item, []).append((offer.use_by is None, use_by, offer.lot))
    for one in plan.allocations:
        if (one.item, one.lot) in left:
            left[one.item, one.lot] -= one.quantity
    found = []
    for need in sorted(reserves, key=lambda one: (not one.vor, one.wanted_at, one.name)):
        short = need.quantity
        for item in need.acceptable:
            unit = items[item].unit if item in items else need.unit
            for _, _, lot in sorted(set(lots.get(item, []))):
                free = amount.convert(left[item, lot], unit, need.unit)
                taken = min(short, free)
                if taken <= 0:
                    continue
                quantity = amount.parse(amount.show(taken), need.unit, unit)
                left[item, lot] -= quantity
                short -= taken
                found.append(Promise(f"{need.name}|{item}|{lot}", need.booking, need.name, item, lot, quantity))
    return found


def _orders(site: str, day: str, plan: Plan, booking_of: Mapping[str, int], supplies: Sequence[Supply],
            own: set[str], now: datetime) -> list[OrderRow]:
    quotes = {supply.source: supply.quote for supply in supplies}
    found = []
    for source, slot_name in sorted({(one.source, one.slot) for one in plan.purchases}):
        quote = quotes[source]
        slot = next(one for one in quote.slots if one.name == slot_name)
        units = {offer.item: offer.unit for offer in quote.offers}
        lines = tuple(
            OrderedLine(one.item, units[one.item], one.quantity, one.packs, one.minor)
            for one in sorted(plan.purchases) if (one.source, one.slot) == (source, slot_name))
        wanted: dict[tuple[str, str], int] = {}
        for one in plan.allocations:
            if (one.source, one.slot) == (source, slot_name) and one.source not in own:
                wanted[one.item, one.need] = wanted.get((one.item, one.need), 0) + one.quantity
        found.append(OrderRow(
            key=f"{site}|{day}|{source}|{slot_name}", site=site, source=source, slot=slot_name, ready=slot.ready,
            cut_off=slot.cut_off, currency=quote.currency, fee=slot.fee, state="proposed", proposed_at=now, lines=lines,
            wanted_for=tuple(
                OrderedFor(item, booking_of[need], need, quantity) for (item, need), quantity in sorted(wanted.items()))))
    return found
