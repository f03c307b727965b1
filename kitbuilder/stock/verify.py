"""Whether a plan keeps every rule, judged from the inputs and the finished plan alone."""

from collections.abc import Callable, Sequence
from datetime import datetime

from kitbuilder.amount import show
from kitbuilder.model.plan import Allocation, Need, Plan, Purchase, Supply
from kitbuilder.stock.terms import Key, Terms, check_needs, converts, factor, keeps, price_of, smallest, step
from kitbuilder.stock.value import filled, worth
from kitbuilder.stock.ways import bindings_of, that_count

Say = Callable[[str], None]


def verify(needs: Sequence[Need], supplies: Sequence[Supply], plan: Plan, now: datetime) -> list[str]:
    """What is wrong with a plan, one sentence each; empty if it may be used.

    It knows nothing of how the plan was made. That the plan is the best one isn't looked at, only that what it says of
    itself can be so. Raises ValueError for needs or supplies that no plan can be made for.
    """
    check_needs(needs, now)
    terms = Terms(supplies)
    wrong: list[str] = []
    _check_allocations(needs, supplies, terms, plan, now, wrong.append)
    if wrong:
        return wrong  # what speaks of things that aren't there can't be added up
    _check_filled(needs, terms, plan, wrong.append)
    _check_circuits(needs, plan, wrong.append)
    _check_bindings(needs, plan, wrong.append)
    _check_own(terms, plan, wrong.append)
    lines = [one for one in plan.purchases if _is_there(terms, one, now, wrong.append)]
    _check_bought(terms, plan, lines, wrong.append)
    _check_orders(terms, lines, wrong.append)
    if wrong:
        return wrong
    value = worth(terms, needs, plan.allocations, plan.purchases, now)
    if value != plan.value:
        wrong.append(f"the plan states the value {plan.value}, and has {value}")
    if plan.proven != (plan.method == "exact"):
        wrong.append(f"proven is {plan.proven} with the method {plan.method}")
    if plan.proven != (plan.gap is None):
        wrong.append(f"proven is {plan.proven} with the gap {plan.gap}")
    if plan.gap is not None and not plan.gap.least <= plan.gap.value == getattr(value, plan.gap.field):
        wrong.append(f"the gap {plan.gap} of a plan of the value {value}")
    if plan.next_best is not None and (not plan.proven or plan.next_best < plan.value):
        wrong.append("a next best plan is told that is better, or without proof")
    return wrong


def _check_allocations(
    needs: Sequence[Need], supplies: Sequence[Supply], terms: Terms, plan: Plan, now: datetime, say: Say,
) -> None:
    by_name = {need.name: need for need in needs}
    unreadable = {(supply.source, item) for supply in supplies for item in supply.quote.unreadable}
    seen = set()
    for one in plan.allocations:
        key: Key = (one.source, one.item, one.lot, one.slot)
        name = f"{one.need} from {_told(key)}"
        if (one.need, key) in seen:
            say(f"{name}: allocated twice")
        seen.add((one.need, key))
        if one.need not in by_name:
            say(f"{name}: no such need")
        elif (one.source, one.item) in unreadable:
            say(f"{name}: the source can't read what it has of it")
        elif key not in terms.places:
            say(f"{name}: no such offer")
        else:
            _check_one(by_name[one.need], one, terms, now, lambda text, name=name: say(f"{name}: {text}"))  # type: ignore[misc]


def _check_one(need: Need, one: Allocation, terms: Terms, now: datetime, say: Say) -> None:
    place = terms.places[one.source, one.item, one.lot, one.slot]
    if one.item not in need.acceptable:
        say("not an acceptable item")
    if not converts(need, place):
        say(f"{place.offer.unit} doesn't convert to {need.unit}")
    if one.quantity <= 0 or one.quantity % step(place.offer.unit):
        say(f"{show(one.quantity)} {place.offer.unit} can't be taken")
    if not keeps(need, place, now):
        say(f"past its use-by day {place.offer.use_by} when it is needed")
    if place.trip and place.slot.cut_off is not None and now >= place.slot.cut_off:
        say("brought by a trip that can't be asked for any more")
    if not place.own and not need.may_order:
        say("bought for an enquiry")


