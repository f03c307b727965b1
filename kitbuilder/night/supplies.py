"""The sources' answers as a plan may use them, and what to tell of those that it can't."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.calendar.ago import ago
from kitbuilder.model.offer import Arrival, Offer, Quote, Slot
from kitbuilder.model.order import OrderRow
from kitbuilder.model.plan import Allocation, Held, Need, Supply
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.transfer import Carried, order_of
from kitbuilder.stock.quoting import Answer

#: The slot that the own shelf's offers are in.
NOW = "now"


class Supplies(NamedTuple):
    """What a plan may use; which sources failed, wholly or for some items, in words by source; what else is to be
    looked at; the sources of which nothing is known, so that what they were asked for stands; by need, what is held for
    it at other sites, to be brought by a van; the other sites that all this is about."""

    supplies: list[Supply]
    failed: dict[str, str]
    attention: list[str]
    silent: set[str]
    brought: dict[str, list[Held]]
    elsewhere: "Elsewhere"


class Elsewhere(NamedTuple):
    """What is to be known of the other sites of the store: which there are, what is planned to be brought from them,
    and the open proposals that say with which van."""

    sites: Collection[str] = ()
    carried: Sequence[Carried] = ()
    proposed: Sequence[OrderRow] = ()


def supplies_of(answers: Sequence[Answer], shelf: str, currency: str, holds: Sequence[HoldRow],
                movable: set[int], now: datetime, elsewhere: Elsewhere | None = None) -> Supplies:
    """The supplies of a night; `shelf` is the own one, `movable` the bookings whose planned holds may be moved."""
    others = elsewhere or Elsewhere()
    found = Supplies([], {}, [], set(), {}, others)
    of_site: dict[str, str] = {}
    for answer in answers:
        quote = answer.quote
        error = answer.error
        if quote is not None and error is None and answer.source != shelf:
            error = _refused(quote, currency, others.sites, of_site)
        if quote is None or error is not None:
            stop = "" if str(error).endswith((".", "?", "!")) else "."
            found.failed[answer.source] = f"The source {answer.source} failed: {error}{stop} What it has is not known."
            found.silent.add(answer.source)
            continue
        if quote.unreadable:
            items = "; ".join(f"{item} ({why})" for item, why in sorted(quote.unreadable.items()))
            found.failed[answer.source] = f"The source {answer.source} can't tell what it has of {items}."
        if answer.state == "stale":
            told = ago(answer.age_s or 0)
            why = f" It is its last good answer: {quote.kept}." if quote.kept else ""
            found.attention.append(f"The source {answer.source} is stale, told {told}.{why}")
        if answer.source == shelf:
            found.supplies.append(own_supply(answer.source, quote, holds, movable, now))
        elif quote.site:
            of_site[quote.site] = answer.source
            supply, held = brought_supply(answer.source, quote, others)
            found.supplies.append(supply)
            for need, some in held.items():
                found.brought.setdefault(need, []).extend(some)
        else:
            found.supplies.append(Supply(answer.source, False, _once_a_slot(quote)))
    # what lies here by now needs no trip, though one is planned
    here = {offer.item for supply in found.supplies if supply.own and not supply.transfer
            for offer in supply.quote.offers}
    for need, some in found.brought.items():
        found.brought[need] = [one for one in some if one.item not in here]
    return found


def _refused(quote: Quote, currency: str, sites: Collection[str], of_site: Mapping[str, str]) -> str | None:
    """What is wrong with a source's answer as a whole."""
    if quote.offers and quote.currency != currency:
        return f"its prices are in {quote.currency}, expected {currency}, that of the catalogue"
    if quote.site and quote.site not in sites:
        return f"it brings from {quote.site!r}, which is no other site of the store"
    if quote.site in of_site:
        return (f"it brings from {quote.site}, as {of_site[quote.site]} does, so that what lies there would count "
                "twice; give all its vans to one of them")
    return None


def brought_supply(source: str, quote: Quote, others: Elsewhere) -> tuple[Supply, dict[str, list[Held]]]:
    """Another site's shelf as a plan may use it: what is free there, and what is only planned to be brought here; and
    what is so planned for each need."""
    orders = {order.key: order for order in others.proposed if order.source == source}
    back: dict[tuple[str, str], int] = {}
    held: dict[str, list[Held]] = {}
    kept: dict[tuple[str, str], HoldRow] = {}
    for at, hold in ((one.site, one.hold) for one in others.carried):
        if at != quote.site or hold.state != "planned":
            continue
        key = (hold.item, hold.lot)
        kept.setdefault(key, hold)
        back[key] = back.get(key, 0) + hold.quantity
        if order_of(hold) in orders:
            of_need = held.setdefault(hold.need, [])
            slot = orders[order_of(hold)].slot
            before = next((one for one in of_need if (one.item, one.lot, one.slot) == (*key, slot)), None)
            if before is not None:
                of_need.remove(before)
            of_need.append(Held(source, hold.item, hold.lot, slot, hold.quantity + (before.quantity if before else 0)))
    offers = [
        msgspec.structs.replace(
            offer, pool=None if offer.pool is None else offer.pool + back.get((offer.item, offer.lot), 0),
            arrivals=tuple(msgspec.structs.replace(one, prices=()) for one in offer.arrivals))
        for offer in quote.offers]
    known = {(offer.item, offer.lot) for offer in quote.offers}
    arrivals = tuple(Arrival(slot=slot.name, sureness="confirmed") for slot in quote.slots)
    offers += [
        Offer(item=item, unit=hold.unit, pool=back[item, lot], lot=lot, use_by=hold.use_by, arrivals=arrivals)
        for (item, lot), hold in kept.items() if (item, lot) not in known and arrivals]
    return Supply(source, True, msgspec.structs.replace(quote, offers=tuple(offers)), transfer=True), held


