"""The verifier refuses what breaks a rule: one change for each rule, to a plan that it accepts."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Allocation, Gap, Held, Need, Purchase, Supply
from kitbuilder.stock.plan import plan
from kitbuilder.stock.value import booking_delays, value_of
from kitbuilder.stock.verify import verify
from tests.stock.draw_sourcing import NOW, hours

HERE = (Arrival(slot="here", sureness="on the shelf"),)
SHELF = Supply("shelf", True, Quote(
    as_of=NOW, currency="EUR", slots=(Slot(name="here", ready=hours(-1)),),
    unreadable={"foggy": "the cell says many"},
    offers=(
        Offer(item="seal", unit="each", pool=2000, arrivals=HERE, lot="4"),
        Offer(item="old seal", unit="each", pool=9000, arrivals=HERE, lot="1", use_by=date(2026, 3, 10)),
        Offer(item="hose", unit="m", pool=9000, arrivals=HERE),
        Offer(item="foggy", unit="each", pool=9000, arrivals=HERE),
        Offer(item="oil", unit="L", pool=5000, arrivals=(Arrival(slot="here", sureness="on the shelf", most=1500),)),
        Offer(item="new oil", unit="L", pool=5000, arrivals=HERE),
    )))
NORTH = Supply("north", False, Quote(
    as_of=NOW, currency="EUR",
    slots=(Slot(name="next", ready=hours(18), cut_off=hours(2), fee=700, minimum=1000),
           Slot(name="gone", ready=hours(10), cut_off=NOW)),
    offers=(
        Offer(item="bolt", unit="each", pool=30_000, packs=(10_000, 4_000), least=8_000, arrivals=(
            Arrival(slot="next", sureness="promised", most=28_000,
                    prices=(Price(minor=125, per=1000), Price(minor=100, per=1000, least=20_000))),
            Arrival(slot="gone", sureness="promised", prices=(Price(minor=125, per=1000),)))),
        Offer(item="seal", unit="each", pool=None, arrivals=(
            Arrival(slot="next", sureness="promised", prices=(Price(minor=900, per=1000),)),)),
    )))
SUPPLIES = [SHELF, NORTH]
NEEDS = [
    Need("bolts", 1, False, ("bolt",), 8000, "each", hours(20)),
    Need("seals", 1, False, ("seal", "old seal", "foggy", "hose"), 2000, "each", hours(20)),
    Need("enquired", 2, False, ("seal",), 1000, "each", hours(20), may_order=False),
    Need("first fill", 3, False, ("oil", "new oil"), 1_000_000, "mL", hours(1), circuit="unit"),
    Need("second fill", 3, False, ("oil", "new oil"), 499_500, "mL", hours(1), circuit="unit"),
]
SEALS, BOLTS, FIRST, SECOND = range(4)


@pytest.fixture(scope="module")
def good():
    made = plan(NEEDS, SUPPLIES, NOW)
    assert verify(NEEDS, SUPPLIES, made, NOW) == []
    # what the changes below start from
    assert made.allocations == (
        Allocation("bolts", "north", "bolt", "", "next", 8000),
        Allocation("enquired", "shelf", "seal", "4", "here", 1000),
        Allocation("first fill", "shelf", "oil", "", "here", 1000),
        Allocation("seals", "north", "seal", "", "next", 1000),
        Allocation("seals", "shelf", "seal", "4", "here", 1000),
        Allocation("second fill", "shelf", "oil", "", "here", 500))
    assert made.purchases == (
        Purchase("north", "next", "bolt", 8000, ((4000, 2),), 1000),
        Purchase("north", "next", "seal", 1000, (), 900))
    assert made.value.money == 2600
    return made


def allocation(need, item=None, source=None, lot=None, slot=None, quantity=None, *, of=0):
    """Change the `of`-th allocation of a need."""
    given = {"item": item, "source": source, "lot": lot, "slot": slot, "quantity": quantity}
    new = {name: value for name, value in given.items() if value is not None}

    def change(made):
        places = [at for at, one in enumerate(made.allocations) if one.need == need]
        changed = list(made.allocations)
        changed[places[of]] = msgspec.structs.replace(changed[places[of]], **new)
        return msgspec.structs.replace(made, allocations=tuple(changed))
    return change


def purchase(item, **new):
    def change(made):
        changed = [msgspec.structs.replace(one, **new) if one.item == item else one for one in made.purchases]
        return msgspec.structs.replace(made, purchases=tuple(changed))
    return change


def with_it(**new):
    return lambda made: msgspec.structs.replace(made, **{
        name: (getattr(made, name) | value) if isinstance(value, dict) else (*getattr(made, name), *value)
        if isinstance(value, tuple) else value for name, value in new.items()})


def both(*changes):
    def change(made):
        for one in changes:
            made = one(made)
        return made
    return change


BROKEN = {
    "no such need": (with_it(allocations=(Allocation("rings", "shelf", "seal", "4", "here", 1000),)), "no such need"),
    "no such offer": (allocation("seals", lot="5", of=1), "no such offer"),
    "no such slot": (allocation("seals", slot="there", of=1), "no such offer"),
    "an offer twice": (with_it(allocations=(Allocation("seals", "shelf", "seal", "4", "here", 1000),)), "twice"),
    "an item that isn't acceptable": (allocation("enquired", item="old seal", lot="1"), "not an acceptable item"),
    "what can't be read": (allocation("seals", item="foggy", lot="", of=1), "can't read"),
    "a unit that doesn't convert": (allocation("seals", item="hose", lot="", of=1), "doesn't convert"),
    "half a seal": (allocation("enquired", quantity=500), "can't be taken"),
    "less than nothing": (allocation("enquired", quantity=-1000), "can't be taken"),
    "nothing at all": (
        with_it(allocations=(Allocation("enquired", "shelf", "old seal", "1", "here", 0),)), "0 each can't be taken"),
    "past its use-by day": (allocation("seals", item="old seal", lot="1", of=1), "past its use-by day"),
    "bought for an enquiry": (allocation("enquired", source="north", lot="", slot="next"), "bought for an enquiry"),
    "too little, not named short": (allocation("second fill", quantity=499), "don't come"),
    "short by another amount": (both(allocation("second fill", quantity=499), with_it(short={"second fill": 501})),
                                "don't come"),
    "named short, and filled": (with_it(short={"seals": 1000}), "don't come"),
    "short of what nobody needs": (with_it(short={"rings": 1000}), "no such need"),
    "too much": (allocation("second fill", quantity=501), "more than it needs"),
    "a circuit from two items": (allocation("second fill", item="new oil"), "the circuit unit is filled from"),
    "beyond the pool": (allocation("seals", quantity=2000, of=1), "there is 2"),
    "beyond the most of a slot": (allocation("first fill", quantity=1100), "at most 1.5"),
    "bought beyond the pool": (purchase("bolt", quantity=40_000, packs=((10_000, 4),), minor=4000), "there is 30"),
    "bought beyond the most of a slot": (purchase("bolt", quantity=30_000, packs=((10_000, 3),), minor=3000),
                                         "at most 28"),
    "nothing bought in an order line": (purchase("seal", quantity=0, minor=0), "can't be ordered"),
    "more allocated than bought": (
        lambda made: msgspec.structs.replace(
            made, allocations=tuple(
                msgspec.structs.replace(one, quantity=2000) if one.source == "north" and one.need == "seals" else one
                for one in made.allocations if (one.source, one.need) != ("shelf", "seals"))),
        "2 allocated, 1 bought"),
    "allocated and not bought": (lambda made: msgspec.structs.replace(made, purchases=made.purchases[:1]), "0 bought"),
    "bought and nothing taken": (
        lambda made: msgspec.structs.replace(
            made, allocations=tuple(one for one in made.allocations if one.need != "bolts"), short={"bolts": 8000}),
        "nothing of it is taken"),
    "own stock bought": (with_it(purchases=(Purchase("shelf", "here", "hose", 1000, (), 0),)), "or own stock"),
    "one order line in two": (
        with_it(purchases=(Purchase("north", "next", "seal", 1000, (), 900),)), "two order lines"),
    "after the cut-off": (purchase("bolt", slot="gone"), "the cut-off"),
    "half a pack": (purchase("bolt", quantity=9000, minor=1125), "whole packs"),
    "a pack that there isn't": (purchase("bolt", packs=((8000, 1),)), "whole packs"),
    "a pack bought no times": (purchase("bolt", packs=((10_000, 0), (4000, 2))), "whole packs"),
    "packs of what is loose": (purchase("seal", packs=((1000, 1),)), "doesn't name"),
    "less than the least": (purchase("bolt", quantity=4000, packs=((4000, 1),), minor=500), "can't be ordered"),
    "another price": (purchase("bolt", minor=999), "the price is 1000"),
    "the price of a break not reached": (purchase("bolt", minor=800), "the price is 1000"),
    "the price before a break that is reached": (
        purchase("bolt", quantity=20_000, packs=((10_000, 2),), minor=2500), "the price is 2000"),
    "proven with a gap": (with_it(gap=Gap("money", 0, 0)), "with the gap"),
    "a gap of another value": (
        with_it(proven=False, method="simple", gap=Gap("money", 1, 0)), "of a plan of the value"),
    "unproven without a gap": (with_it(proven=False, method="simple"), "with the gap None"),
    "proven by a simple method": (with_it(method="simple"), "proven is True"),
    "another value": (lambda made: msgspec.structs.replace(
        made, value=msgspec.structs.replace(made.value, money=made.value.money - 700)), "states the value"),
    "a next best that is better": (lambda made: msgspec.structs.replace(
        made, next_best=msgspec.structs.replace(made.value, money=0)), "next best"),
}


@pytest.mark.parametrize("what", BROKEN)
def test_a_plan_that_breaks_a_rule_is_refused(good, what):
    change, told = BROKEN[what]
    wrong = verify(NEEDS, SUPPLIES, change(good), NOW)
    assert any(told in one for one in wrong), wrong


def test_an_order_below_its_minimum_is_refused():
    needs = [msgspec.structs.replace(NEEDS[1], quantity=3000)]
    made = plan(needs, SUPPLIES, NOW)
    assert [(one.quantity, one.minor) for one in made.purchases] == [(2000, 1800)]
    less = msgspec.structs.replace(
        made, purchases=(Purchase("north", "next", "seal", 1000, (), 900),),
        value=msgspec.structs.replace(made.value, money=1600))
    assert any("at least 1000" in one for one in verify(needs, SUPPLIES, less, NOW))


def test_a_need_for_more_than_there_is_names_what_is_short_and_still_gets_what_can_come():
    needs = [msgspec.structs.replace(NEEDS[2], quantity=5000), NEEDS[0]]
    made = plan(needs, SUPPLIES, NOW)
    assert made.short == {"enquired": 3000}
    assert sum(one.quantity for one in made.allocations if one.need == "enquired") == 2000
    assert booking_delays(needs, SUPPLIES, made.allocations, NOW) == {1: 0, 2: None}


def test_a_short_booking_takes_nothing_that_makes_another_one_short():
    """One seal, two bookings; the first lacks a bolt that never comes."""
    needs = [
        Need("bolts", 1, False, ("no such bolt",), 1000, "each", hours(1)),
        Need("seal of 1", 1, False, ("seal",), 2000, "each", hours(1), may_order=False),
        Need("seal of 2", 2, False, ("seal",), 2000, "each", hours(30), may_order=False)]
    made = plan(needs, SUPPLIES, NOW)
    assert made.short == {"bolts": 1000, "seal of 1": 2000}
    assert made.proven


def test_held_for_a_need_in_a_place_that_is_gone_is_a_change_whatever_is_planned():
    held = (Held("shelf", "seal", "3", "here", 1000), Held("shelf", "seal", "4", "here", 1000))
    needs = [msgspec.structs.replace(NEEDS[2], held=held)]
    made = plan(needs, SUPPLIES, NOW)
    assert made.proven
    assert made.value.changes == 1


def test_the_value_of_doing_nothing():
    value = value_of(NEEDS, SUPPLIES, (), (), NOW)
    assert (value.short, value.not_on_time, value.missing) == (3, 3, 5)
    assert value.missing_amount == 8000 + 2000 + 1000 + 1_000_000 + 499_500
    assert (value.delay_s, value.money) == (0, 0)


@pytest.mark.parametrize(("change", "told"), [
    (lambda needs, supplies: ([*needs, needs[0]], supplies), "twice"),
    (lambda needs, supplies: (needs, [*supplies, supplies[0]]), "twice"),
    (lambda needs, supplies: ([msgspec.structs.replace(needs[0], quantity=0)], supplies), "more than zero"),
    (lambda needs, supplies: ([msgspec.structs.replace(needs[0], unit="cup")], supplies), "a unit"),
    (lambda needs, supplies: ([msgspec.structs.replace(needs[0], wanted_at=NOW.replace(tzinfo=None))], supplies),
     "zone"),
    (lambda needs, supplies: (needs, [*supplies, msgspec.structs.replace(
        NORTH, source="south", quote=msgspec.structs.replace(NORTH.quote, currency="CHF"))]), "one currency"),
    (lambda needs, supplies: (needs, [msgspec.structs.replace(
        NORTH, quote=msgspec.structs.replace(NORTH.quote, offers=NORTH.quote.offers * 2))]), "expected it once"),
    (lambda needs, supplies: (needs, [msgspec.structs.replace(
        NORTH, quote=msgspec.structs.replace(NORTH.quote, slots=NORTH.quote.slots[:1]))]), "isn't there"),
])
def test_what_no_plan_can_be_made_for_is_said(change, told):
    needs, supplies = change(NEEDS, SUPPLIES)
    with pytest.raises(ValueError, match=told):
        plan(needs, supplies, NOW)
