"""What must come from outside is proposed, counts once a named person says so, and is looked for elsewhere if not."""

from datetime import timedelta

import pytest

from kitbuilder.store import bookings, holds
from tests.night.shop import NOW, Shop, row_of

EURO_5, EURO_6 = {"emissions": "Euro V"}, {"emissions": "Euro VI"}
UNIT_AT_NOON = "U-1,1,each,2026-03-11T12:00:00+00:00,900,1"
UNIT_NEXT_DAY = "U-1,1,each,2026-03-12T07:00:00+00:00,800,1"


def test_an_enquiry_orders_nothing_and_gets_what_the_others_leave_on_the_shelf(shop: Shop) -> None:
    """It starts first, and still the one part that is there is the authorised booking's."""
    shop.receive("U-1", "1")
    shop.supplier(UNIT_NEXT_DAY)
    enquiry = shop.book("unit-change", "2026-03-11T07:00", state="enquiry")
    shop.run()
    assert shop.held() == {f"{enquiry}/unit:U-1 U-1": 1000}
    firm = shop.book("unit-change", "2026-03-12T08:00")
    report = shop.run()
    assert shop.held() == {f"{firm}/unit:U-1 U-1": 1000}
    assert shop.orders() == []
    assert row_of(report, enquiry).state == "enquiry"
    assert row_of(report, enquiry).why == ("not authorised: nothing is ordered for it",)
    bookings.change(shop.store, enquiry, NOW, state="authorised")
    shop.run()
    [order] = shop.orders()
    assert len(shop.held()) == 1 and [one.item for one in order.lines] == ["U-1"]


def test_a_proposal_brings_nothing_before_somebody_decided(shop: Shop) -> None:
    shop.supplier(UNIT_AT_NOON)
    number = shop.book("unit-change", "2026-03-12T08:00")
    report = shop.run()
    [order] = shop.orders()
    assert row_of(report, number).state == "not ready"
    assert row_of(report, number).why == (
        f"1 each Unit (U-1): 1 waits for a decision on order {order.id} at supplier",)
    assert report.attention[0] == (
        f"Order {order.id} at supplier, for booking {number}, waits for a decision: "
            f"kitbuilder order approve {order.id} --by NAME")


def test_an_approved_order_counts_as_expected_and_is_never_ordered_again(shop: Shop) -> None:
    shop.supplier(UNIT_AT_NOON, "U-1,5,each,2026-03-11T15:00:00+00:00,700,1")
    number = shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    [order] = shop.orders()
    shop.decide(order.id, "ordered")
    report = shop.run()
    assert shop.orders() == []
    assert [one.id for one in shop.orders("ordered")] == [order.id]
    [row] = report.bookings
    assert (row.booking, row.state) == (number, "ready by stage")
    assert row.why == (f"1 each Unit (U-1) from supplier, promised for {order.ready:%Y-%m-%d %H:%M}: before stage fit",)
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows


def test_one_that_comes_too_late_for_its_stage_isnt_ready(shop: Shop) -> None:
    shop.supplier(UNIT_NEXT_DAY)
    number = shop.book("unit-change", "2026-03-11T08:00")
    shop.run()
    shop.decide(shop.orders()[0].id, "ordered")
    row = row_of(shop.run(), number)
    assert row.state == "not ready"
    assert row.why == ("1 each Unit (U-1) from supplier, promised for 2026-03-12 07:00: too late for stage fit",)


def test_one_that_was_to_be_here_is_asked_after(shop: Shop) -> None:
    shop.supplier(UNIT_AT_NOON)
    shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    [order] = shop.orders()
    shop.decide(order.id, "ordered")
    shop.now = NOW + timedelta(days=1)
    report = shop.run()
    assert f"Order {order.id} at supplier was expected at 2026-03-11 12:00 and isn't booked in: ask after it." \
        in report.attention


def test_after_a_cancel_another_way_is_looked_for(shop: Shop) -> None:
    shop.supplier(UNIT_AT_NOON, UNIT_NEXT_DAY)
    number = shop.book("unit-change", "2026-03-13T08:00")
    shop.run()
    [cheap] = shop.orders()
    assert cheap.slot.startswith("2026-03-12")
    shop.decide(cheap.id, "cancelled")
    report = shop.run()
    [other] = shop.orders()
    assert other.slot.startswith("2026-03-11")
    assert not any("cancelled" in text for text in report.attention)
    assert row_of(report, number).state == "not ready"
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows


def test_without_another_way_it_is_proposed_again_and_said_so(shop: Shop) -> None:
    """The need is still there; only a person can say that it isn't."""
    shop.supplier(UNIT_AT_NOON)
    shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    [order] = shop.orders()
    shop.decide(order.id, "cancelled", "B. Person")
    report = shop.run()
    [again] = shop.orders()
    assert again.id != order.id and again.lines == order.lines
    assert (f"Order {order.id} at supplier was cancelled by B. Person, but nothing else brings U-1, so that is "
            "proposed again.") in report.attention


