"""What a plan is worth, from its allocations and purchases alone."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from kitbuilder.model.plan import Allocation, Need, Purchase, Supply, Value
from kitbuilder.stock.terms import Terms, delay_s, smallest
from kitbuilder.stock.ways import bindings_of, that_count, ways_taken, weight_of


def value_of(
    needs: Sequence[Need], supplies: Sequence[Supply], allocations: Sequence[Allocation],
    purchases: Sequence[Purchase], now: datetime,
) -> Value:
    """The value of so much given to these needs and bought.

    It presumes that each allocation names a need and an offer that are there (KeyError), and takes the price that each
    purchase states; `verify` checks both.
    """
    return worth(Terms(supplies), needs, allocations, purchases, now)


def booking_delays(
    needs: Sequence[Need], supplies: Sequence[Supply], allocations: Sequence[Allocation], now: datetime,
) -> dict[int, int | None]:
    """For each booking the largest delay of its needs in seconds, 0 if it is on time, None if it is short."""
    return delays(Terms(supplies), needs, allocations, now)


def filled(terms: Terms, allocations: Iterable[Allocation]) -> dict[str, int]:
    """What each need is given, in smallest units."""
    given: dict[str, int] = {}
    for one in allocations:
        unit = terms.places[one.source, one.item, one.lot, one.slot].offer.unit
        given[one.need] = given.get(one.need, 0) + smallest(one.quantity, unit)
    return given


def delays(
    terms: Terms, needs: Sequence[Need], allocations: Sequence[Allocation], now: datetime,
) -> dict[int, int | None]:
    """`booking_delays`, with the terms of the supplies already at hand."""
    by_name = {need.name: need for need in needs}
    given = filled(terms, allocations)
    found: dict[int, int | None] = {}
    for one in allocations:
        need = by_name[one.need]
        late = delay_s(need, terms.places[one.source, one.item, one.lot, one.slot], now)
        found[need.booking] = max(found.get(need.booking) or 0, late)
    for need in needs:
        found.setdefault(need.booking, 0)
    for need in that_count(needs, given):
        if given.get(need.name, 0) < smallest(need.quantity, need.unit):
            found[need.booking] = None
    return found


def worth(
    terms: Terms, needs: Sequence[Need], allocations: Sequence[Allocation], purchases: Sequence[Purchase],
    now: datetime,
) -> Value:
    """`value_of`, with the terms of the supplies already at hand."""
    by_name = {need.name: need for need in needs}
    vor = {need.booking for need in needs if need.vor}
    short, late, delay = [0, 0], [0, 0], [0, 0]
    for booking, seconds in delays(terms, needs, allocations, now).items():
        which = 0 if booking in vor else 1
        short[which] += seconds is None
        late[which] += seconds != 0
        delay[which] += seconds or 0
    given = filled(terms, allocations)
    lacks = [max(0, smallest(need.quantity, need.unit) - given.get(need.name, 0))
             for need in that_count(needs, given)]
    ordered = {(one.source, one.slot) for one in purchases}
    ordered |= {(one.source, one.slot) for one in allocations
                if terms.places[one.source, one.item, one.lot, one.slot].trip}
    use_by = lots = 0
    bound = bindings_of(needs)
    preference = sum(weight_of(bound[binding], way) for binding, way in ways_taken(needs, given).items())
    for one in allocations:
        key = (one.source, one.item, one.lot, one.slot)
        amount = smallest(one.quantity, terms.places[key].offer.unit)
        day, lot = terms.ranks(key)
        use_by += amount * day
        lots += amount * lot
        preference += amount * by_name[one.need].acceptable.index(one.item)
    return Value(
        short[0], short[1], late[0], late[1], delay[0], delay[1],
        missing=sum(lack > 0 for lack in lacks), missing_amount=sum(lacks),
        money=sum(one.minor for one in purchases) + sum(terms.slots[slot].fee for slot in ordered),
        changes=_changes(needs, allocations), use_by=use_by, lots=lots, preference=preference)


def _changes(needs: Sequence[Need], allocations: Sequence[Allocation]) -> int:
    left = {(one.need, one.source, one.item, one.lot, one.slot): one.quantity for one in allocations}
    return sum(
        left.get((need.name, held.source, held.item, held.lot, held.slot), 0) < held.quantity
        for need in needs for held in need.held)


def total(values: Iterable[Value]) -> Value:
    """The value of parts that share nothing, together."""
    sums = [0] * len(Value.__struct_fields__)
    for value in values:
        for place, field in enumerate(Value.__struct_fields__):
            sums[place] += getattr(value, field)
    return Value(*sums)
