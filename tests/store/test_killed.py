"""A kill leaves nothing half done: at every statement, and at random moments. Real processes, real kills."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time

import pytest

from kitbuilder.store import holds, orders, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from tests.databases import KINDS, is_postgresql, numberless, server
from tests.store import old_stores
from tests.store.shelf import NOW, SITE, book, dump, promise, raw, receive
from tests.store.test_orders_and_runs import order, propose

ENVIRONMENT = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}

#: Does one thing to each of some stores, each in a process forked for it. A trace of the driver's statements kills
#: the process before its statement number N, or, with N = 0, counts them; the trace sees BEGIN and COMMIT as well.
#: Says for each how it ended (the signal, 0 if none) and how many statements there were.
DO = """
import json, os, signal, sqlite3, sys
what, jobs = sys.argv[1], json.loads(sys.argv[2])
seen, fatal = 0, 0
def trace(text):
    global seen
    seen += 1
    if seen == fatal:
        os.kill(os.getpid(), signal.SIGKILL)
class Traced(sqlite3.Connection):
    def __init__(self, *args, **told):
        super().__init__(*args, **told)
        if what == "open":
            self.set_trace_callback(trace)
real = sqlite3.connect
sqlite3.connect = sqlite3.dbapi2.connect = lambda *args, **told: real(*args, **{"factory": Traced} | told)
import psycopg
tracing = what == "open"
def traced(real):
    def before(self, *args, **told):
        if tracing:
            trace("")
        return real(self, *args, **told)
    return before
psycopg.Cursor.execute, psycopg.Connection.commit = traced(psycopg.Cursor.execute), traced(psycopg.Connection.commit)
import alembic.command, alembic.config, alembic.script
from kitbuilder.model.order import Goods
from kitbuilder.store import bookings, deliveries, holds, orders, shelves
from kitbuilder.store.database import open_store
from tests.store.shelf import LATER, SITE, book, entry, promise, receive
from tests.store.test_orders_and_runs import order, propose
def work(file):
    store = open_store(file)
    if what != "open" and "://" in file:
        global tracing
        tracing = True
    elif what != "open":
        with store.engine.connect() as connection:
            connection.connection.driver_connection.set_trace_callback(trace)
    if what == "hold":
        wanted = [promise(6000, "new"), promise(2000, "other", item="YY-1")]
        holds.hold(store, SITE, wanted, "Ada", LATER, release=[1])
    elif what == "issue":
        holds.step(store, [2, 3], "issued", "Ada", LATER)
    elif what == "short":
        holds.short_pick(store, 1, 500, "Ada", LATER)
    elif what == "receive":
        receive(store, 3000, bin="Z-09", lot="L7", item="ZZ-1", site="Elsewhere")
    elif what == "count":
        shelves.count(store, SITE, "XX-1", "L1", "A-01", 4500, "Ada", "why", LATER)
    elif what == "move":
        shelves.move(store, SITE, "YY-1", "L1", "A-01", "Z-09", 1000, "Ada", LATER)
    elif what == "quarantine":
        shelves.quarantine(store, SITE, "XX-1", "L1", "bent", "Ada", LATER)
    elif what == "book":
        book(store, "9", "diary", visit="V", site="Elsewhere")
    elif what == "deliver":
        goods = Goods(note="N", item="XX-1", quantity=5000, unit="each", bin="Z-09", lot="L7")
        deliveries.receive(store, 1, goods, "Ada", LATER)
    elif what == "propose":
        propose(store, order(quantity=9000), order("second", slot="noon"))
said = []
for file, fatal in jobs:
    ours, theirs = os.pipe()
    child = os.fork()
    if not child:
        work(file)
        os.write(theirs, str(seen).encode())
        os._exit(0)
    os.close(theirs)
    status = os.waitpid(child, 0)[1]
    said.append([os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0, int(os.read(ours, 99) or 0)])
    os.close(ours)
