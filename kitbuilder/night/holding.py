"""Plans a window and holds what the plan takes from the shelf; what must come from outside becomes proposals."""

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.model.order import OrderRow
from kitbuilder.model.plan import Allocation, Need, Plan, Supply
from kitbuilder.model.shelf import HoldRow
from kitbuilder.night.sourcing import Asked, Changes, changes_of, proposals
from kitbuilder.night.supplies import Refused, Supplies, left_over, refused_of, without
from kitbuilder.stock.plan import plan as make_plan


class Outcome(msgspec.Struct, frozen=True):
    """What the hold step came to: which sources failed and what else is to be looked at, in words; whether the plan is
    proven to be the best; how much was changed."""

    failed: tuple[str, ...]
    attention: tuple[str, ...]
    proven: bool
    changed: int


class Planned(NamedTuple):
    """What is to be changed, what to tell of it, whether the plan behind it is proven."""

    changes: Changes
    attention: list[str]
    proven: bool


def planned(site: Site, asked: Asked, found: Supplies, holds: Sequence[HoldRow], movable: set[int],
            standing: Sequence[OrderRow], cancelled: Sequence[OrderRow], now: datetime) -> Planned:
    """Plan what is asked for, in the order in which it is served.

    `movable`: the bookings whose planned holds may be let go. `standing`: open proposals that stay as they are, for
    nothing is known of their source. `cancelled`: orders that a person cancelled: another way is looked for.
    """
    main, refused, again = _another_way(asked, found.supplies, cancelled, now)
    supplies = without(found.supplies, refused)
    own = {supply.source for supply in supplies if supply.own}
    shelf = [one for one in main.allocations if one.source in own]
    for needs in (_of_one_circuit(asked.reserves, asked.needs, shelf), asked.enquiries):
        # no time for a solver: these are greedy on purpose, the earliest start first, and the same every time
        more = make_plan(needs, left_over(supplies, shelf), now, seconds=0)
        shelf += more.allocations
    booking_of = {need.name: need.booking for need in asked.every}
    orders = proposals(site, main.purchases, main.allocations, booking_of, supplies, now)
    changes = changes_of(asked, shelf, [*standing, *orders], holds, movable)
    return Planned(changes, again, main.proven)


def _another_way(asked: Asked, supplies: Sequence[Supply], cancelled: Sequence[OrderRow],
                 now: datetime) -> tuple[Plan, set[Refused], list[str]]:
    """The plan without what a person cancelled; where nothing else brings something, that is proposed again, and told:
    the need is still there, and only a person can say that it isn't."""
    refused = refused_of(cancelled, asked.needs, supplies)
    plan = make_plan(asked.needs, without(supplies, refused), now)
    by_name = {need.name: need for need in asked.needs}
    lacking = {item for name in plan.short for item in by_name[name].acceptable}
    again = {one: order for one, order in refused.items() if one[2] in lacking}
    if not again:
        return plan, set(refused), []
    kept = set(refused) - set(again)
    told = [
        f"Order {order.id} at {source} was cancelled by {order.decided_by}, but nothing else brings {item}, so that is "
        "proposed again." for (source, _, item), order in again.items()]
    return make_plan(asked.needs, without(supplies, kept), now), kept, told


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
