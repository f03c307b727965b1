"""The store in one SQLite file: how its connections are prepared."""

import os
import sqlite3
import time
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, Literal

from sqlalchemy import Engine, event

#: How sure a commit is to outlast a power cut: FULL is, NORMAL may lose the last few (and nothing else).
Synchronous = Literal["FULL", "NORMAL"]

#: The byte of the file "-shm" that who writes has locked (https://www.sqlite.org/walformat.html, "WAL Locks").
_WRITES: Final = 120


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


def holder(file: str | None) -> str:
    """Which other process writes to a store, or has it to itself; empty where the system (Linux does) doesn't tell.

    The list of locks is read, not the files: to open and close one would let go the locks that this process has.
    """
    if not file or file == ":memory:":
        return ""
    with suppress(OSError, ValueError):
        places = {_place(file): range(2**63)}
        with suppress(OSError):
            places[_place(f"{file}-shm")] = range(_WRITES, _WRITES + 1)
        for line in Path("/proc/locks").read_text("ascii").splitlines():
            _, *words = line.split()
            if len(words) != 7 or words[2] != "WRITE" or int(words[3]) in (os.getpid(), 0, -1):
                continue
            last = 2**63 - 1 if words[6] == "EOF" else int(words[6])
            wanted = places.get(words[4])
            if wanted is not None and int(words[5]) < wanted.stop and last >= wanted.start:
                name = Path(f"/proc/{words[3]}/comm").read_text("utf-8", "replace").strip()
                return f"{name}, process {words[3]}"
    return ""


def _place(file: str) -> str:
    """A file as the list of locks has it."""
    found = os.stat(file)
    return f"{os.major(found.st_dev):02x}:{os.minor(found.st_dev):02x}:{found.st_ino}"