print(json.dumps(said))
"""
#: What is done, and how many statements that is at least; on PostgreSQL the beginning of a transaction is none.
THINGS = {"hold": 18, "issue": 10, "receive": 10, "deliver": 25, "quarantine": 12, "propose": 16, "short": 6,
          "count": 7, "move": 11, "book": 8}


def do(what, *jobs):
    """One thing to stores, each with the statement it is killed before (0: not): signal and statements of each."""
    told = json.dumps([[str(file), fatal] for file, fatal in jobs])
    done = subprocess.run([sys.executable, "-c", DO, what, told], env=ENVIRONMENT, capture_output=True, text=True,
                          timeout=120, check=False)
    assert done.returncode == 0 and done.stderr == "", done.stderr
    return json.loads(done.stdout)


def schema(file):
    with raw(file) as connection:
        if is_postgresql(file):
            return connection.execute(
                "SELECT table_name, column_name, data_type FROM information_schema.columns "
                "WHERE table_schema = 'public' ORDER BY 1, 2").fetchall()
        return connection.execute("SELECT sql FROM sqlite_master ORDER BY name").fetchall()


@pytest.fixture(scope="module", params=KINDS)
def filled(request, tmp_path_factory):
    """A store with stock in two bins, a planned hold (1) and two that were picked (2, 3), an order (1) and an open
    proposal."""
    file = server().fresh() if request.param == "postgresql" else tmp_path_factory.mktemp("filled") / "workshop.db"
    store = open_store(file)
    book(store)
    receive(store, 5000)
    receive(store, 5000, bin="B-01")
    receive(store, 5000, item="YY-1")
    holds.hold(store, SITE, [promise(1000, "a")], "Ada", NOW)
    for key, item in (("b", "XX-1"), ("c", "YY-1")):
        [one] = holds.hold(store, SITE, [promise(1000, key, item=item)], "Ada", NOW)
        holds.step(store, [one.id], "picking", "Ada", NOW)
        holds.step(store, [one.id], "picked", "Ada", NOW)
    propose(store, order("came"))
    orders.decide(store, 1, "ordered", "Ada", NOW)
    propose(store, order())
    store.close()
    return file


@pytest.mark.parametrize("what,every", [
    ("hold", 4), ("issue", 4), ("deliver", 6), *(pytest.param(what, 1, marks=pytest.mark.long) for what in THINGS)])
def test_what_is_killed_before_any_statement_has_done_nothing_and_can_be_done_again(filled, tmp_path, what, every):
    """Unbroken it makes its change as a whole; after each kill the audit is clean and all is as it was."""
    on_server = is_postgresql(filled)

    def copy(name):
        if on_server:
            return server().copy(filled)
        shutil.copy(filled, tmp_path / name)
        return tmp_path / name

    whole = copy("whole.db")
    [[ended, count]] = do(what, (whole, 0))
    before, after = dump(filled), numberless(whole)
    assert ended == 0 and count >= THINGS[what] - on_server and after != numberless(filled)
    killed = [(copy(f"{fatal}.db"), fatal) for fatal in range(count, 0, -every)]
    assert do(what, *killed) == [[signal.SIGKILL, 0]] * len(killed)
    for file, _ in killed:
        store = open_store(file)
        assert audit(store) == []
        store.close()
        assert dump(file) == before
    assert do(what, *((file, 0) for file, _ in killed)) == [[0, count]] * len(killed)
    assert [numberless(file) == after for file, _ in killed] == [True] * len(killed)
    print(f"{what}: killed {len(killed)} times")
    if on_server:
        for file, _ in killed:
            server().drop(file)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("every", [15, pytest.param(1, marks=pytest.mark.long)])
def test_a_store_whose_making_was_killed_before_a_statement_is_made_when_it_is_opened_again(tmp_path, every, kind):
    def place(name):
        return server().fresh(None) if kind == "postgresql" else tmp_path / name

    whole = place("whole.db")
    [[ended, count]] = do("open", (whole, 0))
    assert ended == 0 and count > 40
    killed = [(place(f"{fatal}.db"), fatal) for fatal in range(count, 0, -every)]
    print(f"killed {len(killed)} times")
    assert do("open", *killed) == [[signal.SIGKILL, 0]] * len(killed)
    for file, _ in killed:
        store = open_store(file)
        receive(store)
        assert audit(store) == [] and len(shelves.lots(store)) == 1
        store.close()
        assert schema(file) == schema(whole)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("revision", sorted(old_stores.ROWS))
@pytest.mark.parametrize("every", [12, pytest.param(1, marks=pytest.mark.long)])
def test_a_store_whose_upgrade_was_killed_before_a_statement_is_upgraded_when_it_is_opened_again(
        tmp_path, every, revision, kind):
    """It is of the old revision or of the new one, never between; no row is lost."""
    old = server().fresh(None) if kind == "postgresql" else tmp_path / "old.db"
    old_stores.make(old, revision)

    def copy(name):
        if kind == "postgresql":
            return server().copy(old)
        shutil.copy(old, tmp_path / name)
        return tmp_path / name

    whole = copy("whole.db")
    [[ended, count]] = do("open", (whole, 0))
    assert ended == 0 and count > 10
    before, after = dump(old), dump(whole)
    killed = [(copy(f"{fatal}.db"), fatal) for fatal in range(count, 0, -every)]
    assert do("open", *killed) == [[signal.SIGKILL, 0]] * len(killed)
    for file, fatal in killed:
        assert dump(file) in (before, after), fatal
        store = open_store(file, keep=False)
        assert audit(store) == []
        store.close()
        assert dump(file) == after and schema(file) == schema(whole)
        if kind == "postgresql":
            server().drop(file)


#: Holds, picks, issues and receives for as long as it lives, and says each thing that is done once it is.
WORK = """
import random, sys
from kitbuilder.errors import StoreRefuses
from kitbuilder.store import holds
from kitbuilder.store.database import open_store
from tests.databases import KINDS, is_postgresql, server
from tests.store.shelf import NOW, SITE, promise, receive
store = open_store(sys.argv[1])
name, chance = sys.argv[2], random.Random(sys.argv[2])
number = 0
while True:
    number += 1
    items = chance.sample(["XX-1", "YY-1"], 2)
    wanted = [promise(1000, f"{name} {number} {item}", item=item) for item in items]
    try:
        made = holds.hold(store, SITE, wanted, name, NOW)
    except StoreRefuses:
        receive(store, 4000, item=items[0])
        continue
    print("held", *(one.id for one in made), flush=True)
    if chance.random() < 0.7:
        for state in ("picking", "picked", "issued"):
            holds.step(store, [one.id for one in made], state, name, NOW)
        print("issued", *(one.id for one in made), flush=True)
