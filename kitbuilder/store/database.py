"""Opens the store: the engine, its transactions, and the schema's revision."""

import itertools
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final, TypeVar

from sqlalchemy import URL, Connection, Engine, create_engine, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import postgres, sqlite
from kitbuilder.store.prepared import Hand
from kitbuilder.store.refusals import in_words, trouble
from kitbuilder.store.spare import Spare
from kitbuilder.store.sqlite import Synchronous

#: Seconds a transaction waits for another's lock.
BUSY_S = 10.0
HEAD = "0003"
#: So often what met another transaction is tried again.
_TURNS: Final = 20

T = TypeVar("T")


class Store:
    """An open store. Writes are short transactions that lock from their first statement; reads are apart."""

    def __init__(self, engine: Engine, busy_s: float = BUSY_S) -> None:
        self.engine = engine
        self._writer = engine.execution_options(kitbuilder_writes=True)
        self._busy_s = busy_s
        self._spare, self._driver = Spare(self._writer), engine.dialect.loaded_dbapi
        self._begin = "BEGIN IMMEDIATE" if engine.dialect.name == "sqlite" else postgres.TOGETHER
        #: Where the store as it was is kept, if it was brought to a newer revision just now and is a file.
        self.kept: Path | None = None

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A transaction that may write; it commits at the end, and does nothing at all if anything is raised.

        Raises StoreRefuses if the store is locked too long, full, gone or refuses what is written.
        """
        with self._refusals() as doing, Session(self._writer) as session:
            yield session
            doing.committing = True
            session.commit()

    def at_hand(self, work: Callable[[Hand], T]) -> T:
        """As `writing`, with the driver's own cursor for prepared statements: the shortest way in and out.

        On PostgreSQL such transactions run side by side, so `work` may be done again from the start: it must change
        nothing but the store.
        """
        for _ in range(_TURNS - 1):
            try:
                return self._at_hand(work)
            except MetAnother:
                pass  # nothing was done
        return self._at_hand(work)

    def _at_hand(self, work: Callable[[Hand], T]) -> T:
        doing, connection = _Doing(), None
        try:
            connection = self._spare.take()
            cursor = connection.cursor()
            cursor.execute(self._begin)
            done = work(Hand(cursor, self.engine.dialect))
            doing.committing = True
            connection.commit()
        except BaseException as error:
            if connection is not None:
                self._spare.give_up(connection, error)
            if isinstance(error, DBAPIError):
                raise self._refusal(error.orig, isinstance(error, IntegrityError), doing, again=True) from error
            if isinstance(error, self._driver.Error):
                raise self._refusal(error, isinstance(error, self._driver.IntegrityError), doing, again=True) from error
            raise
        self._spare.keep(connection)
        return done

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A transaction that only reads, one consistent state of the store."""
        with self._refusals(), Session(self.engine) as session:
            yield session

    def close(self) -> None:
        """Close all connections."""
        self._spare.close()
        self.engine.dispose()

    @contextmanager
    def _refusals(self) -> Iterator["_Doing"]:
        """Database errors as StoreRefuses, in plain words."""
        doing = _Doing()
        try:
            yield doing
        except DBAPIError as error:
            raise self._refusal(error.orig, isinstance(error, IntegrityError), doing) from error
        except self._driver.Error as error:
            raise self._refusal(error, isinstance(error, self._driver.IntegrityError), doing) from error

    def _refusal(self, error: BaseException | None, refused: bool, doing: "_Doing",
                 again: bool = False) -> StoreRefuses:
        """An error in plain words; as MetAnother where the same may be tried `again`."""
        kind = trouble(error)
        said = in_words(error, refused, self._busy_s, doing.committing, self._holder() if kind == "busy" else "")
        # two who make the same hold, or wait for each other
        met = kind == "turn" or getattr(error, "sqlstate", None) == "23505"
        return MetAnother(said) if again and met else StoreRefuses(said)

    def _holder(self) -> str:
        """Who has held the store for as long as others wait, if anybody tells."""
        if self.engine.dialect.name == "sqlite":
            return sqlite.holder(self.engine.url.database)
        return postgres.holder(self.engine, self._busy_s)


class _Doing:
    """How far a transaction is."""

    committing = False


class MetAnother(StoreRefuses):
    """Another transaction was first, and nothing was done; the same may be tried again."""


