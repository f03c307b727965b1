"""Needs that go together: one way for all of a booking's binding, and the best one."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
import pytest
from hypothesis import given, settings

from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.plan import Allocation, Held, Need, Supply
from kitbuilder.stock.plan import plan
from kitbuilder.stock.verify import verify
from tests.stock.draw_ways import bound_cases
from tests.stock.exhaustive import all_values
from tests.stock.test_plan import is_the_best_of_all

NOW = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)


@settings(max_examples=150, deadline=None)
@given(bound_cases())
def test_a_proven_plan_takes_the_best_ways_of_all(case) -> None:  # type: ignore[no-untyped-def]
    is_the_best_of_all(case)


@settings(max_examples=80, deadline=None)
@given(bound_cases())
def test_what_no_best_plan_needs_may_be_left_out_with_ways_too(case) -> None:  # type: ignore[no-untyped-def]
    needs, supplies = case
    made = plan(needs, supplies, NOW)
    assert made.proven
    assert msgspec.structs.astuple(made.value) == min(all_values(needs, supplies, NOW).values())


@settings(max_examples=80, deadline=None)
@given(bound_cases())
def test_without_time_a_plan_mixes_no_ways(case) -> None:  # type: ignore[no-untyped-def]
    needs, supplies = case
    made = plan(needs, supplies, NOW, seconds=0)
    assert verify(needs, supplies, made, NOW) == []
    assert msgspec.structs.astuple(made.value) >= min(all_values(needs, supplies, NOW).values())


# By hand


def shelf(**there: int) -> Supply:
    offers = tuple(Offer(item=item, unit="each", pool=count * 1000, lot="1",
                         arrivals=(Arrival(slot="here", sureness="on the shelf"),)) for item, count in there.items())
    return Supply("shelf", True, Quote(as_of=NOW, currency="EUR", slots=(Slot(name="here", ready=NOW),), offers=offers))


def sold(**minor: int) -> Supply:
    slot = Slot(name="tomorrow", ready=NOW + timedelta(hours=17), cut_off=NOW + timedelta(hours=2))
    offers = tuple(
        Offer(item=item, unit="each", pool=None, arrivals=(
            Arrival(slot="tomorrow", sureness="promised", prices=(Price(minor=price, per=1000),)),))
        for item, price in minor.items())
    return Supply("north", False, Quote(as_of=NOW, currency="EUR", slots=(slot,), offers=offers))


def need(name: str, item: str, *ways: int, count: int = 1, booking: int = 1, held: tuple[Held, ...] = ()) -> Need:
    return Need(name, booking, False, (item,), count * 1000, "each", NOW + timedelta(days=2), held=held,
                binding="set" if ways else "", ways=ways)


def takes(needs: list[Need], *supplies: Supply) -> dict[str, str]:
    made = plan(needs, supplies, NOW)
    assert made.proven
    return {one.need: one.source for one in made.allocations}


ONE_TO_TWO = [need("pipe", "A", 0), need("pipe>B", "B", 1), need("pipe>C", "C", 1, count=2)]


def test_the_old_one_is_used_up_first_and_then_all_parts_of_the_new() -> None:
    assert takes(ONE_TO_TWO, shelf(A=1, B=1, C=2)) == {"pipe": "shelf"}
    assert takes(ONE_TO_TWO, shelf(B=1, C=2)) == {"pipe>B": "shelf", "pipe>C": "shelf"}


def test_half_of_the_new_ones_does_not_do() -> None:
    # a clip for 0.90 beside the pipe on the shelf, or the old pipe for 5.00
    assert takes(ONE_TO_TWO, shelf(B=1), sold(A=500, C=90)) == {"pipe>B": "shelf", "pipe>C": "north"}
    assert takes(ONE_TO_TWO, shelf(B=1), sold(A=100, C=90)) == {"pipe": "north"}
    # one clip of two there, and nobody sells more: neither way comes wholly, and the one less is said to be missing
    made = plan(ONE_TO_TWO, [shelf(B=1, C=1)], NOW)
    assert made.short == {"pipe": 1000} or made.short == {"pipe>C": 1000}
    assert (made.value.short, made.value.missing, made.value.missing_amount) == (1, 1, 1000)


def test_two_old_ones_or_the_one_that_stands_for_both() -> None:
    both = [need("a", "A", 0), need("b", "B", 0), need("a>C", "C", 1)]
    assert takes(both, shelf(A=1, C=1)) == {"a>C": "shelf"}
    assert takes(both, shelf(A=1, B=1, C=1)) == {"a": "shelf", "b": "shelf"}
    assert takes(both, shelf(A=1), sold(B=300, C=400)) == {"a": "shelf", "b": "north"}
    assert takes(both, shelf(A=1), sold(B=300, C=200)) == {"a>C": "north"}


def test_both_pipes_are_of_one_make() -> None:
    pipes = [need("p", "A", 0), need("q", "C", 0), need("p>B", "B", 1), need("q>D", "D", 1)]
    assert takes(pipes, shelf(A=1, D=1), sold(B=300, C=400)) == {"p>B": "north", "q>D": "shelf"}
    assert takes(pipes, shelf(A=1, D=1), sold(B=500, C=400)) == {"p": "shelf", "q": "north"}


def test_what_is_held_stays_where_nothing_else_is_better() -> None:
    kept = [need("a", "A", 0), need("a>B", "B", 1, held=(Held("shelf", "B", "1", "here", 1000),))]
    assert takes(kept, shelf(A=1, B=1)) == {"a>B": "shelf"}


def test_each_booking_takes_its_own_way() -> None:
    two = [*ONE_TO_TWO, *(msgspec.structs.replace(one, name=f"2{one.name}", booking=2) for one in ONE_TO_TWO)]
    found = takes(two, shelf(A=1, B=1, C=2))
    assert set(found) in ({"pipe", "2pipe>B", "2pipe>C"}, {"2pipe", "pipe>B", "pipe>C"})


@pytest.mark.parametrize("taken", [("pipe", "pipe>B"), ("pipe", "pipe>C")])
def test_a_plan_that_mixes_ways_is_no_plan(taken: tuple[str, str]) -> None:
    made = plan(ONE_TO_TWO, [shelf(A=1, B=1, C=2)], NOW)
    item = {"pipe": "A", "pipe>B": "B", "pipe>C": "C"}
    mixed = msgspec.structs.replace(made, allocations=tuple(sorted(
        Allocation(name, "shelf", item[name], "1", "here", 2000 if name == "pipe>C" else 1000) for name in taken)))
    assert any("are of no one way of set" in text for text in verify(ONE_TO_TWO, [shelf(A=1, B=1, C=2)], mixed, NOW))


def test_a_binding_without_ways_is_refused() -> None:
    with pytest.raises(ValueError, match="binding without ways"):
        plan([msgspec.structs.replace(ONE_TO_TWO[0], ways=())], [shelf(A=1)], NOW)