"""


def check_random_kills(file, kills, seed):
    """Whatever was told is so, whatever wasn't is done as a whole or not at all."""
    print(f"seed {seed}")
    chance = random.Random(seed)
    store = open_store(file)
    book(store)
    for item in ("XX-1", "YY-1"):
        receive(store, 20_000, item=item)
    told = 0
    for turn in range(kills):
        workers = [
            subprocess.Popen([sys.executable, "-c", WORK, str(file), f"{seed}.{turn}.{who}"], env=ENVIRONMENT,
                             stdout=subprocess.PIPE, text=True) for who in range(2)]
        first = [worker.stdout.readline() for worker in workers]
        time.sleep(chance.uniform(0, 0.15))
        for worker in workers:
            worker.send_signal(signal.SIGKILL)
        said = [first[0] + workers[0].communicate(timeout=30)[0], first[1] + workers[1].communicate(timeout=30)[0]]
        assert [worker.returncode for worker in workers] == [-signal.SIGKILL] * 2
        assert audit(store) == []
        with store.reading() as session:
            rows = session.connection().exec_driver_sql("SELECT id, state, promise FROM hold").all()
        states = {number: state for number, state, _ in rows}
        # what was being said when it was killed has no end
        for line in (line for one in said for line in one.splitlines(keepends=True) if line.endswith("\n")):
            word, *numbers = line.split()
            told += 1
            assert all(states[int(number)] == "issued" if word == "issued" else int(number) in states
                       for number in numbers)
        # both items of a call, or neither, and both in the same state
        calls = {}
        for _, state, key in rows:
            calls.setdefault(key.rsplit(" ", 1)[0], []).append(state)
        assert all(len(states) == 2 and states[0] == states[1] for states in calls.values())
    assert told > kills
    print(f"killed {2 * kills} times, {told} things told")
    store.close()


def test_killed_at_random_moments_nothing_told_is_lost_and_nothing_is_half_done(file):
    check_random_kills(file, 3, random.randrange(10**6))


@pytest.mark.long
def test_the_same_many_times(file):
    check_random_kills(file, 60, random.randrange(10**6))
