"""Plans against the plain judge that tries everything."""

from __future__ import annotations

import random

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.model.plan import Value
from kitbuilder.stock.plan import plan
from kitbuilder.stock.value import value_of
from kitbuilder.stock.verify import verify
from tests.stock.draw_sourcing import NOW, cases
from tests.stock.exhaustive import all_values


def choices(made):
    return frozenset((one.need, one.item, one.source, one.slot) for one in made.allocations)


def is_the_best_of_all(case):
    """Both a plan and the next best are what trying everything finds."""
    needs, supplies = case
    made = plan(needs, supplies, NOW, with_next_best=True)
    assert verify(needs, supplies, made, NOW) == []
    every = all_values(needs, supplies, NOW)
    assert made.proven
    assert msgspec.structs.astuple(made.value) == min(every.values())
    others = [worth for chosen, worth in every.items() if chosen != choices(made)]
    told = made.next_best
    assert (None if told is None else msgspec.structs.astuple(told)) == min(others, default=None)


@settings(max_examples=150, deadline=None)
@given(cases())
def test_a_proven_plan_is_the_best_of_all_and_the_next_best_the_best_of_the_others(case):
    is_the_best_of_all(case)


@settings(max_examples=150, deadline=None)
@given(cases())
def test_without_time_the_plan_keeps_every_rule_and_claims_nothing(case):
    needs, supplies = case
    made = plan(needs, supplies, NOW, seconds=0, with_next_best=True)
    assert verify(needs, supplies, made, NOW) == []
    best = min(all_values(needs, supplies, NOW).values())
    assert msgspec.structs.astuple(made.value) >= best
    if made.proven:
        assert msgspec.structs.astuple(made.value) == best
    else:
        assert made.method == "simple"
        assert made.next_best is None


@settings(max_examples=40, deadline=None)
@given(cases(), st.randoms(use_true_random=False))
def test_the_order_of_what_is_given_makes_no_difference(case, shuffler: random.Random):
    needs, supplies = case
    made = plan(needs, supplies, NOW)
    turned = []
    for supply in shuffler.sample(supplies, len(supplies)):
        quote = supply.quote
        offers = [
            msgspec.structs.replace(offer, arrivals=tuple(shuffler.sample(offer.arrivals, len(offer.arrivals))))
            for offer in shuffler.sample(quote.offers, len(quote.offers))]
        slots = tuple(shuffler.sample(quote.slots, len(quote.slots)))
        quote = msgspec.structs.replace(quote, offers=tuple(offers), slots=slots)
        turned.append(msgspec.structs.replace(supply, quote=quote))
    assert plan(shuffler.sample(needs, len(needs)), turned, NOW) == made


@settings(max_examples=60, deadline=None)
@given(cases())
def test_a_plan_that_holds_what_it_planned_is_planned_again(case):
    from kitbuilder.model.plan import Held

    needs, supplies = case
    made = plan(needs, supplies, NOW)
    held = {
        need.name: tuple(Held(one.source, one.item, one.lot, one.slot, one.quantity)
                         for one in made.allocations if one.need == need.name) for need in needs}
    holding = [msgspec.structs.replace(need, held=held[need.name]) for need in needs]
    again = plan(holding, supplies, NOW)
    assert again.value.changes == 0
    assert again.value <= msgspec.structs.replace(made.value, changes=0)


def test_nothing_needed_is_a_plan_of_nothing():
    made = plan([], [], NOW, with_next_best=True)
    assert made.allocations == made.purchases == ()
    assert made.value == Value(*[0] * 13) == value_of([], [], [], [], NOW)
    assert made.proven
    assert made.next_best is None


@pytest.mark.long
@settings(max_examples=3_000, deadline=None)
@given(cases())
def test_a_proven_plan_is_the_best_of_all_at_length(case):
    needs, supplies = case
    made = plan(needs, supplies, NOW)
    assert made.proven
    assert msgspec.structs.astuple(made.value) == min(all_values(needs, supplies, NOW).values())
