"""What was ordered and isn't here yet is taken off what a source offers that doesn't know of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.model.offer import Arrival, Offer
from kitbuilder.model.shelf import Coming
from kitbuilder.stock.coming import less_coming


def offer(item: str, unit: str, pool: int | None, lot: str = "") -> Offer:
    return Offer(item=item, unit=unit, pool=pool, lot=lot, arrivals=(Arrival(slot="now", sureness="on the shelf"),))


def left(offers, *coming):
    return [(one.item, one.lot, one.pool) for one in less_coming(offers, coming)]


@pytest.mark.parametrize(("coming", "expected"), [
    ((), [("R", "A", 3000), ("R", "B", 2000), ("W", "", 1000)]),
    ((Coming("R", "each", 1000),), [("R", "A", 2000), ("R", "B", 2000), ("W", "", 1000)]),
    ((Coming("R", "each", 3000),), [("R", "B", 2000), ("W", "", 1000)]),
    ((Coming("R", "each", 2000), Coming("R", "each", 2000)), [("R", "B", 1000), ("W", "", 1000)]),
    ((Coming("R", "each", 9000), Coming("X", "each", 1000)), [("W", "", 1000)]),
])
def test_it_is_taken_off_lot_by_lot(coming, expected):
    assert left([offer("R", "each", 3000, "A"), offer("R", "each", 2000, "B"), offer("W", "each", 1000)],
                *coming) == expected


def test_units_convert_and_what_lies_between_is_taken_off():
    assert left([offer("O", "L", 20_000)], Coming("O", "mL", 1_500_000)) == [("O", "", 18_500)]
    assert left([offer("O", "L", 20_000)], Coming("O", "mL", 1)) == [("O", "", 19_999)]


def test_as_much_as_is_asked_for_stays_so():
    assert left([offer("O", "L", None)], Coming("O", "L", 5)) == [("O", "", None)]


@given(st.lists(st.integers(1, 50)), st.lists(st.integers(1, 50)))
def test_what_is_left_and_what_comes_are_never_more_than_there_was(pools, owed):
    offers = [offer("R", "each", pool, str(place)) for place, pool in enumerate(pools)]
    found = less_coming(offers, [Coming("R", "each", one) for one in owed])
    assert sum(one.pool or 0 for one in found) == max(0, sum(pools) - sum(owed))
