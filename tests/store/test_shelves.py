"""Goods in, counts, moves, quarantine, what lies where."""

from datetime import date

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.store import holds, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.ledger import ledger
from tests.store.shelf import LATER, NOW, SITE, balance, book, promise, raw, receive


@pytest.fixture(autouse=True)
def sound(store):
    """Whatever a test of this file does, the audit is clean in the end."""
    yield
    assert audit(store) == []


def test_goods_in_make_a_lot_and_the_same_lot_again_adds_to_it(store):
    receive(store, 5000, use_by=date(2027, 6, 30))
    receive(store, 250, use_by=date(2027, 6, 30))
    receive(store, 1000, bin="B-01", use_by=date(2027, 6, 30))
    receive(store, 2000, lot="", item="OIL", unit="L")
    assert balance(store) == {
        ("XX-1", "L1", "A-01"): (5250, 0), ("XX-1", "L1", "B-01"): (1000, 0), ("OIL", "", "A-01"): (2000, 0)}
    lot = shelves.lots(store, SITE, ["XX-1"])[0]
    assert (lot.site, lot.unit, lot.use_by, lot.quarantine, lot.free) == (SITE, "each", date(2027, 6, 30), "", 5250)


@pytest.mark.parametrize("other", [{"unit": "set"}, {"use_by": date(2027, 1, 1)}, {"use_by": None}])
def test_a_known_lot_with_another_unit_or_use_by_is_refused(store, other):
    receive(store, use_by=date(2027, 6, 30))
    with pytest.raises(StoreRefuses, match="Lot L1 of XX-1 is known in each with use-by 2027-06-30"):
        receive(store, **{"use_by": date(2027, 6, 30)} | other)
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 0)}


@pytest.mark.parametrize("quantity", [0, -1000])
def test_nothing_and_less_can_t_be_received(store, quantity):
    with pytest.raises(WrongUse, match="more than zero"):
        receive(store, quantity)
    assert balance(store) == {} and ledger(store) == []


def test_a_bin_without_a_name_is_refused_and_leaves_no_lot(store, file):
    with pytest.raises(WrongUse, match="A bin needs a name"):
        receive(store, bin=" ")
    with raw(file) as connection:
        assert connection.execute("SELECT count(*) FROM lot").fetchone() == (0,)


def test_each_site_has_its_own_shelf(store):
    receive(store)
    receive(store, 7000, site="Elsewhere")
    assert [(one.site, one.on_hand) for one in shelves.lots(store)] == [("Elsewhere", 7000), (SITE, 5000)]
    assert [one.on_hand for one in shelves.lots(store, "Elsewhere")] == [7000]
    assert shelves.lots(store, "Nowhere") == []


def test_lots_come_by_item_use_by_lot_and_bin_and_only_those_asked_for(store):
    receive(store, lot="L1", item="B")
    receive(store, lot="L3", item="A", use_by=date(2027, 1, 1))
    receive(store, lot="L2", item="A", use_by=date(2026, 1, 1))
    receive(store, lot="L0", item="A")
    receive(store, lot="L0", item="A", bin="A-00")
    listed = [(one.item, one.lot, one.bin) for one in shelves.lots(store)]
    assert listed == [
        ("A", "L2", "A-01"), ("A", "L3", "A-01"), ("A", "L0", "A-00"), ("A", "L0", "A-01"), ("B", "L1", "A-01")]
    for many in (0, 40_000):  # more names than a database takes in one query
        asked = ["A", *map(str, range(many))]
        assert [(one.item, one.lot, one.bin) for one in shelves.lots(store, SITE, asked)] == listed[:4]
    assert shelves.lots(store, SITE, []) == []


def count(store, quantity, **where):
    told = {"item": "XX-1", "lot": "L1", "bin_name": "A-01"} | where
    return shelves.count(store, SITE, quantity=quantity, who="Ben", why="stocktaking", now=LATER, **told)


def test_a_count_sets_the_balance_and_the_ledger_keeps_who_why_and_the_difference(store):
    receive(store)
    assert [count(store, 4000), count(store, 4000), count(store, 6500), count(store, 0)] == [-1000, 0, 2500, -6500]
    assert balance(store) == {("XX-1", "L1", "A-01"): (0, 0)}
    rows = ledger(store, "XX-1")
    assert [(row.action, row.on_hand, row.who, row.why) for row in rows] == [
        ("receive", 5000, "Ada", ""), ("count", -1000, "Ben", "stocktaking"), ("count", 0, "Ben", "stocktaking"),
        ("count", 2500, "Ben", "stocktaking"), ("count", -6500, "Ben", "stocktaking")]
    assert [row.at for row in rows] == [NOW, *[LATER] * 4]


def test_a_count_below_what_is_promised_is_refused(store):
    receive(store)
    book(store)
    holds.hold(store, SITE, [promise(3000)], "Ada", NOW)
    with pytest.raises(StoreRefuses, match=r"2\.999 each of XX-1 counted in A-01, but 3 are promised"):
        count(store, 2999)
    assert count(store, 3000) == -2000
    assert balance(store) == {("XX-1", "L1", "A-01"): (3000, 3000)}
    with pytest.raises(WrongUse, match=r"-1 can't be what a count found"):
        count(store, -1000)


