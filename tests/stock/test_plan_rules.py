"""What sourcing promises, each in a case small enough to see."""

from __future__ import annotations

import subprocess
import sys
from datetime import date

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Gap, Held, Need, Purchase, Supply
from kitbuilder.stock import levels, solving
from kitbuilder.stock.plan import plan
from kitbuilder.stock.solver import Relaxed
from kitbuilder.stock.value import booking_delays
from kitbuilder.stock.verify import verify
from tests.stock.draw_sourcing import NOW, hours
from tests.stock.exhaustive import all_values


def shelf(*offers, slot=None):
    slot = slot or Slot(name="here", ready=hours(-1))
    return Supply("shelf", True, Quote(as_of=NOW, currency="EUR", slots=(slot,), offers=offers))


def lies(item, count, lot="", use_by=None, unit="each"):
    arrivals = (Arrival(slot="here", sureness="on the shelf"),)
    return Offer(item=item, unit=unit, pool=count * 1000, lot=lot, use_by=use_by, arrivals=arrivals)


def supplier(name, *offers, ready=18, fee=0, minimum=0, cut_off=1):
    slot = Slot(name="next", ready=hours(ready), cut_off=hours(cut_off), fee=fee, minimum=minimum)
    return Supply(name, False, Quote(as_of=NOW, currency="EUR", slots=(slot,), offers=offers))


def sells(item, minor, per=1000, packs=(), pool=None, breaks=(), unit="each"):
    prices = (Price(minor=minor, per=per), *(Price(minor=less, per=per, least=least) for least, less in breaks))
    return Offer(item=item, unit=unit, pool=pool, packs=packs,
                 arrivals=(Arrival(slot="next", sureness="promised", prices=prices),))


def need(item, count, booking=1, wanted=20, **more):
    items = (item,) if isinstance(item, str) else item
    return Need(more.pop("name", f"{items[0]} of {booking}"), booking, more.pop("vor", False), items,
                count * 1000, more.pop("unit", "each"), hours(wanted), **more)


def planned(needs, supplies, **more):
    made = plan(needs, supplies, NOW, **more)
    assert made.proven
    assert verify(needs, supplies, made, NOW) == []
    return made


def test_43_is_the_largest_number_that_packs_of_6_9_and_20_cannot_make():
    """The coin problem's best-known case, Henri Picciotto's (futilitycloset.com, 2 November 2011, "Piece Work")."""
    supplies = [supplier("north", sells("nut", 1, packs=(6000, 20_000, 9000)))]
    over = [count for count in range(1, 60) if planned([need("nut", count)], supplies).value.money > count]
    assert max(over) == 43
    assert [count for count in range(1, 30) if count not in over] == [6, 9, 12, 15, 18, 20, 21, 24, 26, 27, 29]


# the least sum of packs that is enough: own computation
@pytest.mark.parametrize("count, bought", [(7, 9), (25, 26), (43, 44), (44, 44), (6, 6), (1, 6)])
def test_packs_of_6_9_and_20_hold_as_little_too_much_as_can_be(count, bought):
    supplies = [supplier("north", sells("nut", 1, packs=(6000, 20_000, 9000)))]
    made = planned([need("nut", count)], supplies)
    assert [one.quantity for one in made.purchases] == [bought * 1000]
    assert made.value.money == bought


def boxes(*priced):
    """Each pack size an item of its own, at its own price a pack."""
    return [sells(f"box of {size}", minor, per=size * 1000, packs=(size * 1000,)) for size, minor in priced]


# f(q) = min over packs (s, c) of f(max(0, q - s)) + c, own computation
@pytest.mark.parametrize("priced, count, money", [
    (((6, 100), (9, 140), (20, 290)), 43, 670),
    *((((1, 130), (5, 500), (12, 1000)), count, money)
      for count, money in ((4, 500), (8, 890), (10, 1000), (11, 1000), (13, 1130), (23, 2000))),
])
def test_packs_with_prices_of_their_own_are_bought_for_the_least_money(priced, count, money):
    items = tuple(f"box of {size}" for size, _ in priced)
    made = planned([need(items, count, name="nuts")], [supplier("north", *boxes(*priced))])
    assert made.value.money == money


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 12), st.integers(1, 900)), min_size=1, max_size=3, unique_by=lambda one: one[0]),
    st.integers(1, 40))
