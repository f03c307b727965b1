"""A database server that goes away, in the middle of things or before them: said in plain words, nothing half done."""

import itertools
from concurrent.futures import ThreadPoolExecutor

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import holds, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import Store, open_store
from kitbuilder.store.prepared import Hand
from tests.databases import Server, raw, server
from tests.store.shelf import NOW, SITE, balance, book, promise, receive


@pytest.fixture
def own():
    """A server that a test may stop."""
    started = Server()
    yield started
    started.close()


def test_a_server_that_was_killed_is_named_and_when_it_is_back_all_is_as_it_was(own, caplog):
    store = open_store(own.fresh(), busy_s=2)
    book(store)
    receive(store)
    holds.hold(store, SITE, [promise(1000, "a")], "Ada", NOW)
    own.kill()
    for act in (lambda: holds.hold(store, SITE, [promise(1000, "b")], "Ada", NOW), lambda: receive(store),
                lambda: shelves.lots(store), lambda: open_store(own.address("pattern"), busy_s=2)):
        with pytest.raises(StoreRefuses, match=r"database server can't be reached \(.*Nothing was changed; try again"):
            act()
    assert caplog.records == []  # nothing but that is said
    own.start()
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 1000)} and audit(store) == []
    assert len(holds.hold(store, SITE, [promise(1000, "b")], "Ada", NOW)) == 1
    store.close()


def cut_after_an_insert(store, address, then):
    """Write, have the server end the connection, do one thing more, and commit."""
    with store.writing() as session:
        mine = session.connection().exec_driver_sql("SELECT pg_backend_pid()").scalar()
        session.connection().exec_driver_sql("INSERT INTO site VALUES ('Half')")
        with raw(address) as other:
            other.execute(f"SELECT pg_terminate_backend({mine})")
        then(session)


def test_a_connection_that_is_cut_while_holding_leaves_nothing_half_done(monkeypatch, caplog):
    """At each of the statements of a hold, and at its commit: only there nobody knows."""
    address = server().fresh()
    store = open_store(address)
    book(store)
    receive(store)
    plain, said = Store._at_hand, []
    for number in range(8):
        def cut(self, work, number=number):
            def cutting(hand):
                left = itertools.count(number, -1)

                class Cursor:
                    def execute(self, *told):
                        if next(left) == 0:
                            end()
                        return hand.cursor.execute(*told)

                    def __getattr__(self, name):
                        return getattr(hand.cursor, name)

                def end():
                    with raw(address) as other:
                        other.execute(f"SELECT pg_terminate_backend({hand.cursor.connection.info.backend_pid})")

                done = work(Hand(Cursor(), hand.dialect))
                if next(left) >= 0:
                    end()
                return done
            return plain(self, cutting)

        monkeypatch.setattr(Store, "_at_hand", cut)
        with pytest.raises(StoreRefuses, match="can't be reached") as refused:
            holds.hold(store, SITE, [promise(1000, "a")], "Ada", NOW)
        said.append("It isn't known" in str(refused.value))
        monkeypatch.undo()
        assert holds.holds(store) == [] and audit(store) == []
    assert said == [False] * 5 + [True] * 3 and caplog.records == []
    holds.hold(store, SITE, [promise(1000, "a")], "Ada", NOW)
    assert audit(store) == []
    store.close()


def test_a_connection_that_is_cut_in_a_transaction_leaves_nothing_half_done():
    address = server().fresh()
    store = open_store(address)
    book(store)
    with pytest.raises(StoreRefuses, match=r"can't be reached .*Nothing was changed"):
        cut_after_an_insert(store, address, lambda session: session.connection().exec_driver_sql("SELECT 1"))
    receive(store)
    with store.reading() as session:
        assert session.connection().exec_driver_sql("SELECT name FROM site").scalars().all() == [SITE]
    store.close()


def test_where_it_is_cut_while_committing_nobody_says_that_nothing_was_done():
    address = server().fresh()
    store = open_store(address)
    with pytest.raises(StoreRefuses, match="It isn't known whether what was being done was done"):
        cut_after_an_insert(store, address, lambda session: None)
    store.close()


@pytest.mark.parametrize("change,says", [
    (lambda url: url.replace("/test_", "/not_there_"), r"can't be opened: .*does not exist.*Look at its URL"),
    (lambda url: url.partition("?")[0].replace("postgres@/", "postgres@127.0.0.1:9/"), "can't be reached")])
def test_a_database_that_is_not_there_is_named(change, says):
    with pytest.raises(StoreRefuses, match=says) as refused:
        open_store(change(server().fresh()), busy_s=2)
    assert "Traceback" not in str(refused.value)


def test_many_threads_over_few_lots_take_turns_and_nothing_is_promised_twice():
    store = open_store(server().fresh())
    for number in range(8):
        book(store, str(number))
    for item in range(40):
        receive(store, 3000, item=f"XX-{item}")

    def want(who):
        won = 0
        for item in range(40) if who % 2 else reversed(range(40)):
            # two items at a time, in either order, so that some wait for each other
            wanted = [promise(1000, f"{who}|{item}|{one}", who, item=f"XX-{one}") for one in {item, (item + 7) % 40}]
            try:
                won += len(holds.hold(store, SITE, wanted, f"clerk {who}", NOW))
            except holds.NotThere:
                pass
        return won

    with ThreadPoolExecutor(8) as pool:
        won = list(pool.map(want, range(1, 9)))
    assert sum(won) == len(holds.holds(store)) and audit(store) == []
    assert all(0 <= held <= there == 3000 for there, held in balance(store).values())
    assert sum(held for _, held in balance(store).values()) == 1000 * sum(won)
    store.close()
