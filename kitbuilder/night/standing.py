"""The plan that a run made, read back from the holds and proposals that it left, so that it needn't be made again."""

from collections.abc import Sequence
from datetime import datetime

from kitbuilder.model.order import OrderRow
from kitbuilder.model.plan import Allocation, Plan, Purchase, Supply
from kitbuilder.model.transfer import from_site, order_of
from kitbuilder.night.case import Case
from kitbuilder.night.holding import Outcome, asked_of, left_of
from kitbuilder.night.supplies import NOW
from kitbuilder.stock.terms import Terms, factor, smallest
from kitbuilder.stock.value import filled, worth
from kitbuilder.stock.verify import verify
from kitbuilder.stock.ways import that_count


def standing_plan(case: Case, orders: Sequence[OrderRow], outcome: Outcome, supplies: Sequence[Supply], shelf: str,
                  now: datetime) -> Plan | None:
    """The run's plan of what authorised bookings need, if what it went by and what it left are as they were; else None.

    `orders`: the proposals that stand, and what was decided since of them; `supplies`: what it was made from. What is
    read back is verified as every plan is.
    """
    held = [*case.holds, *(one.hold for one in case.found.elsewhere.carried)]
    asked = asked_of(case.asked, case.found, case.standing, case.cancelled, now)
    if outcome.again or (asked, left_of(held, orders)) != (outcome.asked, outcome.left):
        return None
    needs = case.asked.needs
    allocations, purchases = _allocations(case, orders, shelf), _purchases(orders)
    terms = Terms(supplies)
    try:
        given = filled(terms, allocations)
        value = worth(terms, needs, allocations, purchases, now)
    except KeyError:
        return None  # something is held that nobody offered
    lacks = {need.name: (smallest(need.quantity, need.unit) - given.get(need.name, 0), factor(need.unit))
             for need in that_count(needs, given)}
    short = {name: -(-lack // times) for name, (lack, times) in lacks.items() if lack > 0}
    plan = Plan(allocations, purchases, short, value, outcome.proven, "exact" if outcome.proven else "simple",
                gap=outcome.gap)
    return plan if not verify(needs, supplies, plan, now) else None


def _allocations(case: Case, orders: Sequence[OrderRow], shelf: str) -> tuple[Allocation, ...]:
    """What the needs take: what is held here, what is bought, what is brought from other sites."""
    names = {need.name for need in case.asked.needs}
    by_key = {order.key: order for order in orders}
    takes = [(hold.need, shelf, hold.item, hold.lot, NOW, hold.quantity)
             for hold in case.holds if hold.state == "planned"]
    for order in orders:
        if not from_site(order.key):
            takes += [(one.need, order.source, one.item, "", order.slot, one.quantity) for one in order.wanted_for]
    for carried in case.found.elsewhere.carried:
        brings = by_key.get(order_of(carried.hold))
        if brings is not None and carried.hold.state == "planned":
            hold = carried.hold
            takes.append((hold.need, brings.source, hold.item, hold.lot, brings.slot, hold.quantity))
    found: dict[tuple[str, str, str, str, str], int] = {}
    for need, source, item, lot, slot, quantity in takes:
        if need in names and quantity:
            found[need, source, item, lot, slot] = found.get((need, source, item, lot, slot), 0) + quantity
    return tuple(sorted(Allocation(*key, quantity) for key, quantity in found.items()))


def _purchases(orders: Sequence[OrderRow]) -> tuple[Purchase, ...]:
    return tuple(sorted(
        Purchase(order.source, order.slot, line.item, line.quantity, line.packs, line.minor)
        for order in orders if not from_site(order.key) for line in order.lines))