def test_any_packs_cost_what_the_recursion_says(priced, count):
    least = [0]
    for amount in range(1, count + 1):
        least.append(min(least[max(0, amount - size)] + minor for size, minor in priced))
    items = tuple(f"box of {size}" for size, _ in priced)
    made = planned([need(items, count, name="nuts")], [supplier("north", *boxes(*priced))])
    assert made.value.money == least[count]


def test_of_equal_plans_the_one_with_the_fewest_packs_is_taken():
    made = planned([need("nut", 12)], [supplier("north", sells("nut", 100, packs=(2000, 3000, 12_000)))])
    assert made.purchases == (Purchase("north", "next", "nut", 12_000, ((12_000, 1),), 1200),)


def test_more_is_bought_where_a_break_makes_it_cheaper():
    made = planned([need("nut", 9)], [supplier("north", sells("nut", 100, breaks=((10_000, 80),)))])
    assert made.purchases == (Purchase("north", "next", "nut", 10_000, (), 800),)


def test_a_price_is_rounded_once_for_all_bookings_of_an_order_line():
    """4.20 a hundred: three washers are 12.6 cents; one by one they would be 4.2, so 12 together."""
    needs = [need("washer", 1, booking=booking) for booking in (1, 2, 3)]
    made = planned(needs, [supplier("north", sells("washer", 420, per=100_000))])
    assert made.purchases == (Purchase("north", "next", "washer", 3000, (), 13),)


def test_a_fee_is_paid_once_for_a_slot_and_makes_one_supplier_worth_more_than_two():
    needs = [need("nut", 1), need("bolt", 1, booking=2)]
    supplies = [
        supplier("north", sells("nut", 100), sells("bolt", 150), fee=60),
        supplier("south", sells("bolt", 95), fee=60)]
    made = planned(needs, supplies, with_next_best=True)
    assert {one.source for one in made.purchases} == {"north"}
    assert made.value.money == 310
    assert made.next_best.money == 315


def test_the_next_best_may_be_as_good():
    supplies = [supplier("north", sells("nut", 100)), supplier("south", sells("nut", 100))]
    made = planned([need("nut", 1)], supplies, with_next_best=True)
    assert made.next_best == made.value


def test_where_nothing_can_be_had_there_is_no_next_best():
    supplies = [shelf(lies("nut", 0)), supplier("north", sells("nut", 100, packs=(9000,), pool=5000))]
    made = planned([need("nut", 1)], supplies, with_next_best=True)
    assert (made.short, made.next_best) == ({"nut of 1": 1000}, None)


def test_an_order_is_brought_to_its_minimum_with_what_is_needed_only():
    needs = [need("nut", 1)]
    supplies = [supplier("north", sells("nut", 100), sells("rag", 1), minimum=250)]
    made = planned(needs, supplies)
    assert made.purchases == (Purchase("north", "next", "nut", 3000, (), 300),)


def test_a_vor_booking_gets_the_only_part_and_the_other_one_the_late_one():
    needs = [need("valve", 1, booking=1, wanted=2), need("valve", 1, booking=2, wanted=4, vor=True)]
    made = planned(needs, [shelf(lies("valve", 1)), supplier("north", sells("valve", 900))])
    assert {one.need: one.source for one in made.allocations} == {"valve of 2": "shelf", "valve of 1": "north"}
    assert booking_delays(needs, [shelf(lies("valve", 1)), supplier("north", sells("valve", 900))],
                          made.allocations, NOW) == {1: 16 * 3600, 2: 0}


def test_money_is_no_reason_to_be_late():
    supplies = [supplier("dear", sells("valve", 9000), ready=18), supplier("cheap", sells("valve", 1), ready=40)]
    assert planned([need("valve", 1)], supplies).value.money == 9000


