"""Orders that a person decides, runs that go on where they stopped, and the scans of kit checks."""

from datetime import date, timedelta

import msgspec
import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.model.work import Scan
from kitbuilder.store import checks, orders, runs
from tests.store.shelf import LATER, NOW, SITE, book, dump, raw

READY = NOW + timedelta(hours=16)


def order(key="Lauterfeld|2026-03-11|supplier|morning", quantity=4000, **told):
    return OrderRow(**{
        "key": key, "site": SITE, "source": "supplier", "slot": "morning", "ready": READY,
        "cut_off": NOW + timedelta(hours=3), "currency": "EUR", "fee": 450, "state": "proposed", "proposed_at": NOW,
        "lines": (
            OrderedLine("XX-1", "each", quantity, ((1000, 4),), 1680), OrderedLine("OIL", "L", 20000, (), 9000)),
        "wanted_for": (
            OrderedFor("XX-1", 1, "1/role:XX-1", quantity), OrderedFor("OIL", 1, "1/oil:OIL", 12500))} | told)


def propose(store, *wanted, site=SITE):
    with store.writing() as session:
        return orders.propose_in(session, site, wanted)


@pytest.fixture(autouse=True)
def booked(store):
    book(store)


def test_a_proposal_is_kept_whole(store):
    assert propose(store, order()) == 1
    assert orders.orders(store) == [msgspec.structs.replace(order(), id=1, sequence=1)]


def test_the_same_proposals_again_change_nothing_in_whatever_order_they_come(store, file):
    two = order("other", slot="noon")
    propose(store, order(), two)
    before = dump(file)
    again = msgspec.structs.replace(
        order(), proposed_at=LATER, lines=order().lines[::-1], wanted_for=order().wanted_for[::-1])
    assert propose(store, two, again) == 0
    assert dump(file) == before


@pytest.mark.parametrize("change", [
    {"quantity": 5000}, {"fee": 0}, {"ready": LATER}, {"cut_off": None}, {"wanted_for": ()},
    {"lines": order().lines[:1], "wanted_for": order().wanted_for[:1]}])
def test_a_proposal_that_changes_gets_another_number_so_that_nobody_approves_the_unseen(store, change):
    propose(store, order())
    assert propose(store, order(**change)) == 1
    assert orders.orders(store) == [msgspec.structs.replace(order(**change), id=2, sequence=1)]
    with pytest.raises(WrongUse, match="There is no order 1"):
        orders.decide(store, 1, "ordered", "Ada", NOW)


def test_a_proposal_that_is_not_wanted_any_more_is_taken_back_and_its_number_never_used_again(store):
    propose(store, order())
    assert propose(store) == 1 and orders.orders(store) == []
    assert propose(store) == 0
    propose(store, order())
    assert [one.id for one in orders.orders(store)] == [2]


def test_what_another_site_proposes_is_left_alone(store):
    book(store, "2", site="Elsewhere")
    propose(store, order())
    assert propose(store, site="Elsewhere") == 0 and len(orders.orders(store)) == 1
    assert orders.orders(store, "Elsewhere") == []


def test_a_named_person_orders_and_it_is_expected_at_its_slot_or_when_they_say(store):
    propose(store, order(), order("other", slot="noon"))
    one = orders.decide(store, 1, "ordered", "Ada", LATER)
    assert (one.state, one.decided_by, one.decided_at, one.expected_at) == ("ordered", "Ada", LATER, READY)
    assert orders.decide(store, 2, "ordered", "Ada", LATER, LATER).expected_at == LATER
    assert [one.id for one in orders.orders(store, states=["ordered"])] == [1, 2]


def test_what_is_decided_stays_and_more_under_its_key_is_another_order(store):
    propose(store, order())
    orders.decide(store, 1, "ordered", "Ada", NOW)
    assert propose(store, order(quantity=9000)) == 1
    assert [(one.id, one.state, one.lines[0].quantity) for one in orders.orders(store)] == [
        (1, "ordered", 4000), (2, "proposed", 9000)]
    orders.decide(store, 2, "cancelled", "Ada", NOW)
    assert propose(store, order(quantity=9000)) == 1
    assert [(one.id, one.state) for one in orders.orders(store, states=["ordered", "cancelled", "proposed"])] == [
        (1, "ordered"), (2, "cancelled"), (3, "proposed")]


@pytest.mark.parametrize("first,then,refused", [
    ("ordered", "ordered", True), ("cancelled", "cancelled", True), ("cancelled", "ordered", True),
    ("ordered", "cancelled", False)])
def test_an_order_is_decided_once_but_what_is_ordered_can_be_cancelled(store, file, first, then, refused):
    propose(store, order())
    orders.decide(store, 1, first, "Ada", NOW)
    before = dump(file)
    if refused:
        with pytest.raises(StoreRefuses, match=f"Order 1 is {first} already"):
            orders.decide(store, 1, then, "Ben", LATER)
        assert dump(file) == before
    else:
        assert orders.decide(store, 1, then, "Ben", LATER).state == then


