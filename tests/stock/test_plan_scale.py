"""Plans of a night's size: what falls apart does, and what isn't proven is told, with plans that keep every rule."""

from __future__ import annotations

import msgspec
import pytest

from benchmarks.sourcing_cases import night
from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Supply
from kitbuilder.stock import solving
from kitbuilder.stock.plan import plan
from kitbuilder.stock.verify import verify
from tests.stock.draw_sourcing import NOW, hours
from tests.stock.exhaustive import all_values
from tests.stock.test_plan_rules import need, planned, sells, supplier


@pytest.mark.parametrize("scarce", [False, True])
def test_a_plan_of_a_night_in_short_time_keeps_every_rule_and_tells_its_gap(scarce: bool):
    needs, supplies, now = night(150, scarce=scarce, seed=7)
    quick, full = (plan(needs, supplies, now, seconds=seconds) for seconds in (0.0, 60.0))
    assert full.proven
    assert verify(needs, supplies, quick, now) == []
    assert quick.value >= full.value
    assert quick.gap is not None
    assert quick.gap.least <= getattr(full.value, quick.gap.field) <= quick.gap.value


def test_an_order_line_is_bought_in_one_of_the_slots_that_differ_only_in_time_and_fee():
    """Ten or more cost less each: a need that can wait goes along with one that can't, though a later slot is free."""
    prices = (Price(minor=100, per=1000), Price(minor=80, per=1000, least=10_000))
    slots = tuple(Slot(name=name, ready=hours(ready), cut_off=hours(1), fee=fee)
                  for name, ready, fee in (("next", 18, 30), ("noon", 24, 20), ("later", 42, 0)))
    sold = Offer(item="valve", unit="each", pool=None, arrivals=tuple(
        Arrival(slot=slot.name, sureness="promised", prices=prices) for slot in slots))
    north = Supply("north", False, Quote(as_of=NOW, currency="EUR", slots=slots, offers=(sold,)))
    soon, patient = need("valve", 4, booking=1, wanted=20), need("valve", 6, booking=2, wanted=60)
    made = planned([soon, patient], [north])
    assert [(one.slot, one.quantity, one.minor) for one in made.purchases] == [("next", 10_000, 800)]
    assert made.value.money == 830
    assert [one.slot for one in planned([patient], [north]).purchases] == ["later"]
    assert msgspec.structs.astuple(made.value) == min(all_values([soon, patient], [north], NOW).values())


def test_a_minimum_that_no_plan_comes_near_costs_no_time(monkeypatch):
    """An order far above its minimum is planned without it; one below is planned again with it."""
    rounds = []
    settle = solving.settle
    monkeypatch.setattr(solving, "settle", lambda *asked: (rounds.append(1), settle(*asked))[1])
    dear = [supplier("north", sells("valve", 9000), minimum=5000)]
    assert planned([need("valve", 1)], dear).value.money == 9000
    assert len(rounds) == 1
    rounds.clear()
    cheap = [supplier("north", sells("valve", 900), minimum=5000)]
    assert planned([need("valve", 1)], cheap).value.money == 5400
    assert len(rounds) == 2