def test_own_stock_is_never_bought_past():
    supplies = [shelf(lies("valve", 1)), supplier("gift", sells("valve", 0))]
    assert [one.source for one in planned([need("valve", 1)], supplies).allocations] == ["shelf"]


def test_what_runs_out_first_is_taken_first_and_then_the_lower_lot_number():
    offers = [lies("glue", 1, "10"), lies("glue", 1, "9"), lies("glue", 1, "2", date(2027, 1, 1)),
              lies("glue", 1, "8", date(2026, 6, 1)), lies("glue", 1, "1", date(2026, 3, 10))]
    made = planned([need("glue", 3)], [shelf(*offers)])
    assert [one.lot for one in made.allocations] == ["2", "8", "9"]


def test_what_is_past_its_day_when_it_is_needed_is_not_used():
    offers = [lies("glue", 1, "1", date(2026, 3, 11))]
    assert planned([need("glue", 1, wanted=32)], [shelf(*offers)]).short == {}
    assert planned([need("glue", 1, wanted=34)], [shelf(*offers)]).short == {"glue of 1": 1000}


def test_what_is_held_stays_where_it_is_although_an_earlier_lot_lies_there():
    held = (Held("shelf", "glue", "9", "here", 1000),)
    made = planned([need("glue", 1, held=held)], [shelf(lies("glue", 5, "2"), lies("glue", 5, "9"))])
    assert [one.lot for one in made.allocations] == ["9"]


def test_but_not_where_another_booking_would_be_late():
    held = (Held("shelf", "glue", "9", "here", 1000),)
    needs = [need(("glue", "paste"), 1, held=held), need("glue", 1, booking=2, wanted=2)]
    supplies = [shelf(lies("glue", 1, "9"), lies("paste", 1)), supplier("north", sells("glue", 1))]
    made = planned(needs, supplies)
    assert {one.need: one.item for one in made.allocations} == {"glue of 1": "paste", "glue of 2": "glue"}
    assert made.value.changes == 1


def test_the_first_item_of_a_need_is_taken_where_nothing_else_decides():
    supplies = [shelf(lies("makers oil", 5, unit="L"), lies("a oil", 5, unit="L"))]
    made = planned([need(("makers oil", "a oil"), 1, unit="L")], supplies)
    assert [one.item for one in made.allocations] == ["makers oil"]


def test_all_fills_of_a_circuit_come_from_one_oil_though_each_could_be_had_sooner():
    needs = [need(("oil a", "oil b"), 1, wanted=2, unit="L", circuit="unit", name=name) for name in ("first", "second")]
    here = shelf(lies("oil a", 1, unit="L"), lies("oil b", 1, unit="L"))
    supplies = [here, supplier("north", sells("oil b", 1, unit="L"))]
    made = planned(needs, supplies)
    assert {one.item for one in made.allocations} == {"oil b"}
    apart = [msgspec.structs.replace(one, circuit="") for one in needs]
    assert {one.item for one in planned(apart, supplies).allocations} == {"oil a", "oil b"}


def test_measured_units_convert_and_round_up_to_what_can_be_taken():
    needs = [msgspec.structs.replace(need("oil", 1, unit="mL", name="oil"), quantity=500_500)]
    supplies = [shelf(lies("oil", 5, unit="L"))]
    made = planned(needs, supplies)
    assert [one.quantity for one in made.allocations] == [501]
    assert made.value.missing_amount == 0


# one litre and millilitres of one item: what rounding leaves over is given back
@settings(max_examples=60, deadline=None)
@given(st.integers(1, 4), st.integers(0, 3), st.integers(0, 2), st.booleans())
def test_litres_and_thousandths_of_millilitres_are_shared_exactly(wanted, fine, coarse, ordered):
    here = (Arrival(slot="here", sureness="on the shelf"),)
    litres = Offer(item="oil", unit="L", pool=coarse, lot="2", arrivals=here)
    drops = Offer(item="oil", unit="mL", pool=fine, lot="1", arrivals=here)
    needs = [Need("oil", 1, False, ("oil",), wanted, "mL", hours(2)),
             Need("more oil", 2, True, ("oil",), 1, "mL", hours(2))]
    supplies = [shelf(*((litres, drops) if ordered else (drops, litres)))]
    made = planned(needs, supplies)
    assert msgspec.structs.astuple(made.value) == min(all_values(needs, supplies, NOW).values())


