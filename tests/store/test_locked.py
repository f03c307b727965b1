"""A lock that another program holds for long: after a bounded time it is said in plain words, with who holds it where
anybody can tell, and nothing is half done."""

import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import holds, postgres, shelves, sqlite
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from tests.databases import begin_alone, server
from tests.store.shelf import NOW, SITE, balance, book, dump, promise, raw, receive

ENVIRONMENT = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
BUSY_S = 0.3


@pytest.fixture
def held(store):
    """Two lots, of which one is held a little."""
    book(store)
    receive(store)
    receive(store, item="YY-1")
    for key in ("a", "z"):
        holds.hold(store, SITE, [promise(1000, key)], "Ada", NOW)
    return store


#: What one does who wants to write; holding touches YY-1 before XX-1 is waited for.
HOLD = [promise(1000, "b"), promise(1000, "c", item="AA-1"), promise(1000, "d", item="YY-1")]
ACTS = {
    "hold": lambda store: holds.hold(store, SITE, HOLD, "Ada", NOW),
    "step": lambda store: holds.step(store, [2], "picking", "Ada", NOW),
    "release and hold": lambda store: holds.hold(
        store, SITE, [promise(1000, "e", item="YY-1")], "Ada", NOW, release=[1]),
    "receive": receive,
    "look": shelves.lots,
    "open": lambda store: open_store(store.engine.url.render_as_string(hide_password=False), busy_s=BUSY_S),
}
#: How another keeps the server's store, what it keeps from whom, and what is said of its transaction.
IN = r", whose transaction has been open for \d+ s and is idle"
LOCKS = {
    "BEGIN; LOCK TABLE hold IN ACCESS EXCLUSIVE MODE": ("hold", "step", "release and hold", IN),
    "BEGIN; LOCK TABLE stock IN ACCESS EXCLUSIVE MODE": ("hold", "release and hold", "receive", "look", IN),
    "BEGIN; LOCK TABLE ledger IN SHARE MODE": ("hold", "step", "release and hold", "receive", IN),
    "BEGIN; LOCK TABLE alembic_version IN ACCESS EXCLUSIVE MODE": ("open", IN),
    "BEGIN; UPDATE stock SET changes = changes WHERE lot = 1": ("hold", "step", "release and hold", IN),
    "BEGIN; SELECT 1 FROM hold FOR UPDATE": ("step", "release and hold", IN),
    f"BEGIN; {postgres.TOGETHER}": ("receive", IN),
    f"BEGIN; {postgres.ALONE}": ("hold", "step", "release and hold", "receive", IN),
    # a session may also hold it outside any transaction
    f"SELECT pg_advisory_lock({postgres.LOCK})": ("hold", "step", "release and hold", "receive", ""),
}


@pytest.mark.parametrize("file", ["postgresql"], indirect=True)
@pytest.mark.parametrize("lock", LOCKS)
def test_on_a_server_whoever_waits_is_told_who_keeps_them_waiting(held, file, lock):
    receive(held, item="AA-1")
    before = dump(file)
    hurried = open_store(file, busy_s=BUSY_S)
    *acts, since = LOCKS[lock]
    with raw(file) as other:
        other.execute("SET application_name = 'stock-take'")
        other.execute(lock)
        for act in acts:
            start = time.monotonic()
            with pytest.raises(StoreRefuses, match=(
                    r"^The store is busy: another program has held it for 0\.3 s \(stock-take, user postgres, process "
                    rf"{other.info.backend_pid} on the server{since}\)\. Nothing was changed; have it finish, or try "
                    r"again later\.$")) as refused:
                ACTS[act](hurried)
            assert BUSY_S * 0.9 < time.monotonic() - start < 10 and refused.value.exit_code == 5
        other.execute("ROLLBACK")
        other.execute("SELECT pg_advisory_unlock_all()")
    assert dump(file) == before and audit(held) == []
    # and when it has finished, all goes on
    for act in acts:
        ACTS[act](hurried)
    assert audit(held) == []
    hurried.close()


