"""What becomes of an order while it is sent, and what each answer does to it, whenever it comes."""

from datetime import timedelta

import msgspec
import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import LineVerdict, OrderedFor, OrderedLine, Verdict
from kitbuilder.store import bookings, orders, outbox, settling
from tests.store.shelf import LATER, NOW, book, dump, entry, receive
from tests.store.test_orders_and_runs import READY, order, propose

WHO = "night"
ALL = Verdict(state="confirmed", number="A-1", expected_at=READY, lines=(
    LineVerdict("XX-1", 4000, 1680), LineVerdict("OIL", 20000, 9000)))
PART = Verdict(state="part", number="A-1", expected_at=READY, text="only 1 of 4 each XX-1", lines=(
    LineVerdict("XX-1", 1000, 420), LineVerdict("OIL", 0)))
CHANGED = Verdict(state="changed", number="A-1", expected_at=LATER, text="YY-1 in place of XX-1", lines=(
    LineVerdict("XX-1", 4000, 2000, "YY-1"), LineVerdict("OIL", 20000, 9000)))
NO = Verdict(state="refused", text="sold out")


@pytest.fixture
def approved(store):
    book(store)
    propose(store, order(wanted_for=(
        OrderedFor("XX-1", 1, "1/role:XX-1", 3000), OrderedFor("OIL", 1, "1/oil:OIL", 12500))))
    orders.decide(store, 1, "approved", "Ada", NOW)
    return store


@pytest.fixture
def sent(approved):
    assert outbox.begin(approved, 1, WHO, NOW).state == "sending"
    return approved


def states(store):
    return [one.state for one in orders.history(store, 1)]


def awaited(store):
    return {(one.item, one.booking): one.quantity for one in orders.get(store, 1).wanted_for}


def test_an_approved_order_is_in_the_outbox_under_a_key_of_its_own(approved):
    [one] = orders.orders(approved, states=["approved"])
    assert one.outbox_key == "Lauterfeld|2026-03-11|supplier|morning|1"
    propose(approved, order(quantity=9000))
    assert orders.get(approved, 2).outbox_key == "Lauterfeld|2026-03-11|supplier|morning|2"
    assert [(one.state, one.who, one.at) for one in orders.history(approved, 1)] == [("approved", "Ada", NOW)]


def test_it_is_marked_before_it_is_sent_and_only_once(sent, file):
    before = dump(file)
    assert outbox.begin(sent, 1, "another", LATER) is None
    assert dump(file) == before
    assert orders.get(sent, 1).sent_at == NOW


def test_nothing_is_sent_after_the_cut_off(approved):
    assert outbox.begin(approved, 1, WHO, order().cut_off) is None
    one = orders.get(approved, 1)
    assert (one.state, one.said, one.sent_at) == ("refused", "its cut-off was past before it was sent", None)


def test_what_was_being_sent_when_the_sender_ended_is_unclear_and_not_sent_again(sent):
    assert outbox.broken_off(sent, WHO, LATER) == [1]
    assert (orders.get(sent, 1).state, outbox.begin(sent, 1, WHO, LATER)) == ("unclear", None)
    assert outbox.broken_off(sent, WHO, LATER) == []


def test_what_certainly_did_not_go_out_is_in_the_outbox_again(sent):
    outbox.not_sent(sent, 1, "no connection", WHO, LATER)
    assert (orders.get(sent, 1).state, orders.get(sent, 1).sent_at) == ("approved", None)
    assert outbox.begin(sent, 1, WHO, LATER).outbox_key.endswith("|1")


@pytest.mark.parametrize("verdict,coming", [
    (ALL, {("XX-1", 1): 3000, ("OIL", 1): 12500}), (PART, {("XX-1", 1): 1000}),
    (CHANGED, {("XX-1", 1): 3000, ("OIL", 1): 12500}), (NO, {("XX-1", 1): 3000, ("OIL", 1): 12500})])
def test_an_answer_puts_it_into_its_state_and_the_same_one_again_does_nothing(sent, file, verdict, coming):
    one = outbox.answered(sent, 1, verdict, WHO, LATER)
    assert (one.state, one.said, one.answered_at) == (verdict.state, verdict.text, LATER)
    assert awaited(sent) == coming
    before = dump(file)
    for _ in range(2):
        assert outbox.answered(sent, 1, verdict, WHO, LATER).state == verdict.state
    assert dump(file) == before


def test_part_of_it_goes_to_the_booking_that_starts_first(approved):
    start = NOW - timedelta(days=1)  # booking 1 starts later
    bookings.put(approved, "desk", entry("2", start=start.replace(tzinfo=None)), start, "UTC", NOW)
    propose(approved, order(key="other", wanted_for=(
        OrderedFor("XX-1", 1, "1/role:XX-1", 2000), OrderedFor("XX-1", 2, "2/role:XX-1", 2000))))
    orders.decide(approved, 2, "approved", "Ada", NOW)
    outbox.begin(approved, 2, WHO, NOW)
    row = outbox.answered(approved, 2, msgspec.structs.replace(PART, lines=(
        LineVerdict("XX-1", 3000), LineVerdict("OIL", 20000))), WHO, NOW)
    assert sorted((one.booking, one.quantity) for one in row.wanted_for) == [(1, 1000), (2, 2000)]


def test_what_a_supplier_charges_is_what_it_costs_from_then_on(sent):
    """Its own fee too, and a line that comes at another time keeps its own."""
    outbox.answered(sent, 1, msgspec.structs.replace(ALL, state="changed", fee=900, lines=(
        LineVerdict("XX-1", 2000, 1000, expected_at=LATER), LineVerdict("OIL", 20000))), WHO, NOW)
    one = orders.get(sent, 1)
    assert (one.fee, one.total) == (900, 900 + 1000 + 9000)
    assert (one.expected("XX-1"), one.expected("OIL")) == (LATER, READY)
    assert one.awaited == {LATER: ("XX-1",), READY: ("OIL",)}