def open_store(where: str | Path, *, busy_s: float = BUSY_S, synchronous: Synchronous = "FULL",
               keep: bool = True, migrate: bool = True) -> Store:
    """The store in a file, or behind a database URL; made, or brought to the newest revision, if need be.

    `busy_s`: seconds that a transaction waits for another's lock. `keep`: a file is copied before it is brought to
    another revision; `Store.kept` says where. A database server's back-ups are its keeper's. Without `migrate` it stays
    as it is, somebody else's to make or to change. Raises StoreRefuses if it can't be opened or was written by a newer
    kitbuilder; without `migrate` also if it isn't there, or of another revision.
    """
    if not migrate and "://" not in str(where) and not Path(where).is_file():
        raise StoreRefuses(f"There is no store {where}.")
    try:
        url = make_url(postgres.with_driver(str(where))) if "://" in str(where) else URL.create(
            "sqlite", database=str(where))
        kind = url.get_backend_name()
        if kind == "sqlite" and url.database:
            Path(url.database).parent.mkdir(parents=True, exist_ok=True)
        engine = create_engine(
            url, connect_args=postgres.connect_args(busy_s) if kind == "postgresql" else {"timeout": busy_s})
    except (ArgumentError, NoSuchModuleError, ImportError) as error:
        raise StoreRefuses(
            f"The store {url_of(str(where))} can't be opened: {error}. Expected the path of a file, or a database URL "
            "whose driver is installed.") from error
    except OSError as error:
        raise StoreRefuses(f"The store {where} can't be made: {error.strerror}.") from error
    if kind == "sqlite":
        sqlite.prepare(engine, synchronous, busy_s)
    elif kind == "postgresql":
        postgres.prepare(engine)
    store = Store(engine, busy_s)
    try:
        with store._refusals():
            store.kept = _migrate(engine, keep) if migrate else _as_it_is(engine)
    except StoreRefuses:
        store.close()
        raise
    return store


def _migrate(engine: Engine, keep: bool) -> Path | None:
    """Bring the store to the newest revision; where the file as it was is kept, None if there is none to keep."""
    with engine.connect() as connection:
        found = _revision(connection)
    if found == HEAD:
        return None
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
    kept = None
    with engine.execution_options(kitbuilder_writes=True).connect() as connection:
        is_file = engine.dialect.name == "sqlite"
        if is_file:
            # a table that is made anew is dropped first; what names its rows is looked at when all is done
            _driver(connection).execute("PRAGMA foreign_keys = OFF")
        with connection.begin():
            # another process may have migrated while this one waited for the lock
            found = _revision(connection)
            if found != HEAD:
                if found is not None and is_file and keep:
                    kept = _keep(engine.url.database, found)
                config.attributes["connection"] = connection
                command.upgrade(config, "head")
                if is_file and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                    raise StoreRefuses("The store's rows don't fit together, so it can't be brought to a newer "
                                       "revision. Nothing was changed; use a back-up.")
        if is_file:
            _driver(connection).execute("PRAGMA foreign_keys = ON")
    return kept


def _as_it_is(engine: Engine) -> Path | None:
    """Look at the store's revision only; no copy is made."""
    with engine.connect() as connection:
        found = _revision(connection)
    if found != HEAD:
        raise StoreRefuses(f"The store is of revision {found or 'none'}, this kitbuilder knows {HEAD}: bring both to "
                           "the same kitbuilder.")
    return None


def _driver(connection: Connection) -> Any:
    return connection.connection.driver_connection


def _keep(file: str | None, revision: str) -> Path | None:
    """Copy a store's file beside it; whoever calls holds the lock, so that nothing is written meanwhile."""
    if not file or file == ":memory:":
        return None
    source = Path(file)
    end = f".before-upgrade-from-{revision}{source.suffix}"
    names = (source.with_name(f"{source.stem}{f'-{number}' if number else ''}{end}") for number in itertools.count())
    kept = next(name for name in names if not name.exists())
    beside = kept.with_name(f".{kept.name}.{os.getpid()}")
    try:
        with closing(sqlite3.connect(source)) as connection:
            connection.execute("VACUUM INTO ?", (str(beside),))
        os.replace(beside, kept)
    except (OSError, sqlite3.Error) as error:
        beside.unlink(missing_ok=True)
        raise StoreRefuses(f"The store is of revision {revision}, and has to be copied before it is brought to {HEAD}, "
                           f"but the copy {kept.name} can't be written ({error}). Nothing was changed.") from error
    return kept


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