def test_what_was_picked_lies_in_a_tote_and_is_not_counted_in_its_bin(store):
    receive(store)
    book(store)
    [held] = holds.hold(store, SITE, [promise(3000)], "Ada", NOW)
    holds.step(store, [held.id], "picking", "Ben", NOW)
    holds.step(store, [held.id], "picked", "Ben", NOW)
    assert count(store, 2000) == 0
    assert count(store, 1000) == -1000
    assert balance(store) == {("XX-1", "L1", "A-01"): (4000, 3000)}
    holds.step(store, [held.id], "issued", "Ben", NOW)
    assert balance(store) == {("XX-1", "L1", "A-01"): (1000, 0)}


def test_a_move_takes_only_what_is_not_promised(store):
    receive(store)
    book(store)
    holds.hold(store, SITE, [promise(3000)], "Ada", NOW)
    with pytest.raises(StoreRefuses, match=r"A-01 has 2 each of XX-1 that isn't promised, not 2\.001"):
        shelves.move(store, SITE, "XX-1", "L1", "A-01", "B-01", 2001, "Ben", LATER)
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 3000)}
    shelves.move(store, SITE, "XX-1", "L1", "A-01", "B-01", 2000, "Ben", LATER)
    shelves.move(store, SITE, "XX-1", "L1", "B-01", "A-01", 500, "Ben", LATER)
    assert balance(store) == {("XX-1", "L1", "A-01"): (3500, 3000), ("XX-1", "L1", "B-01"): (1500, 0)}
    assert [(row.action, row.bin, row.on_hand, row.why) for row in ledger(store)][-4:] == [
        ("move out", "A-01", -2000, "to B-01"), ("move in", "B-01", 2000, "from A-01"),
        ("move out", "B-01", -500, "to A-01"), ("move in", "A-01", 500, "from B-01")]


@pytest.mark.parametrize("quantity,to_bin,said", [
    (0, "B-01", "more than zero"), (-1000, "B-01", "more than zero"), (1000, "A-01", "in A-01 already"),
    (1000, "", "A bin needs a name")])
def test_a_move_of_nothing_or_to_nowhere_is_refused(store, quantity, to_bin, said):
    receive(store)
    with pytest.raises(WrongUse, match=said):
        shelves.move(store, SITE, "XX-1", "L1", "A-01", to_bin, quantity, "Ben", LATER)
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 0)} and len(ledger(store)) == 1


@pytest.mark.parametrize("item,lot,bin_,said", [
    ("YY-1", "L1", "A-01", "has no YY-1 of lot L1 in A-01. It was never received there"),
    ("XX-1", "L2", "A-01", r"has no XX-1 of lot L2 in A-01. It has been in A-01 \(lot L1\), B-02 \(no lot\)"),
    ("XX-1", "", "A-01", "has no XX-1 without a lot number in A-01. It has been in A-01"),
    ("XX-1", "L1", "B-02", "has no XX-1 of lot L1 in B-02")])
def test_what_is_not_there_is_named_with_what_is(store, item, lot, bin_, said):
    receive(store)
    receive(store, lot="", bin="B-02")
    with pytest.raises(WrongUse, match=said):
        count(store, 1000, item=item, lot=lot, bin_name=bin_)
    with pytest.raises(WrongUse, match=said):
        shelves.move(store, SITE, item, lot, bin_, "C-03", 1000, "Ben", LATER)


def test_quarantine_frees_nothing_lets_planned_holds_go_and_names_what_is_in_work(store):
    receive(store)
    receive(store, 2000, bin="B-01")
    for id_ in "123":
        book(store, id_)
    _, picking, picked = (
        holds.hold(store, SITE, [promise(1000, key, number)], "Ada", NOW)[0]
        for number, key in enumerate("abc", start=1))
    holds.step(store, [picking.id, picked.id], "picking", "Ben", NOW)
    holds.step(store, [picked.id], "picked", "Ben", NOW)
    assert shelves.quarantine(store, SITE, "XX-1", "L1", "recalled", "Cem", LATER) == ((1,), (2, 3))
    assert [(one.quarantine, one.free) for one in shelves.lots(store)] == [("recalled", 0)] * 2
    assert [row.id for row in holds.holds(store)] == [picking.id, picked.id]
    with pytest.raises(holds.NotThere, match="only 0 are free"):
        holds.hold(store, SITE, [promise(1000, "d")], "Ada", LATER)
    for hold, state in ((picking, "picked"), (picked, "issued")):
        with pytest.raises(StoreRefuses, match="XX-1 lot L1, which is in quarantine: recalled"):
            holds.step(store, [hold.id], state, "Ben", LATER)
    holds.step(store, [picking.id, picked.id], "released", "Ben", LATER)
    assert shelves.quarantine(store, SITE, "XX-1", "L1", "", "Cem", LATER) == ((), ())
    assert [row.quantity for row in holds.hold(store, SITE, [promise(7000, "d")], "Ada", LATER)] == [5000, 2000]
    told = [(row.bin, row.who, row.why) for row in ledger(store) if row.action == "quarantine"]
    assert told == [("A-01", "Cem", "recalled"), ("B-01", "Cem", "recalled"),
                    ("A-01", "Cem", "released"), ("B-01", "Cem", "released")]


def test_quarantine_is_of_one_lot(store):
    receive(store)
    receive(store, lot="L2")
    shelves.quarantine(store, SITE, "XX-1", "L2", "bent", "Cem", LATER)
    assert [(one.lot, one.free) for one in shelves.lots(store)] == [("L1", 5000), ("L2", 0)]
    with pytest.raises(WrongUse, match="has no XX-1 of lot L3"):
        shelves.quarantine(store, SITE, "XX-1", "L3", "bent", "Cem", LATER)
