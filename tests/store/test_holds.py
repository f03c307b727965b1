"""Holds: all or none, once however often they are asked for, and only along their states."""

from datetime import date
from itertools import product

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import HoldRow, Promise
from kitbuilder.store import holds
from kitbuilder.store.audit import audit
from kitbuilder.store.holds import FOLLOWS, NotThere, TakenOver, hold, hold_in, let_go_of, short_pick, step
from kitbuilder.store.ledger import ledger
from kitbuilder.store.prepared import hand_of
from tests.store.shelf import LATER, NOW, SITE, balance, book, dump, promise, raw, receive

STATES = ("planned", "picking", "picked", "issued", "released")
#: How a hold gets to a state.
WAYS = {"planned": (), "picking": ("picking",), "picked": ("picking", "picked"),
        "issued": ("picking", "picked", "issued"), "released": ("released",)}


@pytest.fixture(autouse=True)
def sound(store):
    """Whatever a test of this file does, the audit is clean in the end."""
    book(store)
    yield
    assert audit(store) == []


def held_in(store, state, quantity=2000):
    [one] = hold(store, SITE, [promise(quantity)], "Ada", NOW)
    for each in WAYS[state]:
        step(store, [one.id], each, "Ben", NOW)
    return one.id


def test_a_hold_promises_stock_and_tells_what_it_took(store):
    receive(store, use_by=date(2027, 1, 1))
    [one] = hold(store, SITE, [promise(2000)], "Ada", NOW)
    assert one == HoldRow(
        one.id, "k", 1, "1/role:XX-1", "XX-1", "L1", "A-01", 2000, "each", "planned", date(2027, 1, 1))
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 2000)}
    assert holds.holds(store) == [one]
    last = ledger(store)[-1]
    assert (last.at, last.action, last.on_hand, last.held, last.booking, last.who) == (NOW, "hold", 0, 2000, 1, "Ada")


def test_asking_twice_is_asking_once(store, file):
    receive(store)
    first = hold(store, SITE, [promise(2000)], "Ada", NOW)
    before = dump(file)
    assert hold(store, SITE, [promise(2000), promise(2000), promise(1500)], "Ben", LATER) == first * 3
    assert dump(file) == before


def test_asking_for_more_of_a_key_takes_only_what_lacks(store):
    receive(store)
    hold(store, SITE, [promise(2000)], "Ada", NOW)
    assert [one.quantity for one in hold(store, SITE, [promise(3000)], "Ada", NOW)] == [2000, 1000]
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 3000)}


def test_what_is_issued_under_a_key_still_counts(store):
    receive(store)
    held_in(store, "issued")
    assert [one.state for one in hold(store, SITE, [promise(2000)], "Ada", NOW)] == ["issued"]
    assert balance(store) == {("XX-1", "L1", "A-01"): (3000, 0)}


def test_a_key_belongs_to_one_need_of_one_booking(store):
    receive(store)
    receive(store, lot="L2")
    book(store, "2")
    hold(store, SITE, [promise(2000)], "Ada", NOW)
    for other in (promise(2000, booking=2), promise(2000, lot="L2")):
        with pytest.raises(WrongUse, match="The promise 'k' is of XX-1 for booking 1 already"):
            hold(store, SITE, [other], "Ada", NOW)
    assert len(holds.holds(store)) == 1


def test_all_are_held_or_none(store, file):
    receive(store)
    receive(store, 1000, item="YY-1")
    before = dump(file)
    with pytest.raises(NotThere, match=r"1\.001 of YY-1 were to be held, but only 1 are free") as refused:
        hold(store, SITE, [promise(2000, "a"), promise(3000, "b"), promise(1001, "c", item="YY-1")], "Ada", NOW)
    assert refused.value.item == "YY-1" and dump(file) == before
    enough = [promise(2000, "a"), promise(3000, "b"), promise(1000, "c", item="YY-1")]
    assert len(hold(store, SITE, enough, "Ada", NOW)) == 3


def test_one_call_can_t_promise_the_same_twice_either(store):
    receive(store)
    with pytest.raises(NotThere, match=r"3 of XX-1 were to be held, but only 2 are free"):
        hold(store, SITE, [promise(3000, "a"), promise(3000, "b")], "Ada", NOW)
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 0)}