def test_one_that_contradicts_the_first_makes_it_unclear_and_the_last_word_twice_counts(sent):
    outbox.answered(sent, 1, PART, WHO, NOW)
    one = outbox.answered(sent, 1, ALL, WHO, LATER)
    assert (one.state, one.said) == ("unclear", "the supplier answered twice, and not the same; now: confirmed")
    assert outbox.answered(sent, 1, ALL, WHO, LATER).state == "confirmed"
    assert awaited(sent) == {("XX-1", 1): 3000, ("OIL", 1): 12500}


def test_a_late_confirmation_settles_what_was_unclear(sent):
    outbox.unclear(sent, 1, "no answer", WHO, NOW)
    assert outbox.answered(sent, 1, ALL, WHO, LATER).state == "confirmed"
    assert states(sent) == ["approved", "sending", "unclear", "confirmed"]


@pytest.mark.parametrize("verdict,said", [
    (ALL, "the supplier accepted it all the same: tell them that it is cancelled"), (NO, "")])
def test_a_late_answer_to_a_cancelled_one_leaves_it_cancelled_and_is_told(sent, verdict, said):
    outbox.unclear(sent, 1, "no answer", WHO, NOW)
    orders.decide(sent, 1, "cancelled", "Ada", NOW)
    one = outbox.answered(sent, 1, verdict, WHO, LATER)
    assert (one.state, one.said) == ("cancelled", said)


def test_a_person_settles_what_stays_unclear(sent):
    with pytest.raises(StoreRefuses, match="only one that is unclear"):
        settling.settle(sent, 1, True, "Ada", NOW)
    outbox.unclear(sent, 1, "no answer", WHO, NOW)
    one = settling.settle(sent, 1, True, "Ada", LATER)
    assert (one.state, one.expected_at, one.decided_by) == ("confirmed", READY, "Ada")
    with pytest.raises(StoreRefuses):
        settling.settle(sent, 1, False, "Ada", LATER)


def test_what_the_supplier_doesnt_have_is_refused_so_that_it_is_looked_for_elsewhere(sent):
    outbox.unclear(sent, 1, "no answer", WHO, NOW)
    assert settling.settle(sent, 1, False, "Ada", LATER).state == "refused"


def test_a_change_is_taken_by_a_person_and_the_substitute_comes_for_the_same_needs(sent):
    outbox.answered(sent, 1, CHANGED, WHO, NOW)
    one = settling.take(sent, 1, "Ada", LATER)
    assert (one.state, one.expected_at, one.decided_by) == ("confirmed", LATER, "Ada")
    assert awaited(sent) == {("YY-1", 1): 3000, ("OIL", 1): 12500}
    assert [(line.item, line.confirmed, line.confirmed_minor) for line in one.lines] == [
        ("XX-1", 0, 0), ("OIL", 20000, 9000), ("YY-1", 4000, 2000)]
    with pytest.raises(StoreRefuses, match="nothing that the supplier changed"):
        settling.take(sent, 1, "Ada", LATER)


def test_a_substitute_that_was_ordered_itself_adds_to_it(approved):
    propose(approved, order(key="other", lines=(
        OrderedLine("XX-1", "each", 4000, (), 1680), OrderedLine("YY-1", "each", 1000, (), 500)), wanted_for=(
        OrderedFor("XX-1", 1, "n", 4000), OrderedFor("YY-1", 1, "n", 1000))))
    orders.decide(approved, 2, "approved", "Ada", NOW)
    outbox.begin(approved, 2, WHO, NOW)
    outbox.answered(approved, 2, Verdict(state="changed", lines=(
        LineVerdict("XX-1", 4000, 1680, "YY-1"), LineVerdict("YY-1", 1000, 500))), WHO, NOW)
    one = settling.take(approved, 2, "Ada", NOW)
    assert [(each.item, each.quantity) for each in one.wanted_for] == [("YY-1", 5000)]
    assert next(line.confirmed for line in one.lines if line.item == "YY-1") == 5000


def test_a_change_that_isnt_wanted_is_cancelled(sent):
    outbox.answered(sent, 1, CHANGED, WHO, NOW)
    assert orders.decide(sent, 1, "cancelled", "Ada", NOW).state == "cancelled"


def test_one_that_is_being_sent_cant_be_cancelled_meanwhile(sent):
    with pytest.raises(StoreRefuses, match="is being sent just now"):
        orders.decide(sent, 1, "cancelled", "Ada", NOW)


def test_the_rest_comes_later_or_not_at_all(sent):
    outbox.answered(sent, 1, ALL, WHO, NOW)
    assert settling.expect(sent, 1, LATER, "Ada", NOW).expected_at == LATER
    with pytest.raises(StoreRefuses, match="Nothing of order 1 has come"):
        settling.drop_rest(sent, 1, "Ada", NOW)
    with pytest.raises(WrongUse, match="There is no order 9"):
        settling.expect(sent, 9, LATER, "Ada", NOW)


def test_only_one_sends_at_a_time(store, file):
    from kitbuilder.store.database import open_store

    other = open_store(file)
    with outbox.sending(store):
        with pytest.raises(StoreRefuses, match="being sent by another process"), outbox.sending(other):
            pass
        receive(other)  # who doesn't send isn't kept waiting
    with outbox.sending(other):
        pass
    other.close()
