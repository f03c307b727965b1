"""What is set aside for a day's findings is held like anything else, for no booking; it comes back whole."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import Aside, Promise
from kitbuilder.store import shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.backup import back_up, restore
from kitbuilder.store.database import open_store
from kitbuilder.store.holds import NotThere, hold, hold_in, holds
from kitbuilder.store.ledger import ledger
from kitbuilder.store.reserves import give_back_in, let_go, reserves, set_aside_in
from tests.store.shelf import NOW, SITE, book, receive

DAY = date(2026, 3, 11)


def aside(store, *asides: Aside) -> None:
    with store.writing() as session:
        set_aside_in(session, SITE, asides, "night", NOW)


def one(quantity: int = 2000, day: date = DAY, item: str = "XX-1", bin_: str = "A-01") -> Aside:
    return Aside(day, item, "L1", bin_, quantity, (4, 5))


@pytest.fixture
def stocked(store):
    receive(store)
    return store


def free(store) -> int:
    return sum(lot.free for lot in shelves.lots(store, SITE, ["XX-1"]))


def test_it_is_promised_and_nobody_else_may_have_it(stocked):
    aside(stocked, one())
    [row] = reserves(stocked, SITE)
    assert (row.day, row.item, row.lot, row.bin, row.quantity, row.unit, row.bookings) == (
        DAY, "XX-1", "L1", "A-01", 2000, "each", (4, 5))
    assert free(stocked) == 3000
    number = book(stocked)
    with pytest.raises(NotThere):
        hold(stocked, SITE, [Promise("k", number, f"{number}/r", "XX-1", "L1", 4000)], "Ada", NOW)
    hold(stocked, SITE, [Promise("k", number, f"{number}/r", "XX-1", "L1", 3000)], "Ada", NOW)
    assert free(stocked) == 0
    assert audit(stocked) == []


def test_a_hold_and_what_is_set_aside_change_in_one_transaction(stocked):
    aside(stocked, one(5000))
    number = book(stocked)
    with stocked.writing() as session:
        give_back_in(session, [row.id for row in reserves(stocked)], "night", "new run", NOW)
        hold_in(session, SITE, [Promise("k", number, f"{number}/r", "XX-1", "L1", 4000)], "night", NOW)
        set_aside_in(session, SITE, [one(1000)], "night", NOW)
    assert [row.quantity for row in reserves(stocked)] == [1000]
    assert [row.quantity for row in holds(stocked, number)] == [4000]
    assert audit(stocked) == []


    def more() -> None:
        with stocked.writing() as session:
            give_back_in(session, [row.id for row in reserves(stocked)], "night", "new run", NOW)
            set_aside_in(session, SITE, [one(2000)], "night", NOW)

    with pytest.raises(NotThere):
        more()
    assert [row.quantity for row in reserves(stocked)] == [1000]
    assert audit(stocked) == []


def test_what_is_given_back_is_free_and_stays_in_the_ledger(stocked):
    aside(stocked, one())
    assert [row.quantity for row in let_go(stocked, SITE, "XX-1", None, "Ada", "a walk-in", NOW)] == [2000]
    assert reserves(stocked) == []
    assert free(stocked) == 5000
    assert [(row.action, row.held, row.who, row.booking) for row in ledger(stocked)][1:] == [
        ("set aside", 2000, "night", None), ("give back", -2000, "Ada", None)]
    with pytest.raises(WrongUse, match="Nothing of XX-1 is set aside"):
        let_go(stocked, SITE, "XX-1", None, "Ada", "again", NOW)
    aside(stocked, one())
    with pytest.raises(WrongUse, match="for 2026-03-12"):
        let_go(stocked, SITE, "XX-1", DAY + timedelta(days=1), "Ada", "why", NOW)
    assert audit(stocked) == []


def test_giving_back_twice_is_giving_back_once(stocked):
    aside(stocked, one())
    [row] = reserves(stocked)
    for _ in range(2):
        with stocked.writing() as session:
            give_back_in(session, [row.id], "Ada", "why", NOW)
    assert free(stocked) == 5000
    assert audit(stocked) == []


def test_one_place_is_set_aside_once_a_day(stocked):
    aside(stocked, one(1000), one(1000, DAY + timedelta(days=1)))
    with pytest.raises(StoreRefuses):
        aside(stocked, one(1000))
    assert [row.quantity for row in reserves(stocked)] == [1000, 1000]
    assert audit(stocked) == []


def test_no_more_than_is_free_is_set_aside(stocked):
    with pytest.raises(NotThere, match="6 of XX-1"):
        aside(stocked, one(6000))
    with pytest.raises(NotThere):
        aside(stocked, one(item="YY-1"))
    assert reserves(stocked) == []


def test_a_quarantine_and_a_count_that_finds_less_give_it_back(stocked):
    aside(stocked, one(2000))
    shelves.quarantine(stocked, SITE, "XX-1", "L1", "leaks", "Ada", NOW)
    assert reserves(stocked) == []
    with pytest.raises(NotThere):
        aside(stocked, one(1000))
    shelves.quarantine(stocked, SITE, "XX-1", "L1", "", "Ada", NOW)
    aside(stocked, one(2000))
    assert shelves.count(stocked, SITE, "XX-1", "L1", "A-01", 4000, "Ada", "", NOW) == -1000
    assert [row.quantity for row in reserves(stocked)] == [2000]  # there is enough
    shelves.count(stocked, SITE, "XX-1", "L1", "A-01", 1000, "Ada", "", NOW)
    assert reserves(stocked) == []
    assert audit(stocked) == []


def test_what_is_set_aside_is_not_moved_away(stocked):
    aside(stocked, one(4000))
    with pytest.raises(StoreRefuses, match="isn't promised"):
        shelves.move(stocked, SITE, "XX-1", "L1", "A-01", "B-01", 2000, "Ada", NOW)


@pytest.mark.parametrize(("sql", "fault"), [
    ("UPDATE reserve SET quantity = 1000", "reserve 1 is set aside with 1, but the ledger has 2 promised for it"),
    ("UPDATE reserve SET state = 'given back'", "are promised, but the holds add up to 0"),
])
def test_the_audit_names_what_doesnt_fit(stocked, sql, fault):
    aside(stocked, one())
    with stocked.writing() as session:
        session.connection().exec_driver_sql(sql)
    assert any(fault in found.text for found in audit(stocked))


@pytest.mark.parametrize("sql", [
    "UPDATE reserve SET quantity = 0", "UPDATE reserve SET state = 'gone'", "UPDATE reserve SET changed_by = ''",
    "UPDATE reserve SET lot = 77", "UPDATE ledger SET reserve = NULL", "UPDATE ledger SET reserve = 1",
])
def test_the_database_refuses_what_cant_be(stocked, sql):
    aside(stocked, one())
    with pytest.raises(StoreRefuses), stocked.writing() as session:
        session.connection().exec_driver_sql(sql)


def test_a_back_up_keeps_it(stocked, tmp_path):
    aside(stocked, one())
    back_up(stocked, tmp_path / "kept.db")
    put_back = open_store(tmp_path / "new.db")
    restore(tmp_path / "kept.db", put_back)
    assert reserves(put_back) == reserves(stocked)
    assert audit(put_back) == []
    put_back.close()
