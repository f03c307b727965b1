"""Goods-in against orders: what comes is booked in, noted and held in one transaction, whatever comes."""

from datetime import date, timedelta

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import Goods, OrderedFor, OrderedLine, ReturnTerms
from kitbuilder.store import bookings, deliveries, holds, orders, outbox, returns, settling, shelves
from kitbuilder.store.audit import audit
from tests.store.shelf import LATER, NOW, SITE, balance, dump, entry, receive
from tests.store.test_orders_and_runs import order, propose


def book_at(store, id_, start):
    number, _ = bookings.put(store, "desk", entry(id_, start=start.replace(tzinfo=None)), start, "UTC", NOW)
    return number


@pytest.fixture
def ordered(store):
    """Four XX-1 for bookings 1 (two) and 2 (one, the first to start), and 20 L of oil for booking 1 (12.5 L)."""
    book_at(store, "1", NOW + timedelta(days=2))
    book_at(store, "2", NOW + timedelta(days=1))
    propose(store, order(wanted_for=(
        OrderedFor("XX-1", 1, "1/role:XX-1", 2000), OrderedFor("XX-1", 2, "2/role:XX-1", 1000),
        OrderedFor("OIL", 1, "1/oil:OIL", 12500))))
    orders.decide(store, 1, "ordered", "Ada", NOW)
    yield store
    assert audit(store) == []


def came(store, quantity, item="XX-1", note="N-1", unit="each", **more):
    terms = more.pop("terms", None)
    return deliveries.receive(store, more.pop("order", 1), Goods(
        note=note, item=item, quantity=quantity, unit=unit, bin="IN-1", **more), "Ben", LATER, terms)


def held(store):
    found = {}
    for one in holds.holds(store):
        found[one.booking, one.item] = found.get((one.booking, one.item), 0) + one.quantity
    return found


def test_all_that_was_asked_for_is_held_and_the_order_is_received(ordered):
    one = came(ordered, 4000, lot="L1")
    assert (one.takes, one.held, one.beyond, one.state) == ("ordered", {1: 2000, 2: 1000}, 0, "ordered")
    two = came(ordered, 20000, "OIL", unit="L")
    assert (two.held, two.state) == ({1: 12500}, "received")
    assert held(ordered) == {(1, "XX-1"): 2000, (2, "XX-1"): 1000, (1, "OIL"): 12500}
    assert {one.need for one in holds.holds(ordered)} == {"1/role:XX-1", "2/role:XX-1", "1/oil:OIL"}
    assert [one.text for one in orders.history(ordered, 1)] == [
        "", "note N-1: 4 each of XX-1", "note N-1: 20 L of OIL"]


def test_a_part_delivery_goes_to_the_first_to_start_and_the_rest_is_still_expected(ordered):
    assert came(ordered, 2000).held == {2: 1000, 1: 1000}
    one = orders.get(ordered, 1)
    assert (one.state, [(each.item, each.quantity) for each in one.wanted_for]) == (
        "ordered", [("XX-1", 1000), ("OIL", 12500)])
    assert settling.expect(ordered, 1, NOW + timedelta(days=3), "Ada", LATER).expected_at == NOW + timedelta(days=3)
    assert came(ordered, 2000, note="N-2").held == {1: 1000}
    assert held(ordered) == {(1, "XX-1"): 2000, (2, "XX-1"): 1000}


def test_a_rest_that_isnt_coming_is_looked_for_elsewhere(ordered):
    came(ordered, 1000)
    one = settling.drop_rest(ordered, 1, "Ada", LATER)
    assert (one.state, one.wanted_for) == ("received", ())
    assert orders.history(ordered, 1)[-1].text == "the rest isn't coming; came: 1 XX-1"


def test_a_line_of_a_delivery_note_counts_once(ordered, file):
    came(ordered, 2000)
    before = dump(file)
    again = came(ordered, 2000)
    assert (again.again, again.held) == (True, {})
    with pytest.raises(StoreRefuses, match="Delivery note N-1 has 2 each of XX-1 already"):
        came(ordered, 1000)
    assert dump(file) == before
    assert came(ordered, 1000, lot="L2").held == {1: 1000}  # another lot on the same note is another line


