"""Opens the store: the engine, its transactions, and the schema's revision."""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal

from sqlalchemy import URL, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses
from kitbuilder.store.prepared import Hand

#: Seconds a transaction waits for another's lock.
BUSY_S = 10.0
HEAD = "0001"
#: How sure a commit is to outlast a power cut: FULL is, NORMAL may lose the last few (and nothing else).
Synchronous = Literal["FULL", "NORMAL"]


class Store:
    """An open store. Writes are short transactions that lock from their first statement; reads are apart."""

    def __init__(self, engine: Engine, busy_s: float = BUSY_S) -> None:
        self.engine = engine
        self._writer = engine.execution_options(kitbuilder_writes=True)
        self._busy_s = busy_s

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A transaction that may write; it commits at the end, and does nothing at all if anything is raised.

        Raises StoreRefuses if the store is locked too long, full, gone or refuses what is written.
        """
        with self._refusals(), Session(self._writer) as session, session.begin():
            yield session

    @contextmanager
    def at_hand(self) -> Iterator[Hand]:
        """As `writing`, with the driver's own cursor for prepared statements: the shortest way in and out."""
        with self._refusals():
            connection = self._writer.raw_connection()
            try:
                cursor = connection.cursor()
                if self._writer.dialect.name == "sqlite":
                    cursor.execute("BEGIN IMMEDIATE")
                yield Hand(cursor, self._writer.dialect)
                connection.commit()
            finally:
                connection.close()  # back to the pool, which rolls back what wasn't committed

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A transaction that only reads, one consistent state of the store."""
        with self._refusals(), Session(self.engine) as session:
            yield session

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    @contextmanager
    def _refusals(self) -> Iterator[None]:
        """Database errors as StoreRefuses, in plain words."""
        try:
            yield
        except DBAPIError as error:
            raise StoreRefuses(_plain(error.orig, isinstance(error, IntegrityError), self._busy_s)) from error
        except self.engine.dialect.loaded_dbapi.Error as error:
            refused = isinstance(error, self.engine.dialect.loaded_dbapi.IntegrityError)
            raise StoreRefuses(_plain(error, refused, self._busy_s)) from error


def _plain(error: BaseException | None, refused: bool, busy_s: float) -> str:
    reason = " ".join(str(error).split())
    if "locked" in reason:
        return f"The store is busy: another program has held it for {busy_s:g} s. Nothing was changed; try again."
    if "disk is full" in reason:
        return "There is no room left on the store's disk. Nothing was changed; make room and try again."
    if "readonly" in reason or "read-only" in reason:
        return ("The store can only be read, not written. Nothing was changed; look at who may write to its file and "
                "its folder.")
    if "unable to open" in reason:
        return "The store's file can't be opened. Look whether its folder is there and may be written to."
    if "not a database" in reason or "malformed" in reason:
        return (f"The store's file is damaged, or is no store of kitbuilder ({reason}). Nothing was changed; put a "
                "back-up in its place.")
    if "no such table" in reason or "no such column" in reason:
        return f"The store's tables aren't what they should be ({reason}). Nothing was changed; use a back-up."
    if refused:
        return f"The store refuses what would make it unsound ({reason}). Nothing was changed."
    return f"The store can't be used: {reason}. Nothing was changed."


def open_store(where: str | Path, *, busy_s: float = BUSY_S, synchronous: Synchronous = "FULL") -> Store:
    """The store in a file, or behind a database URL; made, or brought to the newest revision, if need be.

    `busy_s`: seconds that a transaction waits for another's lock. Raises StoreRefuses if it can't be opened or was
    written by a newer kitbuilder.
    """
    try:
        url = make_url(str(where)) if "://" in str(where) else URL.create("sqlite", database=str(where))
        sqlite = url.get_backend_name() == "sqlite"
        if sqlite and url.database:
            Path(url.database).parent.mkdir(parents=True, exist_ok=True)
        engine = create_engine(url, connect_args={"timeout": busy_s} if sqlite else {})
    except (ArgumentError, NoSuchModuleError, ImportError) as error:
        raise StoreRefuses(
            f"The store {url_of(str(where))} can't be opened: {error}. Expected the path of a file, or a database URL "
            "whose driver is installed.") from error
    except OSError as error:
        raise StoreRefuses(f"The store {where} can't be made: {error.strerror}.") from error
    if sqlite:
        _prepare_sqlite(engine, synchronous, busy_s)
    store = Store(engine, busy_s)
    try:
        with store._refusals():
            _migrate(engine)
    except StoreRefuses:
        store.close()
        raise
    return store


def _prepare_sqlite(engine: Engine, synchronous: Synchronous, busy_s: float) -> None:
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


def _migrate(engine: Engine) -> None:
    with engine.connect() as connection:
        found = _revision(connection)
    if found == HEAD:
        return
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    folder = str(Path(__file__).parent / "migrations")
    config.set_main_option("script_location", folder.replace("%", "%%"))  # the reader of settings fills in %(names)s
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if found is not None and found not in known:
        raise StoreRefuses(
            f"The store was written by a newer kitbuilder (its revision is {found}, this one knows {HEAD}). "
            "Use that one, or a back-up.")
    with engine.execution_options(kitbuilder_writes=True).connect() as connection, connection.begin():
        # another process may have migrated while this one waited for the lock
        if _revision(connection) != HEAD:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")


def _revision(connection: Any) -> str | None:
    if not connection.dialect.has_table(connection, "alembic_version"):
        return None
    found: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found


def url_of(where: str) -> str:
    """A path as it is, a database URL without its password: for messages."""
    try:
        return make_url(where).render_as_string(hide_password=True) if "://" in where else where
    except ArgumentError:
        return where.partition("://")[0] + "://…"
