"""A back-up holds all there is, as of one moment, and can be put into either kind of database."""

import random
import threading

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.store import bookings, holds, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.backup import back_up, restore
from kitbuilder.store.database import open_store
from kitbuilder.store.ledger import ledger
from tests.databases import is_postgresql, raw
from tests.store.shelf import LATER, NOW, SITE, balance, book, promise, receive
from tests.store.test_orders_and_runs import order, propose


@pytest.fixture
def worked(store, file):
    """A store that has been worked with, whose newest booking was taken out by another program."""
    for number in range(3):
        book(store, str(number), visit="V")
    receive(store)
    receive(store, 2500, item="YY-1", unit="L")
    [one] = holds.hold(store, SITE, [promise(2000)], "Ada", NOW)
    holds.step(store, [one.id], "picking", "Ada", LATER)
    propose(store, order())
    with raw(file) as connection:
        connection.execute("DELETE FROM booking WHERE number = 3")
    return store


@pytest.fixture(params=["sqlite", "postgresql"])
def other(request, tmp_path):
    """A new place for a store."""
    if request.param == "sqlite":
        return tmp_path / "other.db"
    return request.getfixturevalue("postgres").fresh()


def content(store):
    return (balance(store), holds.holds(store), ledger(store), bookings.every(store))


def test_what_is_put_back_is_what_was_there_in_either_kind(worked, other, tmp_path):
    rows = back_up(worked, tmp_path / "b.db")
    target = open_store(other)
    assert restore(tmp_path / "b.db", target) == rows > 10
    assert content(target) == content(worked) and audit(target) == []
    # work goes on there, and the number that was taken out is not used again
    assert book(target, "new") == 4
    assert len(holds.hold(target, SITE, [promise(1000, "k2", booking=2)], "Ada", LATER)) == 1
    receive(target, item="ZZ-1")
    assert audit(target) == []
    target.close()


def test_a_back_up_is_a_store_itself_in_one_file(worked, tmp_path):
    (tmp_path / "b").mkdir()
    back_up(worked, tmp_path / "b" / "b.db")
    assert [one.name for one in (tmp_path / "b").iterdir()] == ["b.db"]
    opened = open_store(tmp_path / "b" / "b.db")
    assert content(opened) == content(worked)
    opened.close()


def test_a_back_up_overwrites_nothing_and_is_put_only_into_an_empty_store(worked, tmp_path):
    (tmp_path / "b.db").write_text("mine")
    with pytest.raises(WrongUse, match="there already"):
        back_up(worked, tmp_path / "b.db")
    assert (tmp_path / "b.db").read_text() == "mine"
    back_up(worked, tmp_path / "c.db")
    with pytest.raises(WrongUse, match="isn't empty"):
        restore(tmp_path / "c.db", worked)
    with pytest.raises(WrongUse, match="There is no file"):
        restore(tmp_path / "d.db", worked)
    with pytest.raises(StoreRefuses, match=r"can't be written|can't be opened|can't be made"):
        back_up(worked, tmp_path / "b.db" / "under a file.db")


def test_an_unsound_back_up_is_refused_and_nothing_is_put_back(worked, other, tmp_path):
    back_up(worked, tmp_path / "b.db")
    with raw(tmp_path / "b.db") as connection:
        connection.execute("UPDATE stock SET on_hand = on_hand + 1")
    target = open_store(other)
    with pytest.raises(StoreRefuses, match=r"isn't sound: XX-1 in A-01: .*Nothing was put back"):
        restore(tmp_path / "b.db", target)
    assert shelves.lots(target) == [] and [
        one.name for one in tmp_path.iterdir() if "restoring" in one.name] == []
    target.close()


def test_a_back_up_is_of_one_moment_though_others_go_on_working(store, file, tmp_path):
    book(store)
    receive(store, 10**9)
    stop = threading.Event()

    def work():
        mine, chance = open_store(file, synchronous="NORMAL"), random.Random(1)
        while not stop.is_set():
            key = f"k{chance.random()}"
            holds.hold(mine, SITE, [promise(1000, key + "a"), promise(2000, key + "b")], "Ada", NOW)
        mine.close()

    worker = threading.Thread(target=work)
    worker.start()
    try:
        for turn in range(6):
            back_up(store, tmp_path / f"{turn}.db")
    finally:
        stop.set()
        worker.join()
    sizes = []
    for turn in range(6):
        opened = open_store(tmp_path / f"{turn}.db")
        assert audit(opened) == []
        sizes.append(len(holds.holds(opened)))
        assert sizes[-1] % 2 == 0
        opened.close()
    assert sizes == sorted(sizes) and sizes[-1] > sizes[0], is_postgresql(file)