def test_a_wrong_part_is_put_aside_under_a_lot_of_its_own_and_its_return_proposed(ordered):
    receive(ordered, 3000, item="YY-1", lot="L1")
    one = came(ordered, 1000, "YY-1", lot="L1", terms=ReturnTerms(30, 15))
    assert (one.takes, one.held, one.lot, one.state) == ("wrong", {}, "L1 (order 1)", "ordered")
    aside = [(lot.lot, lot.on_hand, lot.quarantine) for lot in shelves.lots(ordered, SITE, ["YY-1"])]
    assert aside == [("L1", 3000, ""), ("L1 (order 1)", 1000, "wrong part with order 1, note N-1")]
    [back] = returns.returns(ordered)
    # the supplier's own mistake costs no fee: common practice, no source
    assert (back.id, back.item, back.why, back.until, back.fee, back.credit, back.state) == (
        one.proposed_return, "YY-1", "wrong part", date(2026, 4, 9), 0, None, "proposed")


def test_more_than_was_ordered_is_booked_in_for_nobody_and_its_return_proposed(ordered):
    one = came(ordered, 6000)
    assert (one.takes, one.beyond, one.held) == ("ordered", 2000, {1: 2000, 2: 1000})
    assert balance(ordered)["XX-1", "", "IN-1"] == (6000, 3000)
    [back] = returns.returns(ordered)
    assert (back.quantity, back.why, back.credit) == (2000, "more than was ordered", 840)
    more = came(ordered, 1000, note="N-2")
    assert (more.takes, more.beyond) == ("beyond", 1000)


def test_something_in_its_place_is_taken_by_a_person(ordered):
    one = came(ordered, 3000, "YY-1", instead_of="XX-1")
    assert (one.takes, one.held) == ("instead", {1: 2000, 2: 1000})
    assert held(ordered) == {(1, "YY-1"): 2000, (2, "YY-1"): 1000}
    with pytest.raises(WrongUse, match="has no ZZ-1"):
        came(ordered, 1000, "YY-1", note="N-2", instead_of="ZZ-1")


def test_what_cant_be_used_or_isnt_wanted_any_more_is_booked_in_but_not_held(ordered):
    bookings.change(ordered, 2, NOW, state="cancelled")
    assert came(ordered, 3000).held == {1: 2000}
    assert came(ordered, 20000, "OIL", unit="L", lot="O", use_by=date(2026, 3, 9)).held == {}
    assert balance(ordered)["OIL", "O", "IN-1"] == (20000, 0)


def test_units_of_one_quantity_are_told_against_each_other_and_others_refused(ordered):
    assert came(ordered, 5_000_000, "OIL", unit="mL").held == {1: 5_000_000}
    assert orders.get(ordered, 1).wanted_for[-1].quantity == 7500
    with pytest.raises(StoreRefuses, match="asks for XX-1 in each"):
        came(ordered, 1000, unit="set", note="N-2")


@pytest.mark.parametrize("state,then", [("cancelled", "cancelled"), ("unclear", "confirmed"), ("approved", "ordered")])
def test_goods_tell_what_nobody_knew_of_the_order(store, state, then):
    book_at(store, "1", NOW)
    propose(store, order())
    if state == "approved":
        orders.decide(store, 1, "approved", "Ada", NOW)
    elif state == "cancelled":
        orders.decide(store, 1, "cancelled", "Ada", NOW)
    else:
        orders.decide(store, 1, "approved", "Ada", NOW)
        outbox.begin(store, 1, "night", NOW)
        outbox.unclear(store, 1, "no answer", "night", NOW)
    one = came(store, 4000)
    assert one.state == then
    if state == "cancelled":
        assert (one.takes, one.held) == ("beyond", {})
        assert [back.why for back in returns.returns(store)] == ["order 1 was cancelled"]
    else:
        assert one.held == {1: 4000}


def test_what_is_only_proposed_or_without_a_note_isnt_booked_in(store):
    book_at(store, "1", NOW)
    propose(store, order(lines=(OrderedLine("XX-1", "each", 4000, (), 1680),),
                         wanted_for=(OrderedFor("XX-1", 1, "n", 4000),)))
    with pytest.raises(StoreRefuses, match="only proposed"):
        came(store, 1000)
    orders.decide(store, 1, "ordered", "Ada", NOW)
    for wrong, said in (({"note": " "}, "--note"), ({"quantity": 0}, "more than zero"), ({"order": 8}, "no order 8")):
        with pytest.raises(WrongUse, match=said):
            came(store, **{"quantity": 1000} | wrong)
    assert balance(store) == {}
