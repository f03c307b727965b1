"""Why a need takes what it takes, and why a booking lost, against the plain judge that tries everything."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec
import pytest
from hypothesis import given, settings

from kitbuilder.model.plan import Otherwise, Value
from kitbuilder.stock.explain import Explainer, explain
from kitbuilder.stock.plan import plan
from kitbuilder.stock.service import SERVICE
from kitbuilder.stock.value import booking_delays
from tests.stock.draw_sourcing import NOW, cases
from tests.stock.draw_ways import bound_cases
from tests.stock.exhaustive import Exhaustive
from tests.stock.test_plan_rules import lies, need, sells, shelf, supplier

Delays = dict[str, int | None]


class Judge:
    """Every plan there is: what each need chooses (item, source, slot), by how much it is late, what all is worth."""

    def __init__(self, needs, supplies):
        judge = Exhaustive(needs, supplies, NOW)
        self.plans = []
        for taken, on, worth in judge.plans():
            chosen = {need.name: {(judge.spots[at].offer.item, judge.spots[at].source, judge.spots[at].slot.name)
                                  for at, amount in enumerate(way) if amount}
                      for need, way in zip(judge.needs, taken, strict=True)}
            delays = {need.name: judge.delay_of(number, way)
                      for number, (need, way) in enumerate(zip(judge.needs, taken, strict=True)) if need.name in on}
            self.plans.append((chosen, delays, worth))

    def without(self, name: str, choices: set[tuple[str, str, str]]):
        """The least value of a plan in which a need takes nothing of some choices."""
        return min((worth for chosen, _, worth in self.plans if not chosen[name] & choices), default=None)

    def served(self, names: Sequence[str], fits: Callable[[int], bool]):
        """The least value of a plan in which some needs, those of them that count, are filled with delays that fit."""
        return min((worth for _, delays, worth in self.plans for mine in [[delays[name] for name in names
                    if name in delays]] if mine and all(one is not None and fits(one) for one in mine)), default=None)

    def sooner(self, names: Sequence[str], delay: int | None):
        """What needs of which one is so late, or short, could be at best, and the least value of such a plan."""
        for goal, fits in (("on time", lambda one: one == 0),
                           ("whole", lambda one: True) if delay is None else ("sooner", lambda one: one < delay)):
            worth = self.served(names, fits)
            if worth is not None:
                return goal, worth
        return "none", None


def is_told(other: Otherwise | None, worth, value: Value) -> bool:
    """Whether what is told of another plan is what the judge's best one is worth, and in what it is worse."""
    if other is None or worth is None:
        return other is None and worth is None
    fields = zip(value.__struct_fields__, worth, msgspec.structs.astuple(value), strict=True)
    first = next(((name, mine - yours) for name, mine, yours in fields if mine != yours), ("", 0))
    return msgspec.structs.astuple(other.value) == worth and (other.worse_in, other.by) == first


def is_explained(case):
    needs, supplies = case
    made = plan(needs, supplies, NOW)
    assert made.proven
    judge, explainer = Judge(needs, supplies), Explainer(made, needs, supplies, NOW)
    delays = booking_delays(needs, supplies, made.allocations, NOW)
    for one in needs:
        told = explainer.need(one.name)
        mine = {(at.item, at.source, at.slot) for at in made.allocations if at.need == one.name}
        assert told.worked_out
        assert set(told.chosen) == {at for at in made.allocations if at.need == one.name}
        assert is_told(told.next_best, judge.without(one.name, mine) if mine else None, made.value)
    assert explainer.late() == sorted(booking for booking, delay in delays.items() if delay != 0)
    for booking in explainer.late():
        lost = explainer.booking(booking)
        names = [one.name for one in needs if one.booking == booking]
        goal, worth = judge.sooner(names, delays[booking])
        assert (lost.delay_s, lost.goal, lost.worked_out, lost.tied) == (delays[booking], goal, True, False)
        if lost.otherwise is not None and lost.otherwise.worse_in in SERVICE:
            first = next((name, mine - yours) for name, mine, yours in zip(
                SERVICE, worth, msgspec.structs.astuple(made.value), strict=False) if mine != yours)
            assert msgspec.structs.astuple(lost.otherwise.value)[:len(SERVICE)] == worth[:len(SERVICE)]
            assert (lost.otherwise.worse_in, lost.otherwise.by) == first
        else:
            assert is_told(lost.otherwise, worth, made.value)


@settings(max_examples=60, deadline=None)
@given(cases())
def test_what_another_way_costs_is_what_the_best_of_all_such_plans_costs(case):
    is_explained(case)


@settings(max_examples=60, deadline=None)
@given(bound_cases())
def test_what_another_way_costs_is_exact_where_needs_go_together(case):
    is_explained(case)


@pytest.mark.long
@settings(max_examples=1_000, deadline=None)
@given(cases())
def test_what_another_way_costs_at_length(case):
    is_explained(case)


def test_the_cheapest_other_way_is_told_with_what_the_whole_plan_then_costs_more():
    """Without north, both are bought of south for its fee: 120 + 95 + 60, against 100 + 150 + 20."""
    needs = [need("nut", 1), need("bolt", 1, booking=2)]
    supplies = [supplier("north", sells("nut", 100), sells("bolt", 150), fee=20),
                supplier("south", sells("nut", 120), sells("bolt", 95), fee=60)]
    made = plan(needs, supplies, NOW)
    assert made.value.money == 270
    told = explain(made, "nut of 1", needs, supplies, NOW)
    assert [one.source for one in told.next_best.takes] == ["south"]
    assert (told.next_best.worse_in, told.next_best.by) == ("money", 5)