def own_supply(source: str, quote: Quote, holds: Sequence[HoldRow], movable: set[int], now: datetime) -> Supply:
    """The shelf as a plan may use it: what is free, and what is only planned for movable bookings; no lot past its
    use-by day."""
    back: dict[tuple[str, str], int] = {}
    for hold in holds:
        if hold.state == "planned" and hold.booking in movable:
            back[hold.item, hold.lot] = back.get((hold.item, hold.lot), 0) + hold.quantity
    offers = []
    known = {(offer.item, offer.lot) for offer in quote.offers}
    for offer in quote.offers:
        pool = None if offer.pool is None else offer.pool + back.get((offer.item, offer.lot), 0)
        offers.append(msgspec.structs.replace(offer, pool=pool))
    for (item, lot), quantity in back.items():
        if (item, lot) not in known:  # all of it was planned, so the shelf offered none
            hold = next(one for one in holds if (one.item, one.lot) == (item, lot))
            offers.append(Offer(
                item=item, unit=hold.unit, pool=quantity, lot=lot, use_by=hold.use_by,
                arrivals=(Arrival(slot=NOW, sureness="on the shelf"),)))
    slots = quote.slots if any(slot.name == NOW for slot in quote.slots) else (
        *quote.slots, Slot(name=NOW, ready=now))
    usable = tuple(offer for offer in offers if offer.use_by is None or offer.use_by >= now.date())
    return Supply(source, True, msgspec.structs.replace(quote, offers=usable, slots=slots))


def _once_a_slot(quote: Quote) -> Quote:
    """A quote in which each item comes once a slot: an order line has one price. Rows of one item and slot add up at
    the dearer price, so that nothing turns out to cost more than was told; what can't be added up counts once."""
    offers: list[Offer] = []
    at: dict[tuple[str, str], int] = {}
    for offer in quote.offers:
        new = tuple(one for one in offer.arrivals if (offer.item, one.slot) not in at)
        if not new and len(offer.arrivals) == 1:
            number = at[offer.item, offer.arrivals[0].slot]
            offers[number] = _added(offers[number], offer)
        elif new:
            at |= {(offer.item, one.slot): len(offers) for one in new}
            offers.append(msgspec.structs.replace(offer, arrivals=new))
    return msgspec.structs.replace(quote, offers=tuple(offers))


def _added(one: Offer, other: Offer) -> Offer:
    first, second = one.arrivals[0], other.arrivals[0]
    alike = (one.unit, one.packs, one.least, one.deposit) == (other.unit, other.packs, other.least, other.deposit)
    if not alike or len(one.arrivals) > 1 or len(first.prices) != 1 or len(second.prices) != 1:
        return one
    price = max(first.prices[0], second.prices[0], key=lambda price: price.minor / price.per)
    pool = None if one.pool is None or other.pool is None else one.pool + other.pool
    most = None if first.most is None or second.most is None else first.most + second.most
    arrival = msgspec.structs.replace(first, prices=(price,), most=most)
    return msgspec.structs.replace(one, pool=pool, arrivals=(arrival,))


def left_over(supplies: Iterable[Supply], allocations: Iterable[Allocation]) -> list[Supply]:
    """What lies here of the own supplies, less what is allocated of it."""
    taken: dict[tuple[str, str, str], int] = {}
    for one in allocations:
        key = (one.source, one.item, one.lot)
        taken[key] = taken.get(key, 0) + one.quantity
    found = []
    for supply in supplies:
        if supply.own and not supply.transfer:
            offers = [
                msgspec.structs.replace(
                    offer, pool=None if offer.pool is None else
                    offer.pool - taken.get((supply.source, offer.item, offer.lot), 0))
                for offer in supply.quote.offers]
            offers = [offer for offer in offers if offer.pool is None or offer.pool > 0]
            found.append(Supply(supply.source, True, msgspec.structs.replace(supply.quote, offers=tuple(offers))))
    return found


#: Source, slot, item: an arrival that a person doesn't want.
Refused = tuple[str, str, str]


def refused_of(cancelled: Iterable[OrderRow], needs: Iterable[Need],
               supplies: Iterable[Supply]) -> dict[Refused, OrderRow]:
    """What a person cancelled, or a supplier refused wholly or in part, and somebody still needs, so that another way
    is looked for: by source, slot and item."""
    needed = list(needs)
    wanted = {need.name for need in needed}
    lacking = {item for need in needed for item in need.acceptable}
    slots = {(supply.source, slot.name): slot.ready for supply in supplies for slot in supply.quote.slots}
    return {
        (order.source, order.slot, line.item): order
        for order in cancelled if slots.get((order.source, order.slot)) == order.ready
        for line in order.lines
        if (line.item in lacking and line.confirmed is not None and line.confirmed < line.quantity
            if order.state == "part" else
            any(one.need in wanted and one.item == line.item for one in order.wanted_for))}


def without(supplies: Iterable[Supply], refused: Iterable[Refused]) -> list[Supply]:
    """Supplies without some arrivals."""
    gone = set(refused)
    found = []
    for supply in supplies:
        offers = []
        for offer in supply.quote.offers:
            kept = tuple(one for one in offer.arrivals if (supply.source, one.slot, offer.item) not in gone)
            if kept:
                offers.append(msgspec.structs.replace(offer, arrivals=kept))
        here = supply.own and not supply.transfer
        found.append(supply if here else msgspec.structs.replace(
            supply, quote=msgspec.structs.replace(supply.quote, offers=tuple(offers))))
    return found