@pytest.mark.parametrize("file", ["postgresql"], indirect=True)
def test_who_waits_too_is_not_taken_for_who_keeps_others_waiting(held, file):
    """The first in the row waits longest, since before the one who has the lock took it."""
    hurried = open_store(file, busy_s=BUSY_S)
    with raw(file) as keeper, raw(file) as early, ThreadPoolExecutor() as pool:
        for name, one in (("stock-take", keeper), ("early", early)):
            one.execute(f"SET application_name = '{name}'")
        early.execute("SET lock_timeout = '20s'")
        early.execute("BEGIN; UPDATE lot SET quarantine = quarantine WHERE item = 'YY-1'")
        keeper.execute("BEGIN; UPDATE stock SET changes = changes WHERE lot = 1")
        waiting = pool.submit(early.execute, "UPDATE stock SET changes = changes WHERE lot = 1")
        with pytest.raises(StoreRefuses, match=r"for 0\.3 s \(stock-take, "):
            ACTS["step"](hurried) or ACTS["hold"](hurried)
        keeper.execute("ROLLBACK")
        waiting.result()
        early.execute("ROLLBACK")
    hurried.close()


@pytest.mark.parametrize("file", ["postgresql"], indirect=True)
def test_a_user_to_whom_the_server_does_not_tell_all_is_told_what_it_does_tell(held, file):
    with raw(file) as keeper:
        keeper.execute("CREATE ROLE clerk LOGIN")
        try:
            keeper.execute("GRANT ALL ON ALL TABLES IN SCHEMA public TO clerk")
            keeper.execute("GRANT ALL ON ALL SEQUENCES IN SCHEMA public TO clerk")
            clerk = open_store(file.replace("postgres@", "clerk@"), busy_s=BUSY_S)
            keeper.execute("SET application_name = ''")
            keeper.execute(begin_alone(file))
            with pytest.raises(StoreRefuses, match=(
                    r"for 0\.3 s \(a program that gives no name, user postgres, process \d+ on the server\)\. Noth")):
                ACTS["hold"](clerk)
            keeper.execute("ROLLBACK")
            clerk.close()
        finally:
            keeper.execute("DROP OWNED BY clerk")
            keeper.execute("DROP ROLE clerk")


def is_listed(file):
    """Whether the system lists the locks of a file by the numbers that the file itself tells: not on every disk."""
    found = [os.stat(one) for one in (file, f"{file}-shm") if os.path.exists(one)]
    places = [f" {os.major(one.st_dev):02x}:{os.minor(one.st_dev):02x}:{one.st_ino} " for one in found]
    return os.path.exists("/proc/locks") and any(one in Path("/proc/locks").read_text() for one in places)


@pytest.mark.parametrize("file", ["sqlite"], indirect=True)
@pytest.mark.parametrize("wal", [True, False])
def test_of_a_file_the_process_that_has_it_is_told(held, file, wal):
    """Also where it has a journal of the older kind, as a program may have that keeps it to itself. Only where the
    system tells who has a lock is that said."""
    before = dump(file)
    if not wal:
        held.close()
    script = ("import sqlite3, sys\nother = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
              f"other.execute('PRAGMA journal_mode = {'WAL' if wal else 'DELETE'}')\n"
              "other.execute('BEGIN EXCLUSIVE'); print('ready', flush=True); sys.stdin.readline()")
    with subprocess.Popen([sys.executable, "-c", script, str(file)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                          text=True, env=ENVIRONMENT) as other:
        assert other.stdout.readline() == "ready\n"
        who = rf" \(python\S*, process {other.pid}\)" if is_listed(file) else ""
        said = (rf"^The store is busy: another program has held it for 0\.3 s{who}\. "
                r"Nothing was changed; have it finish, or try again later\.$")
        acts = ("hold", "step", "release and hold", "receive") if wal else ("open",)
        hurried = open_store(file, busy_s=BUSY_S) if wal else held
        for act in acts:
            start = time.monotonic()
            with pytest.raises(StoreRefuses, match=said):
                open_store(file, busy_s=BUSY_S) if act == "open" else ACTS[act](hurried)
            assert BUSY_S * 0.9 < time.monotonic() - start < 10
        other.communicate("go\n", timeout=30)
    assert dump(file) == before
    if wal:
        receive(hurried, item="AA-1")
        ACTS["hold"](hurried)
    hurried.close()
    store = open_store(file)
    assert audit(store) == [] and len(balance(store)) == 2 + wal
    store.close()


def test_where_nobody_tells_who_it_is_only_that_is_said(tmp_path):
    assert sqlite.holder(None) == sqlite.holder(":memory:") == sqlite.holder(str(tmp_path / "not there.db")) == ""
    store = open_store(server().fresh(), busy_s=BUSY_S)
    assert postgres.holder(store.engine, BUSY_S) == ""
    store.close()
