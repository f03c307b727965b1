"""Measures holds per second against the bare transaction of the same SQL, in one run.

    .venv-test/bin/python benchmarks/holds.py [--rounds N]

Two stores that are alike; on one `kitbuilder.store.holds.hold`, on the other the same statements written down here and
run with the standard library's sqlite3, on the same settings of the file. Both take turns, a block of holds each, so
that a machine whose speed drifts treats both alike; the median of the blocks' ratios is quoted, with the least and the
greatest. Before anything is timed both are traced over the same holds: the statements must be the same to the letter.
"""

import argparse
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from kitbuilder.model.booking import DiaryEntry
from kitbuilder.model.shelf import HoldRow, Promise, Receipt
from kitbuilder.store import bookings, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import Store, Synchronous, open_store
from kitbuilder.store.holds import hold

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
ITEMS, BOOKINGS = 200, 50
TARGET = 0.7

PARTS = """SELECT hold.id, hold.part, hold.quantity, hold.state, hold.booking, hold.need, lot.item, lot.number,
    lot.site, bin.name, lot.unit, lot.use_by
    FROM hold JOIN lot ON lot.id = hold.lot JOIN bin ON bin.id = hold.bin
    WHERE hold.promise = ? ORDER BY hold.part"""
PLACES = """SELECT stock.lot, stock.bin, stock.on_hand - stock.held AS anon_1, bin.name, lot.unit, lot.use_by
    FROM stock JOIN lot ON lot.id = stock.lot JOIN bin ON bin.id = stock.bin
    WHERE lot.site = ? AND lot.item = ? AND lot.number = ? AND lot.quarantine = ? AND stock.on_hand > stock.held
    ORDER BY bin.name"""
PART = """INSERT INTO hold (promise, part, booking, need, lot, bin, quantity, state, changed_at, changed_by)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id"""
CHANGE = """UPDATE stock SET on_hand=(stock.on_hand + ?), held=(stock.held + ?), changes=(stock.changes + ?)
    WHERE stock.lot = ? AND stock.bin = ? AND ((stock.on_hand - stock.held) + ?) - ? >= ?
    RETURNING on_hand, held, changes"""
ROW = """INSERT INTO ledger (at, action, lot, bin, number, on_hand, held, on_hand_after, held_after, booking, hold, who,
    why) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"""


def promise(number: int) -> Promise:
    """The promises that both make, in turn over items and bookings."""
    item = f"AA-{number % ITEMS:05}"
    booking = number % BOOKINGS + 1
    need = f"{booking}/role:{item}"
    return Promise(f"{need}|{item}|L1|{number}", booking, need, item, "L1", 1000)


def bare(connection: sqlite3.Connection, one: Promise) -> list[HoldRow]:
    """The hold as somebody would write it who needs nothing but this."""
    run, now = connection.execute, NOW.strftime("%Y-%m-%d %H:%M:%S.%f")
    run("BEGIN IMMEDIATE")
    try:
        if run(PARTS, (one.key,)).fetchall():
            raise LookupError("held already")
        lot, bin_, free, bin_name, unit, use_by = run(PLACES, ("Demo", one.item, one.lot, "")).fetchall()[0]
        if free < one.quantity:
            raise LookupError("not there")
        ((number,),) = run(PART, (
            one.key, 0, one.booking, one.need, lot, bin_, one.quantity, "planned", now, "bench")).fetchall()
        ((on_hand, held, changes),) = run(CHANGE, (0, one.quantity, 1, lot, bin_, 0, one.quantity, 0)).fetchall()
        run(ROW, (now, "hold", lot, bin_, changes, 0, one.quantity, on_hand, held, one.booking, number, "bench",
                  one.need))
        run("COMMIT")
    except BaseException:
        run("ROLLBACK")
        raise
    return [HoldRow(number, one.key, one.booking, one.need, one.item, one.lot, bin_name, one.quantity, unit, "planned",
                    use_by)]


def stocked(file: Path, synchronous: Synchronous) -> Store:
    """A store with stock and bookings to hold for."""
    store = open_store(file, synchronous=synchronous)
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


def traced(connection: sqlite3.Connection, work: Callable[[], object]) -> list[str]:
    """The statements that some work runs, with their values, without line breaks."""
    said: list[str] = []
    connection.set_trace_callback(lambda text: said.append(" ".join(text.split())))
    work()
    connection.set_trace_callback(None)
    return said


def same_sql(store: Store, connection: sqlite3.Connection) -> int:
    """How many statements a hold is; stops the measurement if the two don't run the same."""
    with closing(store.engine.raw_connection()) as pooled:
        ours_connection = pooled.driver_connection
    assert isinstance(ours_connection, sqlite3.Connection)
    for number in range(3):
        one = promise(number)
        ours = traced(ours_connection, lambda: hold(store, "Demo", [one], "bench", NOW))  # noqa: B023 - called at once
        theirs = traced(connection, lambda: bare(connection, one))  # noqa: B023 - called at once
        if ours != theirs:
            sys.exit("The statements differ; nothing was measured.\n" + "\n".join([*ours, "", *theirs]))
    return len(ours)


def seconds(work: Callable[[Promise], object], numbers: range) -> float:
    """Wall time of a block of holds."""
    promises = [promise(number) for number in numbers]
    start = time.perf_counter()
    for one in promises:
        work(one)
    return time.perf_counter() - start


def measure(folder: Path, synchronous: Synchronous, block: int, rounds: int) -> None:
    """Both in turn at one setting, and one line about it."""
    store = stocked(folder / f"ours-{synchronous}.db", synchronous)
    stocked(folder / f"bare-{synchronous}.db", synchronous).close()
    connection = opened(folder / f"bare-{synchronous}.db", synchronous)
    count = same_sql(store, connection)

    def ours(one: Promise) -> object:
        return hold(store, "Demo", [one], "bench", NOW)

    def theirs(one: Promise) -> object:
        return bare(connection, one)

    own, peers = [], []
    for turn in range(rounds + 1):
        numbers = range(3 + turn * block, 3 + (turn + 1) * block)
        peers.append(seconds(theirs, numbers))
        own.append(seconds(ours, numbers))
    connection.close()
    if faults := audit(store):
        sys.exit(f"The audit isn't clean: {faults[0]}")
    store.close()
    # the first round warms both up
    ratios = sorted(peer / one for peer, one in zip(peers[1:], own[1:], strict=True))
    ours_a_second, theirs_a_second = (block / statistics.median(times[1:]) for times in (own, peers))
    print(f"synchronous {synchronous:<6} {statistics.median(ratios):5.2f} x  ({ratios[0]:.2f} to {ratios[-1]:.2f}; "
          f"{ours_a_second:,.0f} holds a second against {theirs_a_second:,.0f}; "
          f"{count} statements each; target {TARGET:.1f} x or more)")


def main() -> None:
    """Run the measurement at both settings."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=15)
    rounds = parser.parse_args().rounds
    print("holds per second, one store, one process, against the bare transaction of the same SQL:")
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), "FULL", 50, rounds)
        measure(Path(folder), "NORMAL", 500, rounds)


if __name__ == "__main__":
    main()