def _check_filled(needs: Sequence[Need], terms: Terms, plan: Plan, say: Say) -> None:
    given = filled(terms, plan.allocations)
    steps: dict[str, int] = {}
    for one in plan.allocations:
        unit = terms.places[one.source, one.item, one.lot, one.slot].offer.unit
        steps[one.need] = min(smallest(step(unit), unit), steps.get(one.need, smallest(step(unit), unit)))
    counts = {need.name for need in that_count(needs, given)}
    for need in needs:
        lacks = (smallest(need.quantity, need.unit) if need.name in counts else 0) - given.get(need.name, 0)
        short = -(-lacks // factor(need.unit)) if lacks > 0 else None
        if plan.short.get(need.name) != short:
            say(f"{need.name}: {short} milli-units don't come, the plan says {plan.short.get(need.name)}")
        if lacks < 0 and -lacks >= steps[need.name]:
            say(f"{need.name}: more than it needs")
    for name in sorted(set(plan.short) - {need.name for need in needs}):
        say(f"{name}: said to be short, and no such need")


def _check_circuits(needs: Sequence[Need], plan: Plan, say: Say) -> None:
    circuits = {need.name: (need.booking, need.circuit) for need in needs if need.circuit}
    items: dict[tuple[int, str], set[str]] = {}
    for one in plan.allocations:
        if one.need in circuits:
            items.setdefault(circuits[one.need], set()).add(one.item)
    for (booking, circuit), found in sorted(items.items()):
        if len(found) > 1:
            say(f"booking {booking}: the circuit {circuit} is filled from {' and '.join(sorted(found))}")


def _check_bindings(needs: Sequence[Need], plan: Plan, say: Say) -> None:
    served = {one.need for one in plan.allocations}
    for (booking, binding), mine in bindings_of(needs).items():
        taken = [need for need in mine if need.name in served]
        if taken and not set.intersection(*(set(need.ways) for need in taken)):
            say(f"booking {booking}: {' and '.join(need.name for need in taken)} are of no one way of {binding}")


def _check_own(terms: Terms, plan: Plan, say: Say) -> None:
    taken: dict[Key, int] = {}
    for one in plan.allocations:
        key = (one.source, one.item, one.lot, one.slot)
        if terms.places[key].own:
            taken[key] = taken.get(key, 0) + one.quantity
    _check_limits(terms, taken, say)


def _check_limits(terms: Terms, taken: dict[Key, int], say: Say) -> None:
    """The most of each slot, and the pool over all slots of an offer."""
    pools: dict[Key, int] = {}
    for key, milli in taken.items():
        place = terms.places[key]
        pools[place.pool] = pools.get(place.pool, 0) + milli
        if place.arrival.most is not None and milli > place.arrival.most:
            say(f"{_told(key)}: {show(milli)}, at most {show(place.arrival.most)} can come in this slot")
    for key, milli in pools.items():
        pool = terms.places[key].offer.pool
        if pool is not None and milli > pool:
            say(f"{_told(key)}: {show(milli)} over all slots, there is {show(pool)}")


def _is_there(terms: Terms, one: Purchase, now: datetime, say: Say) -> bool:
    name = f"{one.item} bought from {one.source} in {one.slot}"
    key = terms.bought.get((one.source, one.slot, one.item))
    if key is None:
        say(f"{name}: no such offer, or own stock")
        return False
    place = terms.places[key]
    if place.slot.cut_off is not None and place.slot.cut_off <= now:
        say(f"{name}: the cut-off {place.slot.cut_off.isoformat()} has passed")
    if place.offer.packs:
        whole = sum(pack * count for pack, count in one.packs) == one.quantity
        least = step(place.offer.unit)
        known = all(pack in place.offer.packs and pack % least == 0 and count > 0 for pack, count in one.packs)
        if not (whole and known and list(one.packs) == sorted(dict(one.packs).items(), reverse=True)):
            say(f"{name}: {show(one.quantity)} isn't made of whole packs")
    elif one.packs:
        say(f"{name}: packs that the offer doesn't name")
    if one.quantity <= 0 or one.quantity % step(place.offer.unit) or one.quantity < place.offer.least:
        say(f"{name}: {show(one.quantity)} can't be ordered")
    if price_of(place.arrival, one.quantity) != one.minor:
        say(f"{name}: {one.minor} minor units, the price is {price_of(place.arrival, one.quantity)}")
    return True


def _check_bought(terms: Terms, plan: Plan, lines: Sequence[Purchase], say: Say) -> None:
    bought: dict[Key, int] = {}
    for line in lines:
        key = terms.bought[line.source, line.slot, line.item]
        if key in bought:
            say(f"{_told(key)}: two order lines, expected one")
        bought[key] = bought.get(key, 0) + line.quantity
    _check_limits(terms, bought, say)
    taken: dict[Key, int] = {}
    for one in plan.allocations:
        key = (one.source, one.item, one.lot, one.slot)
        if not terms.places[key].own:
            taken[key] = taken.get(key, 0) + one.quantity
    for key in sorted(bought.keys() | taken.keys()):
        if taken.get(key, 0) > bought.get(key, 0):
            say(f"{_told(key)}: {show(taken[key])} allocated, {show(bought.get(key, 0))} bought")
        if key not in taken:
            say(f"{_told(key)}: bought, and nothing of it is taken")


def _check_orders(terms: Terms, lines: Sequence[Purchase], say: Say) -> None:
    orders: dict[tuple[str, str], int] = {}
    for line in lines:
        orders[line.source, line.slot] = orders.get((line.source, line.slot), 0) + line.minor
    for (source, slot), minor in sorted(orders.items()):
        if minor < terms.slots[source, slot].minimum:
            say(f"{source} in {slot}: an order of {minor}, at least {terms.slots[source, slot].minimum} is asked for")


def _told(key: Key) -> str:
    source, item, lot, slot = key
    return f"{source}, {item}{f' of lot {lot}' if lot else ''} in {slot}"