def test_an_ordered_one_that_is_cancelled_is_looked_for_elsewhere(shop: Shop) -> None:
    shop.supplier(UNIT_AT_NOON, UNIT_NEXT_DAY)
    shop.book("unit-change", "2026-03-13T08:00")
    shop.run()
    [first] = shop.orders()
    shop.decide(first.id, "ordered")
    shop.run()
    shop.decide(first.id, "cancelled")
    shop.run()
    [second] = shop.orders()
    assert (second.source, second.slot) != (first.source, first.slot)


def test_a_walk_in_that_needs_more_from_the_same_slot_gets_an_order_of_its_own(shop: Shop) -> None:
    shop.supplier("U-1,5,each,2026-03-11T12:00:00+00:00,900,1")
    shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    [first] = shop.orders()
    shop.decide(first.id, "ordered")
    walk_in = shop.book("unit-change", "2026-03-12T13:00")
    shop.run()
    [second] = shop.orders()
    assert second.id != first.id and [one.booking for one in second.wanted_for] == [walk_in]


def test_an_order_for_a_booking_that_is_cancelled_is_told(shop: Shop) -> None:
    shop.supplier(UNIT_AT_NOON)
    number = shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    [order] = shop.orders()
    shop.decide(order.id, "ordered")
    bookings.change(shop.store, number, NOW, state="cancelled")
    report = shop.run()
    assert (f"Order {order.id} at supplier brings 1 each of U-1 for booking {number}, which is cancelled."
            in report.attention)
    assert report.bookings == ()


def test_an_order_for_what_was_swapped_since_fills_nothing(shop: Shop) -> None:
    shop.receive("W-1", "2")
    shop.supplier("S-5,2,each,2026-03-11T07:00:00+00:00,3.10,1", "S-6,2,each,2026-03-11T07:00:00+00:00,3.10,1")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    [order] = shop.orders()
    shop.decide(order.id, "ordered")
    shop.edit(number, "swap", "seal", filler="S-5", item="S-6", unit="each")
    report = shop.run()
    [other] = shop.orders()
    assert [line.item for line in other.lines] == ["S-6"]
    assert any("Order 1 at supplier brings 2 each of" in text and "doesn't need it any more" in text
               for text in report.attention)


def test_cancelled_and_moved_bookings_let_go_what_was_planned(shop: Shop) -> None:
    shop.receive("U-1", "2")
    first, second = shop.book("unit-change"), shop.book("unit-change", "2026-03-11T09:00")
    shop.run()
    assert len(shop.held()) == 2
    bookings.change(shop.store, first, NOW, state="cancelled")
    bookings.change(shop.store, second, NOW, start=NOW + timedelta(days=30), start_wall="2026-04-09T16:00:00")
    shop.run()
    assert shop.held() == {}
    shop.sound()


def test_what_is_being_picked_or_picked_only_a_person_moves(shop: Shop) -> None:
    shop.receive("U-1", "2")
    shop.supplier("U-1,5,each,2026-03-11T08:00:00+00:00,900,1")
    first, second = shop.book("unit-change", "2026-03-12T08:00"), shop.book("unit-change", "2026-03-12T09:00")
    shop.run()
    [one], [other] = shop.holds(first), shop.holds(second)
    holds.step(shop.store, [one.id, other.id], "picking", "A. Person", NOW)
    holds.step(shop.store, [other.id], "picked", "A. Person", NOW)
    fixed = shop.holds()
    shop.book("unit-change", "2026-03-11T07:00", priority="VOR")
    bookings.change(shop.store, first, NOW, state="cancelled")
    bookings.change(shop.store, second, NOW, start=NOW + timedelta(days=30), start_wall="2026-04-09T16:00:00")
    report = shop.run()
    assert shop.holds() == fixed
    assert f"1 each of Unit (U-1) is picking for booking {first}, which is cancelled: put it back to A-1." \
        in report.attention


@pytest.mark.parametrize("bins", [1, 2])
def test_more_of_what_is_picked_already_is_held_beside_it(shop: Shop, bins: int) -> None:
    """Two were picked, an edit asks for five: three more are held, of the same lot and under the same name."""
    shop.receive("W-1", "2")
    shop.receive("S-5", "3")
    shop.receive("S-5", "2", bin_name="A-1" if bins == 1 else "B-2")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    seals = [row.id for row in shop.holds(number) if row.item == "S-5"]
    holds.step(shop.store, seals, "picking", "A. Person", NOW)
    shop.edit(number, "amount", "seal", filler="S-5", amount=5000, unit="each")
    report = shop.run()
    assert shop.held(number)[f"{number}/seal:S-5 S-5"] == 5000
    assert row_of(report, number).state == "ready"
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows
    shop.sound()


def test_what_lies_in_two_bins_is_held_in_both_and_left_alone_again(shop: Shop) -> None:
    shop.receive("W-1", "2")
    shop.receive("S-5", "1")
    shop.receive("S-5", "1", bin_name="B-2")
    number = shop.book("seal-change", facts=EURO_5)
    assert row_of(shop.run(), number).state == "ready"
    assert sorted(row.bin for row in shop.holds(number) if row.item == "S-5") == ["A-1", "B-2"]
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows
