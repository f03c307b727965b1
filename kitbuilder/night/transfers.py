"""What a plan takes from other sites of the store: held there, and brought by a van as a transfer."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.model.plan import Allocation, Supply
from kitbuilder.model.shelf import Promise
from kitbuilder.model.transfer import Carried, Load, held_as, order_of, transfer_key


class Carriage(NamedTuple):
    """What is to be brought: the transfers as they should be, the promises to make at other sites (site and promise),
    the holds there to let go (ids)."""

    orders: list[OrderRow]
    promises: tuple[tuple[str, Promise], ...]
    release: tuple[int, ...]


def carriage(site: Site, allocations: Sequence[Allocation], booking_of: Mapping[str, int], supplies: Sequence[Supply],
             carried: Sequence[Carried], standing: Sequence[OrderRow], now: datetime) -> Carriage:
    """The transfers of a plan, one a source and slot, and how what is `carried` already changes to that; what is so
    already is left alone. `standing`: open proposals that stay as they are."""
    trips = {supply.source: supply.quote for supply in supplies if supply.transfer}
    orders = []
    wanted: dict[tuple[str, str], Promise] = {}
    for source, slot_name in sorted({(one.source, one.slot) for one in allocations}):
        quote = trips[source]
        slot = next(one for one in quote.slots if one.name == slot_name)
        units = {(offer.item, offer.lot): offer.unit for offer in quote.offers}
        key = transfer_key(site.name, to_wall(slot.ready, site.zone).date(), source, slot_name, quote.site)
        mine = [one for one in allocations if (one.source, one.slot) == (source, slot_name)]
        unit_of = {
            item: min((units[one.item, one.lot] for one in mine if one.item == item), key=_size)
            for item in {one.item for one in mine}}
        lines: dict[str, int] = {}
        needs: dict[tuple[str, str], int] = {}
        for one in mine:
            quantity = amount.convert(one.quantity, units[one.item, one.lot], unit_of[one.item])
            lines[one.item] = lines.get(one.item, 0) + quantity
            needs[one.item, one.need] = needs.get((one.item, one.need), 0) + quantity
            held = held_as(key, one.need, one.item, one.lot)
            wanted[quote.site, held] = Promise(held, booking_of[one.need], one.need, one.item, one.lot, one.quantity)
        orders.append(OrderRow(
            key=key, site=site.name, source=source, slot=slot_name, ready=slot.ready, cut_off=slot.cut_off,
            currency=quote.currency, fee=slot.fee, state="proposed", proposed_at=now,
            lines=tuple(OrderedLine(item, unit_of[item], quantity, (), 0) for item, quantity in sorted(lines.items())),
            wanted_for=tuple(
                OrderedFor(item, booking_of[need], need, quantity)
                for (item, need), quantity in sorted(needs.items()))))
    return Carriage(orders, *_changes(wanted, carried, {one.key for one in standing}))


def _changes(wanted: Mapping[tuple[str, str], Promise], carried: Sequence[Carried],
             standing: set[str]) -> tuple[tuple[tuple[str, Promise], ...], tuple[int, ...]]:
    planned: dict[tuple[str, str], list[Carried]] = {}
    fixed: dict[tuple[str, str], int] = {}
    for one in carried:
        at = (one.site, one.hold.key)
        if one.hold.state != "planned":
            fixed[at] = fixed.get(at, 0) + one.hold.quantity
        elif order_of(one.hold) not in standing:
            planned.setdefault(at, []).append(one)
    same = {at for at, rows in planned.items()
            if at in wanted and sum(one.hold.quantity for one in rows) == wanted[at].quantity}
    release = sorted(one.hold.id for at, rows in planned.items() if at not in same for one in rows)
    # a promise counts all that was ever held under its key, so what a person took over is asked for along with the rest
    promises = tuple(
        (at[0], msgspec.structs.replace(wanted[at], quantity=wanted[at].quantity + fixed.get(at, 0)))
        for at in sorted(wanted) if at not in same)
    return promises, tuple(release)


def _size(unit: str) -> int:
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def bringing(order: OrderRow, zone: str, now: datetime) -> list[str]:
    """What somebody has to do with a transfer to this site, in words for the report."""
    name = f"Order {order.id} from {order.from_site}"
    left = order.cut_off is not None and order.cut_off <= now
    if order.state == "proposed":
        numbers = sorted({one.booking for one in order.wanted_for})
        whom = f", for booking{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}," if numbers else ""
        before = f" before {_wall(order.cut_off, zone)}" if order.cut_off is not None else ""
        return [f"{name}{whom} is held there, and somebody has to say that it goes{before}: kitbuilder order approve "
                f"{order.id} --by NAME, or order sent {order.id} when it is on the van"]
    if order.state == "approved" and left and order.cut_off is not None:
        return [f"{name} was to leave at {_wall(order.cut_off, zone)}, and nobody said that it did: ask there."]
    if order.comes and (order.expected_at or order.ready) < now:
        return [f"{name} was expected at {_wall(order.expected_at or order.ready, zone)}. Book it in (kitbuilder order "
                f"received {order.id} --bin BIN), or ask after it."]
    return []


def loading(loads: Sequence[Load], zone: str, now: datetime) -> list[str]:
    """What is to be loaded for other sites, or should have been by now, in words for the report."""
    found = []
    for load in loads:
        if load.state not in ("proposed", "approved"):
            continue
        what = f"{load.source}, {load.slot}: order {load.order} for {load.site}"
        if load.leaves is not None and load.leaves <= now:
            found.append(
                f"{what} was to leave at {_wall(load.leaves, zone)}, and nobody said that it did. If it is on its way: "
                f"kitbuilder order sent {load.order} --by NAME; if not: kitbuilder order cancel {load.order} --by NAME")
        else:
            before = f" before {_wall(load.leaves, zone)}" if load.leaves is not None else ""
            found.append(f"To load{before}, {what} (kitbuilder order list). When it is on the van: kitbuilder order "
                         f"sent {load.order} --by NAME")
    return found


def _wall(moment: datetime, zone: str) -> str:
    return f"{to_wall(moment, zone):%Y-%m-%d %H:%M}"
