"""Own stock at other places: a site or a van, brought here by trips that cost something."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from kitbuilder.model.offer import Arrival, Offer, Quote, Slot
from kitbuilder.model.plan import Supply
from kitbuilder.stock.plan import plan
from kitbuilder.stock.verify import verify
from tests.stock.draw_sourcing import NOW, hours
from tests.stock.test_plan_rules import lies, need, planned, sells, shelf, supplier


def van(*counts, fee=0, ready=10, cut_off=None):
    slot = Slot(name="noon", ready=hours(ready), cut_off=None if cut_off is None else hours(cut_off), fee=fee)
    arrivals = (Arrival(slot="noon", sureness="confirmed"),)
    offers = tuple(Offer(item=item, unit="each", pool=count * 1000, arrivals=arrivals) for item, count in counts)
    return Supply("van", True, Quote(as_of=NOW, currency="EUR", slots=(slot,), offers=offers), transfer=True)


def sources(made):
    return {one.need: one.source for one in made.allocations}


def test_a_trip_costs_its_fee_once_for_all_that_it_brings():
    needs = [need("nut", 1), need("bolt", 1, booking=2)]
    north = supplier("north", sells("nut", 40), sells("bolt", 40))
    made = planned(needs, [van(("nut", 1), ("bolt", 1), fee=70), north])
    assert set(sources(made).values()) == {"van"}
    assert made.value.money == 70


def test_a_trip_for_one_part_is_dearer_than_buying_it():
    made = planned([need("nut", 1)], [van(("nut", 1), fee=70), supplier("north", sells("nut", 40))])
    assert sources(made) == {"nut of 1": "north"}


def test_what_lies_here_is_taken_before_what_a_trip_brings():
    made = planned([need("nut", 1)], [van(("nut", 5), fee=70), shelf(lies("nut", 1))])
    assert sources(made) == {"nut of 1": "shelf"}


@pytest.mark.parametrize("fee", [0, 70])
def test_what_lies_here_is_taken_before_what_is_older_elsewhere(fee):
    # a trip is taken for the bolt, so that it costs nothing more to have the nut on it too
    needs = [need("nut", 1), need("bolt", 1, booking=2)]
    old = van(("nut", 5), ("bolt", 5), fee=fee)
    old = msgspec.structs.replace(old, quote=msgspec.structs.replace(old.quote, offers=tuple(
        msgspec.structs.replace(offer, use_by=date(2026, 6, 30), lot="A") for offer in old.quote.offers)))
    here = shelf(msgspec.structs.replace(lies("nut", 1), use_by=date(2027, 6, 30), lot="B"))
    assert sources(planned(needs, [old, here])) == {"nut of 1": "shelf", "bolt of 2": "van"}


def test_a_trip_that_comes_too_late_makes_the_booking_late():
    made = planned([need("nut", 1, wanted=8)], [van(("nut", 1))])
    assert made.value.delay_s == 2 * 3600


def test_no_trip_is_taken_at_its_cut_off():
    assert planned([need("nut", 1)], [van(("nut", 1), cut_off=0)]).short == {"nut of 1": 1000}
    late = van(("nut", 1), cut_off=1)
    made = plan([need("nut", 1)], [late], NOW)
    assert sources(made) == {"nut of 1": "van"}
    assert any("trip" in one for one in verify([need("nut", 1)], [late], made, hours(1)))


def test_a_plan_that_leaves_out_a_trips_fee_is_wrong():
    needs, supplies = [need("nut", 1)], [van(("nut", 1), fee=70)]
    made = planned(needs, supplies)
    cheaper = msgspec.structs.replace(made, value=msgspec.structs.replace(made.value, money=0))
    assert verify(needs, supplies, cheaper, NOW)