def test_several_bins_are_taken_in_the_order_of_their_names(store):
    for bin_, quantity in (("B-01", 1000), ("A-02", 2000), ("A-01", 500)):
        receive(store, quantity, bin=bin_)
    found = hold(store, SITE, [promise(2700)], "Ada", NOW)
    assert [(one.bin, one.quantity, one.key) for one in found] == [
        ("A-01", 500, "k"), ("A-02", 2000, "k"), ("B-01", 200, "k")]
    with pytest.raises(NotThere, match=r"0\.801 of XX-1 were to be held, but only 0\.8 are free"):
        hold(store, SITE, [promise(801, "l")], "Ada", NOW)


def test_another_lot_another_site_and_another_item_are_not_taken(store):
    receive(store, 1000)
    receive(store, lot="L2")
    receive(store, site="Elsewhere")
    receive(store, item="YY-1")
    with pytest.raises(NotThere, match="only 1 are free"):
        hold(store, SITE, [promise(1001)], "Ada", NOW)


def test_release_frees_and_the_same_key_can_be_held_again(store):
    receive(store)
    for _ in range(3):
        [one] = hold(store, SITE, [promise(5000)], "Ada", NOW)
        step(store, [one.id], "released", "Ben", NOW)
        assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 0)} and holds.holds(store) == []
    [last] = hold(store, SITE, [promise(4000)], "Ada", NOW)
    assert holds.holds(store, keys=["k"]) == [last] and holds.holds(store, keys=["l"]) == []


def test_what_is_let_go_in_a_call_can_be_held_in_it(store, file):
    receive(store)
    [old] = hold(store, SITE, [promise(5000, "old")], "Ada", NOW)
    with pytest.raises(NotThere):
        hold(store, SITE, [promise(5001, "new")], "Ada", NOW, release=[old.id])
    assert holds.holds(store) == [old]
    [new] = hold(store, SITE, [promise(5000, "new")], "Ada", NOW, release=[old.id])
    assert holds.holds(store) == [new]


def test_a_booking_that_went_to_another_site_is_held_for_there(store):
    receive(store)
    receive(store, 1000, bin="Z-01", site="Elsewhere")
    [old] = hold(store, SITE, [promise(1000)], "Ada", NOW)
    [new] = hold(store, "Elsewhere", [promise(1000)], "Ada", NOW)
    assert (old.bin, new.bin) == ("A-01", "Z-01")
    assert holds.holds(store, site="Elsewhere") == [new] and holds.holds(store, site=SITE) == [old]


@pytest.mark.parametrize("quantity", [0, -1000])
def test_nothing_can_t_be_held(store, quantity):
    receive(store)
    with pytest.raises(WrongUse, match="can't be held"):
        hold(store, SITE, [promise(quantity)], "Ada", NOW)


def test_a_hold_for_a_booking_that_is_not_there_is_refused(store, file):
    receive(store)
    before = dump(file)
    with pytest.raises(StoreRefuses, match=r"(?i)foreign key"):
        hold(store, SITE, [Promise("k", 77, "77/role:XX-1", "XX-1", "L1", 1000)], "Ada", NOW)
    assert dump(file) == before


@pytest.mark.parametrize("before,after", list(product(STATES, STATES)))
def test_only_the_states_that_may_follow_do(store, file, before, after):
    receive(store)
    number = held_in(store, before)
    as_it_was = dump(file)
    if before == after:
        step(store, [number], after, "Cem", LATER)
        assert dump(file) == as_it_was
    elif after not in FOLLOWS[before]:
        with pytest.raises(StoreRefuses, match=f"Hold {number} of XX-1 is {before}; it can't become {after}"):
            step(store, [number], after, "Cem", LATER)
        assert dump(file) == as_it_was
    else:
        step(store, [number], after, "Cem", LATER)
        last = ledger(store)[-1]
        assert (last.at, last.who, last.booking) == (LATER, "Cem", 1)
        expected = {"released": ("release", 0, -2000), "issued": ("issue", -2000, -2000)}.get(after, (after, 0, 0))
        assert (last.action, last.on_hand, last.held) == expected


def test_what_may_follow_is_what_the_design_says():
    assert FOLLOWS == {
        "planned": ("picking", "released"), "picking": ("picked", "planned", "released"),
        "picked": ("issued", "released"), "issued": (), "released": ()}


