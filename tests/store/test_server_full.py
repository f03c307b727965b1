"""A database server whose disk is full: said in plain words, nothing half done, and with room again all goes on."""

import os
import shutil
import subprocess
import tempfile
from contextlib import contextmanager, suppress
from pathlib import Path

import psutil
import psycopg
import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import holds
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from tests.databases import Server, dump, raw, server
from tests.store.shelf import NOW, SITE, balance, book, promise, receive
from tests.store.test_trouble import fill, root_only

FULL = r"^There is no room left on the disk of the store's database server\. Nothing was changed; make room and try ag"


@pytest.mark.parametrize("moment", [
    "INSERT ON hold", "UPDATE ON hold", "UPDATE ON stock", "INSERT ON ledger", "INSERT ON lot", "INSERT ON bin"])
@pytest.mark.parametrize("when", ["BEFORE", "AFTER"])
def test_whichever_write_finds_no_room_nothing_of_the_transaction_is_done(moment, when):
    """The server itself says so (53100, disk_full), of a row in the middle of things."""
    address = server().fresh()
    store = open_store(address)
    book(store)
    receive(store)
    receive(store, item="YY-1")
    holds.hold(store, SITE, [promise(1000, "a")], "Ada", NOW)
    before = dump(address)
    with raw(address) as keeper:
        keeper.execute(
            "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE 'could not extend file "
            "\"base/1/2\": No space left on device' USING ERRCODE = 'disk_full', HINT = 'Check free disk space.'; "
            "END $$")
        keeper.execute(f"CREATE TRIGGER full_disk {when} {moment} FOR EACH ROW EXECUTE FUNCTION full_disk()")

    def hold():
        holds.hold(store, SITE, [promise(1000, "b", item="YY-1"), promise(1000, "c")], "Ada", NOW, release=[1])

    def put_away():
        receive(store, item="ZZ-1", bin="Z-09")

    act = put_away if moment.endswith(("lot", "bin")) else hold
    with pytest.raises(StoreRefuses, match=FULL) as refused:
        act()
    assert refused.value.exit_code == 5 and dump(address) == before and audit(store) == []
    with raw(address) as keeper:
        keeper.execute(f"DROP TRIGGER full_disk ON {moment.rpartition(' ')[2]}")
    act()
    assert dump(address) != before and audit(store) == []
    store.close()


@contextmanager
def disk(mib, owner):
    """A disk of its own for a database server, which its owner may write."""
    place = Path(tempfile.mkdtemp(prefix="kb-disk-"))
    place.chmod(0o755)
    options = f"size={mib}m,mode=0755,uid={owner}"
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)
        shutil.rmtree(place)


def owner():
    """Whose the server's processes are."""
    return psutil.Process(server().server.get_pid()).uids().real


def until_refused(store, begin=0, most=100_000, between=lambda: None):
    """Hold until it is refused, or often enough: how many calls were told that it is done, and the refusal's words."""
    for number in range(begin, begin + most):
        between()
        try:
            holds.hold(store, SITE, [promise(1000, f"{number} a"), promise(1000, f"{number} b")], "Ada", NOW)
        except StoreRefuses as refused:
            return number, str(refused)
    assert most < 100_000, "there was room all the time"
    return begin + most, ""


@root_only
def test_on_a_full_disk_nothing_is_half_done_and_with_room_again_all_goes_on():
    """The database's tables on a disk of their own, which others fill."""
    with disk(24, owner()) as place, raw(server().address("postgres")) as keeper:
        keeper.execute(f"CREATE TABLESPACE small LOCATION '{place}'")
        keeper.execute("CREATE DATABASE on_small TEMPLATE pattern TABLESPACE small")
        try:
            store = open_store(server().address("on_small"))
            book(store)
            receive(store, 10**9)
            told, _ = until_refused(store, most=20)
            fill(place / "other people's files")
            made, said = until_refused(store, told)
            assert said.startswith("There is no room left on the disk of the store's database server. Nothing was ch")
            assert len(holds.holds(store)) == 2 * made >= 40 and audit(store) == []
            (place / "other people's files").unlink()
            holds.hold(store, SITE, [promise(1000, f"{made} a"), promise(1000, f"{made} b")], "Ada", NOW)
            assert balance(store)["XX-1", "L1", "A-01"] == (10**9, (made + 1) * 2000) and audit(store) == []
            store.close()
        finally:
            keeper.execute("DROP DATABASE on_small WITH (FORCE)")
            keeper.execute("DROP TABLESPACE small")


@root_only
@pytest.mark.long
def test_a_server_that_stops_for_want_of_room_has_all_that_was_told_when_it_is_back():
    """Its journal on the full disk: it can't go on without, and stops."""
    own = Server()
    with disk(64, owner()) as place:
        try:
            own.kill()
            shutil.move(own.folder / "pg_wal", place / "journal")
            for path in [place / "journal", *(place / "journal").rglob("*")]:
                os.chown(path, owner(), -1)
            (own.folder / "pg_wal").symlink_to(place / "journal")
            own.start()
            store = open_store(own.fresh(), busy_s=2)
            book(store)
            receive(store, 10**9)
            told, _ = until_refused(store, most=20)
            fill(place / "other people's files")

            def next_file():
                with suppress(psycopg.Error), raw(own.address("postgres")) as keeper:
                    keeper.execute("SELECT pg_switch_wal()")

            made, said = until_refused(store, told, between=next_file)
            assert "server can't be reached" in said or "server has stopped (could not write to file" in said
            with pytest.raises(StoreRefuses, match="can't be reached"):
                receive(store)
            (place / "other people's files").unlink()
            own.start()
            found = len(holds.holds(store))
            print(f"{made} calls were told, {found} holds found; {said}")
            # of the last call nobody knew
            assert found == 2 * made >= 40 or found == 2 * made + 2
            assert "It isn't known" in said or found == 2 * made
            holds.hold(store, SITE, [promise(1000, f"{made} a"), promise(1000, f"{made} b")], "Ada", NOW)
            assert balance(store)["XX-1", "L1", "A-01"] == (10**9, (made + 1) * 2000) and audit(store) == []
            store.close()
        finally:
            own.close()
