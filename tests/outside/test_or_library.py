"""Sourcing against published optima of facility location: a facility is a supplier with a fee, a customer a need."""

from __future__ import annotations

from decimal import Decimal

import pytest

from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Need, Supply
from kitbuilder.stock.plan import plan
from tests.outside.or_library import OPTIMA, PARTS, facilities_and_costs
from tests.stock.draw_sourcing import NOW, hours


def test_the_file_is_as_published():
    fixed, costs = facilities_and_costs()
    assert (len(fixed), len(costs), {len(row) for row in costs}) == (16, 50, {16})
    assert [cost // PARTS for cost in fixed] == [7_500] * 10 + [0] + [7_500] * 5


@pytest.mark.parametrize("name", OPTIMA)
def test_the_least_money_is_the_published_optimum(name):
    """Each customer needs one of an item of its own, which each facility sells at the cost of serving that customer."""
    fee, optimum = OPTIMA[name]
    fixed, costs = facilities_and_costs()
    needs = [Need(f"{at:02}", at, False, (f"item {at:02}",), 1000, "each", hours(40)) for at in range(len(costs))]
    supplies = []
    for facility, cost in enumerate(fixed):
        slot = Slot(name="next", ready=hours(20), cut_off=hours(1), fee=fee * PARTS if cost else 0)
        offers = tuple(
            Offer(item=f"item {at:02}", unit="each", pool=None, arrivals=(Arrival(
                slot="next", sureness="promised", prices=(Price(minor=row[facility], per=1000),)),))
            for at, row in enumerate(costs))
        quote = Quote(as_of=NOW, currency="EUR", slots=(slot,), offers=offers)
        supplies.append(Supply(f"{facility:02}", False, quote))
    made = plan(needs, supplies, NOW)
    assert made.proven
    assert made.short == {}
    # the library's tolerance: its costs are told to a thousandth
    assert abs(Decimal(made.value.money) / PARTS - optimum) <= Decimal("0.001")
