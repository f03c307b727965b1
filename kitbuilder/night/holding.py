"""Plans a window and holds what the plan takes from the shelf; what must come from outside becomes proposals."""

import hashlib
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.model.along import SetAside
from kitbuilder.model.order import OrderRow
from kitbuilder.model.plan import Allocation, Gap, Need, Plan, Supply
from kitbuilder.model.shelf import HoldRow
from kitbuilder.night.sourcing import Asked, Changes, changes_of, proposals
from kitbuilder.night.supplies import Refused, Supplies, left_over, refused_of, without
from kitbuilder.night.transfers import carriage
from kitbuilder.stock.plan import plan as make_plan
from kitbuilder.stock.ways import with_ways_settled
from kitbuilder.workshop.needs import is_reserve


class Outcome(msgspec.Struct, frozen=True):
    """What the hold step came to: which sources failed, what else is to be looked at and what is proposed again, in
    words; whether the plan is proven to be the best; how much was changed. `asked` and `left` are digests of what was
    to be planned, and of the holds and proposals that it left. `gap`: how far from proof the plan is; `lost`: why
    bookings are late or short in it, in sentences; `aside`: what is set aside for the day's findings."""

    failed: tuple[str, ...]
    attention: tuple[str, ...]
    again: tuple[str, ...]
    proven: bool
    changed: int
    asked: str
    left: str
    gap: Gap | None = None
    lost: dict[int, tuple[str, ...]] = {}
    aside: tuple[SetAside, ...] = ()


class Planned(NamedTuple):
    """What is to be changed; what is proposed again, in words; whether the plan behind it is proven; that plan, of what
    authorised bookings need, and the supplies that it was made from."""

    changes: Changes
    again: list[str]
    proven: bool
    plan: Plan
    supplies: list[Supply]


def planned(site: Site, asked: Asked, found: Supplies, holds: Sequence[HoldRow], movable: set[int],
            standing: Sequence[OrderRow], cancelled: Sequence[OrderRow], now: datetime) -> Planned:
    """Plan what is asked for, in the order in which it is served.

    `movable`: the bookings whose planned holds may be let go. `standing`: open proposals that stay as they are, for
    nothing is known of their source. `cancelled`: orders that a person cancelled, or that were refused, in part at
    least: another way is looked for.
    """
    main, refused, again = another_way(asked, found.supplies, cancelled, now)
    supplies = without(found.supplies, refused)
    here = {supply.source for supply in supplies if supply.own and not supply.transfer}
    trips = {supply.source for supply in supplies if supply.transfer}
    shelf = [one for one in main.allocations if one.source in here]
    served = {one.need for one in main.allocations}
    reserves = [need for need in with_ways_settled([*asked.needs, *asked.reserves], served) if is_reserve(need.name)]
    for needs in (_of_one_circuit(reserves, asked.needs, shelf), asked.enquiries):
        # no time for a solver: these are greedy on purpose, the earliest start first, and the same every time
        more = make_plan(needs, left_over(supplies, shelf), now, seconds=0)
        shelf += more.allocations
    booking_of = {need.name: need.booking for need in asked.every}
    orders = proposals(site, main.purchases, main.allocations, booking_of, supplies, now)
    brought = carriage(site, [one for one in main.allocations if one.source in trips], booking_of, supplies,
                       found.elsewhere.carried, standing, now)
    changes = changes_of(asked, shelf, [*standing, *orders, *brought.orders], holds, movable)
    changes = msgspec.structs.replace(
        changes, release=(*changes.release, *brought.release), there=brought.promises)
    return Planned(changes, again, main.proven, main, supplies)