def test_nothing_is_ordered_at_the_cut_off_or_without_a_price():
    sold = sells("valve", 900)
    unpriced = msgspec.structs.replace(sold, arrivals=(Arrival(slot="next", sureness="promised"),))
    for supplies in ([supplier("north", sold, cut_off=0)], [supplier("north", unpriced)]):
        assert planned([need("valve", 1)], supplies).short == {"valve of 1": 1000}


def test_bookings_that_share_nothing_are_planned_apart(monkeypatch):
    """Only the booking that can choose between two suppliers with fees is given to the solver."""
    asked = []
    solver = solving.best_draft
    monkeypatch.setattr(solving, "best_draft", lambda piece, *rest, **more: (
        asked.append([row.need.name for row in piece.rows]), solver(piece, *rest, **more))[1])
    needs = [need("nut", 1, booking=1), need("bolt", 1, booking=2), need("nut", 1, booking=3)]
    both = [supplier("north", sells("bolt", 9), fee=5), supplier("south", sells("bolt", 8), fee=7)]
    planned(needs, [shelf(lies("nut", 9)), *both])
    assert asked == [["bolt of 2"]]


def test_a_plan_that_the_solver_gets_wrong_is_not_used(monkeypatch):
    """The solver's plan loses an allocation: its value isn't what was proven, so the simple plan is told as such."""
    solver = solving.best_draft

    def forgetful(*asked, **more):
        solved = solver(*asked, **more)
        solved.draft.taken.popitem()
        return solved
    monkeypatch.setattr(solving, "best_draft", forgetful)
    needs, supplies = [need("nut", 1)], [supplier("north", sells("nut", 9))]
    made = plan(needs, supplies, NOW, with_next_best=True)
    assert verify(needs, supplies, made, NOW) == []
    assert (made.proven, made.method, made.next_best, made.value.money) == (False, "simple", None, 9)


def test_solving_prints_nothing():
    """The solver's banner would spoil the JSON of a command."""
    code = (
        "from tests.stock.test_plan_rules import *\n"
        "made = plan([need('nut', 1)], [supplier(of, sells('nut', 9), fee=1) for of in ('north', 'south')], NOW)\n"
        "import sys; assert made.proven and 'highspy' in sys.modules")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_solver_is_loaded_only_to_solve():
    code = "import sys, kitbuilder.stock.plan\nsys.exit('highspy' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_numbers_too_large_to_be_sure_of_give_a_plan_that_claims_nothing():
    needs = [need("nut", 10**12 + 7)]
    supplies = [supplier("north", sells("nut", 1), fee=1), supplier("south", sells("nut", 2), fee=2)]
    made = plan(needs, supplies, NOW)
    assert verify(needs, supplies, made, NOW) == []
    assert (made.proven, made.method, made.value.money) == (False, "simple", 10**12 + 8)


def test_a_search_cut_short_keeps_what_it_found_and_claims_nothing(monkeypatch):
    """The rule of thumb stays with the supplier it first ordered from; the solver is stopped after its first level."""
    needs = [need("nut", 1), need("bolt", 1, booking=2)]
    supplies = [supplier("north", sells("nut", 100), sells("bolt", 150), fee=60),
                supplier("south", sells("nut", 120), sells("bolt", 95), fee=60)]
    assert plan(needs, supplies, NOW, seconds=0).value.money == 310
    search = levels.search
    # in steps of 5, which divides all prices
    monkeypatch.setattr(levels, "search", lambda *asked: (search(*asked)[0], 40.0))
    monkeypatch.setattr(levels.Relaxation, "solve", lambda *asked: Relaxed([], None))
    made = plan(needs, supplies, NOW, with_next_best=True)
    assert verify(needs, supplies, made, NOW) == []
    assert (made.proven, made.method, made.next_best, made.value.money) == (False, "simple", None, 275)
    assert made.gap == Gap("money", 275, 200)