def test_after_its_cut_off_nothing_can_be_ordered_any_more_and_without_a_name_never(store):
    propose(store, order())
    cut_off = order().cut_off
    with pytest.raises(StoreRefuses, match="cut-off of order 1 is past"):
        orders.decide(store, 1, "ordered", "Ada", cut_off)
    with pytest.raises(StoreRefuses, match="ck_supplier_order_decided"):
        orders.decide(store, 1, "ordered", "", cut_off - timedelta(seconds=1))
    assert orders.decide(store, 1, "ordered", "Ada", cut_off - timedelta(seconds=1)).state == "ordered"


DAY = date(2026, 3, 11)


def test_what_a_run_approves_is_in_the_outbox_under_its_name_and_the_rest_says_why_it_waits(store, file):
    book(store)
    propose(store, order(), order("other", source="web"))
    with store.writing() as session:
        first, second = orders.proposed_in(session, SITE)
        orders.judged_in(session, first.id, "", "without asking: it is cheap", "night", NOW)
        orders.judged_in(session, second.id, "over 5.00 EUR; deposit on XX-1", "without asking", "night", NOW)
    assert [(one.state, one.decided_by, one.said) for one in map(orders.get, [store] * 2, (1, 2))] == [
        ("approved", "night", ""), ("proposed", "", "over 5.00 EUR; deposit on XX-1")]
    assert [(one.state, one.who, one.text) for one in orders.history(store, 1)] == [
        ("approved", "night", "without asking: it is cheap")]
    before = dump(file)
    with store.writing() as session:
        orders.judged_in(session, 2, "over 5.00 EUR; deposit on XX-1", "any", "night", LATER)
        assert orders.propose_in(session, SITE, [order("other", source="web")]) == 0, "why it waits changes no proposal"
    assert dump(file) == before
    with store.writing() as session:
        orders.judged_in(session, 2, "", "", "night", LATER)
    assert (orders.get(store, 2).state, orders.get(store, 2).said) == ("proposed", "")


def test_a_run_approves_nothing_after_the_cut_off(store):
    book(store)
    propose(store, order(cut_off=NOW))
    with store.writing() as session:
        orders.judged_in(session, 1, "", "without asking", "night", NOW)
    assert orders.get(store, 1).state == "proposed"


def test_a_run_that_is_not_done_is_gone_on_with_and_keeps_its_moment_and_quotes(store):
    row = runs.begin(store, SITE, DAY, NOW)
    with store.writing() as session:
        runs.step_done(session, row.id, "read", '["told"]', NOW)
        runs.freeze_quotes(session, row.id, '{"quotes": 1}')
    again = runs.begin(store, SITE, DAY, LATER)
    assert (again.id, again.now, again.quotes, again.steps, again.state) == (
        row.id, NOW, '{"quotes": 1}', {"read": '["told"]'}, "running")
    assert runs.last_done(store, SITE) is None


def test_a_run_again_after_it_is_done_is_another_one(store):
    first = runs.begin(store, SITE, DAY, NOW)
    with store.writing() as session:
        runs.finish(session, first.id, "{}", NOW)
    second = runs.begin(store, SITE, DAY, LATER)
    assert second.id != first.id and second.now == LATER and second.steps == {}
    done = runs.last_done(store, SITE, DAY)
    assert (done.id, done.report, done.finished_at) == (first.id, "{}", NOW)
    assert runs.last_done(store, SITE, DAY + timedelta(days=1)) is None and runs.last_done(store, "Elsewhere") is None


def test_each_site_and_day_has_its_own_run(store):
    assert len({runs.begin(store, *what, NOW).id for what in (
        (SITE, DAY), (SITE, DAY + timedelta(days=1)), ("Elsewhere", DAY), (SITE, DAY))}) == 3


def test_a_step_is_done_once_and_who_comes_second_has_done_nothing(store, file):
    run = runs.begin(store, SITE, DAY, NOW).id
    with store.writing() as session:
        runs.step_done(session, run, "hold", "{}", NOW)
    before = dump(file)


    def do_it_again():
        with store.writing() as session:
            orders.propose_in(session, SITE, [order()])
            runs.step_done(session, run, "hold", "{}", LATER)

    with pytest.raises(StoreRefuses, match="Another process goes on with the same run"):
        do_it_again()
    assert dump(file) == before


def test_scans_are_kept_in_order_and_the_last_can_be_taken_back(store, file):
    book(store, "2")
    for scan in (Scan("XX-1", "L1", 1000), Scan("OIL", "", 12500)):
        checks.note(store, 1, scan, "Ada", NOW)
    checks.note(store, 2, Scan("YY-1", "", 1000), "Ada", NOW)
    assert checks.scans(store, 1) == [Scan("XX-1", "L1", 1000), Scan("OIL", "", 12500)]
    assert [checks.undo(store, 1) for _ in range(3)] == [True, True, False]
    assert checks.scans(store, 1) == [] and len(checks.scans(store, 2)) == 1
    with raw(file) as connection:
        assert connection.execute("SELECT count(*) FROM kit_check").fetchone() == (1,)