def asked_of(asked: Asked, found: Supplies, standing: Sequence[OrderRow], cancelled: Sequence[OrderRow],
             now: datetime) -> str:
    """A digest of all that a plan goes by, but not of what is held: where it is as it was, and holds and proposals are
    as that plan left them, there is nothing to plan. A solver may find another plan as good, and isn't asked again."""
    supplies: list[object] = []
    for supply in found.supplies:
        # when it was asked doesn't matter, only which of its slots can still be had
        here = supply.own and not supply.transfer
        slots = sorted((slot.name, "" if here else slot.ready.isoformat(), slot.fee, slot.minimum,
                        slot.cut_off is None or slot.cut_off > now, slot.ready > now) for slot in supply.quote.slots)
        offers = sorted(supply.quote.offers, key=lambda one: (one.item, one.lot, one.arrivals[0].slot))
        supplies.append((supply.source, slots, offers, supply.quote.unreadable))
    needs = [[msgspec.structs.replace(need, held=()) for need in of] for of in asked]
    orders = [(order.id, order.source, order.slot) for order in (*standing, *cancelled)]
    return _digest((needs, supplies, orders, now.date()))


def left_of(holds: Sequence[HoldRow], proposed: Sequence[OrderRow], changes: Changes | None = None) -> str:
    """A digest of planned holds and open proposals, as they are or as `changes` will leave them."""
    released = set(changes.release) if changes else set()
    planned: dict[str, int] = {}
    fixed: dict[str, int] = {}
    for hold in holds:
        if hold.id not in released:
            of = planned if hold.state == "planned" else fixed
            of[hold.key] = of.get(hold.key, 0) + hold.quantity
    made = (*changes.promises, *(promise for _, promise in changes.there)) if changes else ()
    for promise in made:
        planned[promise.key] = promise.quantity - fixed.get(promise.key, 0)
    orders = [
        (one.key, one.ready, one.cut_off, one.currency, one.fee, sorted(one.lines, key=lambda line: line.item),
         sorted(one.wanted_for, key=lambda each: (each.item, each.need)))
        for one in (changes.orders if changes else proposed)]
    return _digest((sorted(planned.items()), sorted(orders, key=lambda one: one[0])))


def _digest(value: object) -> str:
    return hashlib.sha256(msgspec.json.encode(value, order="deterministic")).hexdigest()


def another_way(asked: Asked, supplies: Sequence[Supply], cancelled: Sequence[OrderRow],
                now: datetime) -> tuple[Plan, set[Refused], list[str]]:
    """The plan of what authorised bookings need without what a person cancelled, and what that is; where nothing else
    brings something, that is proposed again, and told: the need is still there, and only a person can say that it
    isn't."""
    refused = refused_of(cancelled, asked.needs, supplies)
    plan = make_plan(asked.needs, without(supplies, refused), now)
    by_name = {need.name: need for need in asked.needs}
    lacking = {item for name in plan.short for item in by_name[name].acceptable}
    again = {one: order for one, order in refused.items() if one[2] in lacking}
    if not again:
        return plan, set(refused), []
    kept = set(refused) - set(again)
    told = [
        f"Order {order.id} at {source} was {_ended(order)}, but nothing else brings {item}, so that is proposed again."
        for (source, _, item), order in again.items()]
    return make_plan(asked.needs, without(supplies, kept), now), kept, told


def _ended(order: OrderRow) -> str:
    if order.state == "cancelled":
        return f"cancelled by {order.decided_by}"
    return "accepted in part only" if order.state == "part" else "refused"


def _of_one_circuit(reserves: Sequence[Need], needs: Sequence[Need], shelf: Sequence[Allocation]) -> list[Need]:
    """Reserves of a circuit only from the item that it is filled from already: two oils are never mixed."""
    circuit_of = {need.name: (need.booking, need.circuit) for need in needs if need.circuit}
    chosen = {circuit_of[one.need]: one.item for one in shelf if one.need in circuit_of}
    found = []
    for need in reserves:
        item = chosen.get((need.booking, need.circuit)) if need.circuit else None
        if item is None:
            found.append(need)
        elif item in need.acceptable:
            found.append(msgspec.structs.replace(need, acceptable=(item,)))
    return found
