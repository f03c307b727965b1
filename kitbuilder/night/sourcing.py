"""From the works of a window to what is needed, and from the plans to holds and order proposals."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.model.plan import Allocation, Held, Need, Purchase, Supply
from kitbuilder.model.shelf import HoldRow, Promise
from kitbuilder.night.supplies import NOW
from kitbuilder.stock.ways import with_ways_settled
from kitbuilder.workshop.needs import is_reserve, needs_of, reserves_of
from kitbuilder.workshop.work import Work


class Asked(NamedTuple):
    """What a window needs, in the order in which it is served: what authorised bookings need for certain; what open
    questions may take more, from the shelf only; what enquiries need, from what then is left on the shelf."""

    needs: list[Need]
    reserves: list[Need]
    enquiries: list[Need]

    @property
    def every(self) -> list[Need]:
        """All needs."""
        return [*self.needs, *self.reserves, *self.enquiries]


class Changes(msgspec.Struct, frozen=True):
    """What plans change: holds to let go (ids), promises to make, the open proposals as they should be; promises to
    make at other sites (site and promise), from which a van brings it."""

    release: tuple[int, ...]
    promises: tuple[Promise, ...]
    orders: tuple[OrderRow, ...]
    there: tuple[tuple[str, Promise], ...] = ()


def what_is_needed(works: Collection[Work], holds: Sequence[HoldRow], orders: Sequence[OrderRow], shelf: str,
                   brought: Mapping[str, Sequence[Held]] | None = None) -> Asked:
    """The needs of all works, less what `orders` bring, less what is being picked, picked or issued.

    `shelf` is the source whose planned holds may be moved; "" if it can't be asked, so that they are settled too.
    `brought`: what is only planned to be brought from other sites, by need. An item that a need doesn't accept any more
    fills none of it.
    """
    planned: dict[str, dict[tuple[str, str], int]] = {}
    settled: dict[str, list[tuple[str, int, str]]] = {}
    for hold in holds:
        if hold.state == "planned" and shelf:
            lots = planned.setdefault(hold.need, {})
            lots[hold.item, hold.lot] = lots.get((hold.item, hold.lot), 0) + hold.quantity
        else:
            settled.setdefault(hold.need, []).append((hold.item, hold.quantity, hold.unit))
    for order in orders:
        units = {line.item: line.unit for line in order.lines}
        for one in order.wanted_for:
            settled.setdefault(one.need, []).append((one.item, one.quantity, units[one.item]))
    held = {
        need: [Held(shelf, item, lot, NOW, quantity) for (item, lot), quantity in sorted(lots.items())]
        for need, lots in planned.items()}
    for need, some in (brought or {}).items():
        held[need] = [*held.get(need, ()), *some]
    asked = Asked([], [], [])
    for work in works:
        every = with_ways_settled([
            *needs_of(work.booking, work.lines, work.starts, held),
            *reserves_of(work.booking, work.lines, work.starts, held)], settled)
        needs = _less([need for need in every if not is_reserve(need.name)], settled)
        reserves = _less([need for need in every if is_reserve(need.name)], settled)
        if work.booking.state == "authorised":
            asked.needs.extend(needs)
            asked.reserves.extend(reserves)
        else:
            asked.enquiries.extend([*needs, *reserves])
    return asked


def _less(needs: Sequence[Need], settled: Mapping[str, Sequence[tuple[str, int, str]]]) -> list[Need]:
    found = []
    for need in needs:
        left = need.quantity - sum(
            amount.convert(quantity, unit, need.unit) for item, quantity, unit in settled.get(need.name, ())
            if item in need.acceptable)
        if left > 0:
            found.append(msgspec.structs.replace(need, quantity=left))
    return found


def changes_of(asked: Asked, from_shelf: Sequence[Allocation], orders: Sequence[OrderRow],
               holds: Sequence[HoldRow], movable: Collection[int]) -> Changes:
    """What is to be done so that holds are as planned; what is so already is left alone.

    `from_shelf`: what the plans take from the shelf. `movable`: the bookings whose planned holds may be let go.
    """
    booking_of = {need.name: need.booking for need in asked.every}
    wanted: dict[str, Promise] = {}
    for one in from_shelf:
        key = f"{one.need}|{one.item}|{one.lot}"
        quantity = one.quantity + (wanted[key].quantity if key in wanted else 0)
        wanted[key] = Promise(key, booking_of[one.need], one.need, one.item, one.lot, quantity)
    planned: dict[str, list[HoldRow]] = {}
    fixed: dict[str, int] = {}
    for hold in holds:
        if hold.state != "planned":
            fixed[hold.key] = fixed.get(hold.key, 0) + hold.quantity
        elif hold.booking in movable:
            planned.setdefault(hold.key, []).append(hold)
    same = {
        key for key, rows in planned.items()
        if key in wanted and sum(row.quantity for row in rows) == wanted[key].quantity}
    release = sorted(row.id for key, rows in planned.items() if key not in same for row in rows)
    # a promise counts all that was ever held under its key, so what is picked already is asked for along with the rest
    promises = tuple(
        msgspec.structs.replace(wanted[key], quantity=wanted[key].quantity + fixed.get(key, 0))
        for key in sorted(wanted) if key not in same)
    return Changes(tuple(release), promises, tuple(orders))


def proposals(site: Site, purchases: Sequence[Purchase], bought: Sequence[Allocation], booking_of: Mapping[str, int],
              supplies: Sequence[Supply], now: datetime) -> list[OrderRow]:
    """The order proposals of a plan, one a source and slot; `bought` says for which needs.

    A proposal's key is site, day of arrival, source and slot: it stays the same from run to run.
    """
    quotes = {supply.source: supply.quote for supply in supplies}
    found = []
    for source, slot_name in sorted({(one.source, one.slot) for one in purchases}):
        quote = quotes[source]
        slot = next(one for one in quote.slots if one.name == slot_name)
        units = {offer.item: offer.unit for offer in quote.offers}
        kept = {offer.item for offer in quote.offers if not offer.returnable}
        lines = tuple(
            OrderedLine(one.item, units[one.item], one.quantity, one.packs, one.minor, returnable=one.item not in kept)
            for one in sorted(purchases) if (one.source, one.slot) == (source, slot_name))
        wanted: dict[tuple[str, str], int] = {}
        for at in bought:
            if (at.source, at.slot) == (source, slot_name):
                wanted[at.item, at.need] = wanted.get((at.item, at.need), 0) + at.quantity
        key = f"{site.name}|{to_wall(slot.ready, site.zone).date()}|{source}|{slot_name}"
        found.append(OrderRow(
            key=key, site=site.name, source=source, slot=slot_name, ready=slot.ready,
            cut_off=slot.cut_off, currency=quote.currency, fee=slot.fee, state="proposed", proposed_at=now, lines=lines,
            wanted_for=tuple(
                OrderedFor(item, booking_of[need], need, quantity)
                for (item, need), quantity in sorted(wanted.items()))))
    return found
