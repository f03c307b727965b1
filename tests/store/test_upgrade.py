"""A store of every earlier revision, with something in every table, is brought to the newest one and loses nothing."""

import sqlite3
from contextlib import closing

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlmodel import SQLModel

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.order import Goods
from kitbuilder.store import database, deliveries, holds, orders, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.backup import restore
from kitbuilder.store.database import open_store
from tests.databases import KINDS, dump, is_postgresql, raw, server
from tests.store import old_stores
from tests.store.shelf import LATER, NOW
from tests.store.test_migrations import FOLDER, schema
from tests.store.test_orders_and_runs import order, propose

OLD = [one.revision for one in ScriptDirectory(FOLDER).walk_revisions() if one.revision != database.HEAD]


@pytest.fixture(params=KINDS)
def empty(request, tmp_path):
    """A place with nothing in it."""
    return server().fresh(None) if request.param == "postgresql" else tmp_path / "workshop.db"


def rows_of(address):
    """The rows of each table of ours, as the database has them."""
    with raw(address) as connection:
        names = connection.execute(
            "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'" if is_postgresql(address)
            else "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'").fetchall()
        return {name: sorted(map(tuple, connection.execute(f'SELECT * FROM "{name}"').fetchall()), key=repr)
                for (name,) in names if name != "alembic_version"}


def test_there_is_an_old_store_of_every_released_revision_but_the_newest():
    assert sorted(OLD) == sorted(old_stores.ROWS)


@pytest.mark.parametrize("revision", OLD)
def test_all_rows_are_there_and_the_schema_is_just_what_the_tables_say(empty, revision, tmp_path):
    old_stores.make(empty, revision)
    before = rows_of(empty)
    assert all(before.values()), "something in every table"
    store = open_store(empty)
    after = rows_of(empty)
    for table, rows in before.items():
        kept = [row[:len(old)] for row, old in zip(after[table], rows, strict=True)]
        assert kept == rows, table
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []
    store.close()
    # check constraints too, which autogenerate doesn't look at
    fresh = server().fresh() if is_postgresql(empty) else tmp_path / "fresh.db"
    open_store(fresh).close()
    assert schema(empty) == schema(fresh)
    store = open_store(empty)
    assert audit(store) == []
    store.close()


@pytest.mark.parametrize("revision", OLD)
def test_the_workshop_goes_on_with_an_upgraded_store(empty, revision):
    old_stores.make(empty, revision)
    store = open_store(empty)
    found = orders.orders(store, states=("proposed", "ordered", "cancelled", "received"))
    assert sorted((one.id, one.state) for one in found) == [
        (1, "proposed"), (2, "ordered"), (3, "cancelled"), (4, "received")]
    assert {one.wanted_for[0].quantity for one in found} == {3000}
    goods = Goods(note="N", item="XX-1", quantity=4000, unit="each", bin="B-01")
    came = deliveries.receive(store, 2, goods, "Ada", NOW)
    assert (came.state, came.held) == ("received", {1: 3000})
    assert orders.decide(store, 1, "approved", "Ada", NOW).state == "approved"
    [_, more] = holds.holds(store, 1)
    assert (more.item, more.quantity, more.bin) == ("XX-1", 3000, "B-01")
    assert shelves.count(store, "Lauterfeld", "XX-1", "L1", "A-01", 4000, "Ada", "why", LATER) == -1000
    assert audit(store) == []
    store.close()


@pytest.mark.parametrize("revision", OLD)
def test_a_number_that_was_given_before_the_upgrade_is_never_given_again(empty, revision):
    """Number 5 was proposed and taken back by the old kitbuilder."""
    old_stores.make(empty, revision)
    store = open_store(empty)
    propose(store, order())
    assert [one.id for one in orders.orders(store, states=["proposed"])] == [6]
    store.close()


@pytest.mark.parametrize("revision", OLD)
def test_a_file_is_kept_as_it_was_and_an_upgrade_that_fails_leaves_it(tmp_path, revision):
    file = tmp_path / "workshop.db"
    old_stores.make(file, revision)
    before = dump(file)
    store = open_store(file)
    kept = tmp_path / f"workshop.before-upgrade-from-{revision}.db"
    assert store.kept == kept and dump(kept) == before
    store.close()
    again = open_store(file)
    assert again.kept is None
    again.close()
    assert sorted(one.name for one in tmp_path.iterdir() if not one.name.startswith("workshop.db-")) == [
        kept.name, "workshop.db"]
    # a second one of the same name is not written over
    other = tmp_path / "other" / "workshop.db"
    other.parent.mkdir()
    old_stores.make(other, revision)
    (other.parent / kept.name).write_text("somebody's")
    store = open_store(other)
    assert store.kept == other.with_name(f"workshop-1.before-upgrade-from-{revision}.db")
    assert (other.parent / kept.name).read_text() == "somebody's"
    store.close()


@pytest.mark.parametrize("revision", OLD)
def test_rows_that_name_what_is_not_there_stop_the_upgrade_and_nothing_is_changed(tmp_path, revision):
    file = tmp_path / "workshop.db"
    old_stores.make(file, revision)
    with raw(file, foreign_keys=False) as connection:
        connection.execute("UPDATE order_for SET booking = 77")
    before = dump(file)
    with pytest.raises(StoreRefuses, match=r"rows don't fit together.*Nothing was changed"):
        open_store(file)
    assert dump(file) == before


def test_a_copy_that_cant_be_written_stops_the_upgrade(tmp_path, monkeypatch):
    file = tmp_path / "workshop.db"
    old_stores.make(file, OLD[0])
    before = dump(file)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(database.os, "replace", full)
    with pytest.raises(StoreRefuses, match=r"has to be copied before.*Nothing was changed"):
        open_store(file)
    assert dump(file) == before
    assert [one.name for one in tmp_path.iterdir() if "before" in one.name] == []


@pytest.mark.parametrize("revision", OLD)
def test_a_back_up_of_an_old_store_is_put_back_and_stays_as_it_is(empty, tmp_path, revision):
    """Into either kind of database."""
    old = tmp_path / "monday.db"
    old_stores.make(old, revision)
    before = dump(old)
    store = open_store(empty)
    assert restore(old, store) > 20
    propose(store, order())
    assert [one.id for one in orders.orders(store, states=["proposed"])] == [6]
    store.close()
    assert dump(old) == before
    assert [one.name for one in tmp_path.iterdir() if "before" in one.name] == []


@pytest.mark.parametrize("revision", OLD)
def test_foreign_keys_are_on_again_after_an_upgrade(tmp_path, revision):
    file = tmp_path / "workshop.db"
    old_stores.make(file, revision)
    store = open_store(file)
    with pytest.raises(StoreRefuses, match="FOREIGN KEY"), store.writing() as session:
        session.connection().exec_driver_sql("UPDATE order_for SET booking = 77")
    store.close()
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