def test_issuing_takes_stock_off_the_shelf_and_the_ledger_keeps_who_did_each_step(store):
    receive(store)
    held_in(store, "issued")
    assert balance(store) == {("XX-1", "L1", "A-01"): (3000, 0)}
    assert [(row.action, row.who) for row in ledger(store)] == [
        ("receive", "Ada"), ("hold", "Ada"), ("picking", "Ben"), ("picked", "Ben"), ("issue", "Ben")]


def test_steps_are_taken_by_all_or_by_none(store, file):
    receive(store)
    one, two = (hold(store, SITE, [promise(1000, key)], "Ada", NOW)[0].id for key in "ab")
    step(store, [two], "released", "Ben", NOW)
    before = dump(file)
    for numbers, error in (([one, two], StoreRefuses), ([one, 77], WrongUse)):
        with pytest.raises(error):
            step(store, numbers, "picking", "Ben", NOW)
        assert dump(file) == before


def test_a_short_pick_keeps_what_was_found_lets_the_rest_go_and_asks_for_a_count(store, file):
    from kitbuilder.store import shelves

    receive(store)
    number = held_in(store, "picking", 4000)
    short_pick(store, number, 1500, "Ben", LATER)
    assert [(one.quantity, one.state) for one in holds.holds(store)] == [(1500, "picking")]
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 1500)}
    with raw(file) as connection:
        assert connection.execute("SELECT booking, hold, missing, who, counted_at FROM short_pick").fetchall() == [
            (1, number, 2500, "Ben", None)]
    step(store, [number], "picked", "Ben", LATER)
    shelves.count(store, SITE, "XX-1", "L1", "A-01", 0, "Cem", "", LATER)
    assert balance(store) == {("XX-1", "L1", "A-01"): (1500, 1500)}
    with raw(file) as connection:
        counted = connection.execute("SELECT counted_at FROM short_pick").fetchone()[0]
    assert str(counted).startswith("2026-03-10 16:00")


def test_a_short_pick_of_nothing_lets_the_whole_hold_go(store):
    receive(store)
    short_pick(store, held_in(store, "planned"), 0, "Ben", LATER)
    assert holds.holds(store) == [] and balance(store) == {("XX-1", "L1", "A-01"): (5000, 0)}


@pytest.mark.parametrize("state,found,error", [
    ("planned", 2000, WrongUse), ("planned", 2001, WrongUse), ("planned", -1, WrongUse), ("picked", 0, StoreRefuses),
    ("issued", 0, StoreRefuses), ("released", 0, StoreRefuses)])
def test_a_pick_that_is_not_short_or_not_to_be_picked_is_refused(store, file, state, found, error):
    receive(store)
    number = held_in(store, state)
    before = dump(file)
    with pytest.raises(error):
        short_pick(store, number, found, "Ben", LATER)
    assert dump(file) == before


def test_a_hold_inside_a_larger_transaction_is_undone_with_it(store, file):
    receive(store)
    before = dump(file)


    def hold_and_fail():
        with store.writing() as session:
            hold_in(session, SITE, [promise(1000)], "Ada", NOW)
            raise KeyError

    with pytest.raises(KeyError):
        hold_and_fail()
    assert dump(file) == before
    with store.writing() as session:
        hold_in(session, SITE, [promise(1000)], "Ada", NOW)
    assert len(holds.holds(store, booking=1)) == 1 and holds.holds(store, booking=2) == []


@pytest.mark.parametrize("state", ["picking", "picked"])
def test_what_a_person_took_over_meanwhile_is_not_let_go(store, file, state):
    """A run works out what to let go, and somebody begins to pick it before the run commits."""
    receive(store)
    number = held_in(store, state)
    before = dump(file)
    with pytest.raises(TakenOver, match=f"What was planned of XX-1 is {state} by now"):
        hold(store, SITE, [promise(1000, "new")], "night", LATER, release=[number])
    assert dump(file) == before


def test_a_part_of_a_hold_can_be_let_go(store):
    receive(store)
    number = held_in(store, "picked", 3000)
    with store.writing() as session:
        let_go_of(hand_of(session), number, 1000, "Ben", "booked in elsewhere", LATER)
    assert [(one.quantity, one.state) for one in holds.holds(store)] == [(2000, "picked")]
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 2000)}
    with store.writing() as session:
        let_go_of(hand_of(session), number, 2000, "Ben", "booked in elsewhere", LATER)
    assert holds.holds(store) == []
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 0)}