def test_what_was_bought_beyond_the_need_for_a_minimum_is_saved_when_nothing_is_bought():
    """Three are bought of which one is needed, for an order of 260 at least: without it, 300 and the fee are saved."""
    needs, supplies = [need("nut", 1)], [supplier("north", sells("nut", 100), fee=90, minimum=260)]
    made = plan(needs, supplies, NOW)
    assert made.value.money == 390
    assert explain(made, "nut of 1", needs, supplies, NOW).next_best.value.money == 0


def test_a_booking_that_lost_the_only_part_is_told_to_whom_and_by_which_level():
    needs = [need("valve", 1, booking=1, wanted=2), need("valve", 1, booking=2, wanted=4, vor=True)]
    supplies = [shelf(lies("valve", 1)), supplier("north", sells("valve", 900))]
    made = plan(needs, supplies, NOW)
    lost = Explainer(made, needs, supplies, NOW).booking(1)
    assert (lost.goal, lost.needs, [one.need for one in lost.taken_by]) == ("on time", ("valve of 1",), ["valve of 2"])
    assert (lost.otherwise.worse_in, lost.otherwise.by) == ("not_on_time_vor", 1)
    assert [(one.booking, one.delay_s == 0, one.then_s == 0) for one in lost.otherwise.fares] == [
        (1, False, True), (2, True, False)]


def test_a_booking_that_would_make_two_late_instead_of_one_is_told_so():
    needs = [need("valve", 2, booking=1, wanted=2), need("valve", 1, booking=2, wanted=2),
             need("valve", 1, booking=3, wanted=2)]
    supplies = [shelf(lies("valve", 2)), supplier("north", sells("valve", 900))]
    made = plan(needs, supplies, NOW)
    lost = Explainer(made, needs, supplies, NOW).booking(1)
    assert (lost.otherwise.worse_in, lost.otherwise.by) == ("not_on_time", 1)
    assert {one.need for one in lost.taken_by} == {"valve of 2", "valve of 3"}
    assert [one.booking for one in lost.otherwise.fares if one.then_s] == [2, 3]


def test_a_booking_that_can_not_be_on_time_is_told_what_it_would_take_to_be_sooner():
    """The early delivery, one piece, goes to the VOR booking; the shelf is empty."""
    needs = [need("valve", 1, booking=1, wanted=2), need("valve", 1, booking=2, wanted=2, vor=True)]
    early = msgspec.structs.replace(sells("valve", 900), pool=1000)
    supplies = [supplier("early", early, ready=10), supplier("north", sells("valve", 900))]
    made = plan(needs, supplies, NOW)
    lost = Explainer(made, needs, supplies, NOW).booking(1)
    assert (lost.goal, lost.otherwise.worse_in) == ("sooner", "delay_vor_s")
    assert [one.source for one in lost.taken_by] == ["early"]


def test_a_booking_that_can_not_be_served_has_no_other_plan():
    needs, supplies = [need("valve", 2)], [shelf(lies("valve", 1))]
    made = plan(needs, supplies, NOW)
    told = explain(made, "valve of 1", needs, supplies, NOW)
    assert told.next_best.worse_in == "missing_amount"
    lost = Explainer(made, needs, supplies, NOW).booking(1)
    assert (lost.goal, lost.otherwise, lost.worked_out) == ("none", None, True)


def test_a_plan_without_proof_is_explained_where_its_part_turns_out_to_be_the_best():
    """The rule of thumb buys the bolt at the lower price, whatever the fee; the nut lies on the shelf."""
    needs = [need("nut", 1), need("bolt", 1, booking=2)]
    supplies = [shelf(lies("nut", 1)), supplier("east", sells("nut", 140)),
                supplier("north", sells("bolt", 90), fee=40), supplier("south", sells("bolt", 100))]
    made = plan(needs, supplies, NOW, seconds=0)
    assert not made.proven
    explainer = Explainer(made, needs, supplies, NOW)
    nut, bolt = explainer.need("nut of 1"), explainer.need("bolt of 2")
    assert (nut.worked_out, nut.next_best.worse_in, nut.next_best.by) == (True, "money", 140)
    assert (bolt.worked_out, bolt.next_best) == (False, None)


def test_of_a_plan_without_proof_bookings_are_said_to_be_tied_where_they_are():
    needs = [need("valve", 1, booking=1), need("valve", 1, booking=2), need("bolt", 1, booking=3)]
    supplies = [shelf(lies("valve", 1)),
                supplier("north", sells("bolt", 90), fee=40), supplier("south", sells("bolt", 100))]
    made = plan(needs, supplies, NOW, seconds=0)
    assert not made.proven
    explainer = Explainer(made, needs, supplies, NOW)
    [late] = explainer.late()
    lost = explainer.booking(late)
    assert (lost.goal, lost.tied, lost.otherwise.worse_in) == ("on time", True, "")
    assert [(one.booking, one.then_s) for one in lost.otherwise.fares if one.booking != late] == [(3 - late, None)]


def test_what_is_not_worked_out_in_time_says_so():
    needs = [need("nut", 1)]
    supplies = [supplier("north", sells("nut", 100), fee=1), supplier("south", sells("nut", 100), fee=2)]
    made = plan(needs, supplies, NOW)
    told = Explainer(made, needs, supplies, NOW).need("nut of 1", seconds=0)
    assert (told.next_best, told.worked_out) == (None, False)


def test_what_is_not_in_the_plan_can_not_be_asked_for():
    needs, supplies = [need("nut", 1)], [shelf(lies("nut", 1))]
    made = plan(needs, supplies, NOW)
    with pytest.raises(ValueError, match="no need 'bolt'"):
        explain(made, "bolt", needs, supplies, NOW)
    with pytest.raises(ValueError, match="no booking 2"):
        Explainer(made, needs, supplies, NOW).booking(2)
