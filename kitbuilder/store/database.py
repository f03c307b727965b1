"""Opens the store: the engine, its transactions, and the schema's revision."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses

#: Seconds a transaction waits for another's lock.
BUSY_S = 10
HEAD = "0001"


class Store:
    """An open store. Writes are short transactions that lock from their first statement; reads are apart."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A transaction that may write; it commits at the end, and does nothing at all if anything is raised.

        Raises StoreRefuses if the store is locked too long, full, gone or refuses what is written.
        """
        with _refusals(), Session(self.engine.execution_options(kitbuilder_writes=True)) as session:
            with session.begin():
                yield session

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A transaction that only reads, one consistent state of the store."""
        with _refusals(), Session(self.engine) as session:
            yield session

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()


def open_store(where: str | Path) -> Store:
    """The store in a file, or behind a database URL; made, or brought to the newest revision, if need be.

    Raises StoreRefuses if it can't be opened or was written by a newer kitbuilder.
    """
    url = str(where) if "://" in str(where) else f"sqlite:///{where}"
    if url.startswith("sqlite:///"):
        Path(url.removeprefix("sqlite:///")).parent.mkdir(parents=True, exist_ok=True)
    options: dict[str, Any] = {"connect_args": {"timeout": BUSY_S}} if url.startswith("sqlite") else {}
    engine = create_engine(url, **options)
    if engine.dialect.name == "sqlite":
        _prepare_sqlite(engine)
    store = Store(engine)
    with _refusals():
        _migrate(engine)
    return store


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def connected(connection: Any, _: Any) -> None:
        # transactions are begun by us: a read that turns into a write would fail at once
        connection.isolation_level = None
        for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", f"busy_timeout = {BUSY_S * 1000}"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begun(connection: Any) -> None:
        writes = connection.get_execution_options().get("kitbuilder_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _migrate(engine: Engine) -> None:
    with engine.connect() as connection:
        found = _revision(connection)
    if found == HEAD:
        return
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if found is not None and found not in known:
        raise StoreRefuses(
            f"The store was written by a newer kitbuilder (its revision is {found}). Use that one, or a back-up.")
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


@contextmanager
def _refusals() -> Iterator[None]:
    """Database errors as StoreRefuses, in plain words."""
    try:
        yield
    except OperationalError as error:
        reason = " ".join(str(error.orig).split())
        if "locked" in reason:
            raise StoreRefuses(f"The store is busy: another program has held it for {BUSY_S} s. Try again.") from error
        raise StoreRefuses(f"The store can't be used: {reason}. Nothing was changed.") from error
    except DBAPIError as error:
        raise StoreRefuses(f"The store refuses: {' '.join(str(error.orig).split())}. Nothing was changed.") from error


def url_of(where: str) -> str:
    """A database URL without its password, for messages."""
    return make_url(where).render_as_string(hide_password=True)
