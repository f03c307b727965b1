"""The store in one SQLite file: how its connections are prepared."""

import sqlite3
import time
from typing import Any, Literal

from sqlalchemy import Engine, event

#: How sure a commit is to outlast a power cut: FULL is, NORMAL may lose the last few (and nothing else).
Synchronous = Literal["FULL", "NORMAL"]


def prepare(engine: Engine, synchronous: Synchronous, busy_s: float) -> None:
    """Have each connection keep a write-ahead journal, foreign keys, and transactions that lock when they write."""
    @event.listens_for(engine, "connect")
    def connected(connection: sqlite3.Connection, _: Any) -> None:
        # transactions are begun by us: a read that turns into a write would fail at once
        connection.isolation_level = None
        _to_wal(connection, busy_s)
        connection.execute(f"PRAGMA synchronous = {synchronous}")
        connection.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def begun(connection: Any) -> None:
        writes = connection.get_execution_options().get("kitbuilder_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _to_wal(connection: sqlite3.Connection, busy_s: float) -> None:
    """Have the store keep a write-ahead journal; it stays so. Two who ask for it at once are told that the file is
    locked without any waiting, so the waiting is done here."""
    end = time.monotonic() + busy_s
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > end:
                raise
            time.sleep(0.01)
