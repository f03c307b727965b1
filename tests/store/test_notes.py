"""Whole delivery notes: all of one is booked in, or nothing; and what would come of it is seen without a trace."""

from datetime import date, timedelta

import pytest

from kitbuilder.model.order import BookedIn, Goods, OrderedFor
from kitbuilder.store import bookings, holds, orders, returns
from kitbuilder.store.audit import audit
from kitbuilder.store.notes import Delivered, receive_note
from tests.store.shelf import LATER, NOW, balance, dump, entry
from tests.store.test_orders_and_runs import order, propose


@pytest.fixture
def ordered(store):
    """Four XX-1, three of them for booking 1."""
    bookings.put(store, "desk", entry("1"), NOW + timedelta(days=1), "UTC", NOW)
    propose(store, order(wanted_for=(OrderedFor("XX-1", 1, "1/role:XX-1", 3000),)))
    orders.decide(store, 1, "ordered", "Ada", NOW)
    yield store
    assert audit(store) == []


def line(quantity, item="XX-1", unit="each", order=1, **more):
    return Delivered(order=order, goods=Goods(note="N-1", item=item, quantity=quantity, unit=unit, bin="IN-1", **more))


def test_all_of_it_is_booked_in_and_each_line_goes_by_those_before_it(ordered):
    first, second, wrong = receive_note(ordered, [
        line(2000, lot="L1"), line(3000, lot="L2"), line(1000, "ZZ-1")], "Ben", LATER)
    assert (first.takes, first.held, first.beyond) == ("ordered", {1: 2000}, 0)
    assert (second.takes, second.held, second.beyond) == ("ordered", {1: 1000}, 1000)
    assert wrong.takes == "wrong"
    assert balance(ordered)["XX-1", "L2", "IN-1"] == (3000, 1000)
    assert [one.item for one in returns.returns(ordered)] == ["XX-1", "ZZ-1"]


def test_what_would_come_of_it_is_just_what_comes_of_it_and_leaves_no_trace(ordered, file):
    lines = [line(2000, lot="L1"), line(3000, lot="L2"), line(1000, "ZZ-1")]
    before = dump(file)
    seen = receive_note(ordered, lines, "Ben", LATER, keep=False)
    assert dump(file) == before
    done = receive_note(ordered, lines, "Ben", LATER)
    assert [(one.takes, one.held, one.beyond, one.lot, one.state) for one in seen] == [
        (one.takes, one.held, one.beyond, one.lot, one.state) for one in done]


def test_while_one_line_cant_be_taken_nothing_is_and_each_says_why(ordered, file):
    receive_note(ordered, [line(1000, lot="L1", use_by=date(2027, 6, 30))], "Ben", LATER)
    before = dump(file)
    found = receive_note(ordered, [
        line(1000, lot="L2"), line(1000, unit="L", lot="L3"),
        Delivered(order=1, goods=Goods(note="N-2", item="XX-1", quantity=1000, unit="each", bin="IN-1", lot="L1",
                                       use_by=date(2028, 6, 30))),
        line(1000, order=9), line(5000, lot="L1", use_by=date(2027, 6, 30))], "Ben", LATER)
    assert isinstance(found[0], BookedIn) and found[0].held == {1: 1000}
    assert [type(one) for one in found[1:]] == [str] * 4
    assert "can't be told against it" in found[1] and "There is no order 9" in found[3]
    assert "Delivery note N-1 has 1 each of XX-1 already" in found[4]
    assert dump(file) == before and len(holds.holds(ordered)) == 1


def test_the_same_note_again_is_nothing_new(ordered, file):
    lines = [line(2000, lot="L1"), line(1000, "ZZ-1")]
    receive_note(ordered, lines, "Ben", LATER)
    before = dump(file)
    assert [one.again for one in receive_note(ordered, lines, "Ben", LATER)] == [True, True]
    assert dump(file) == before
