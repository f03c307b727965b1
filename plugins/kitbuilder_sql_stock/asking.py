"""The one place that speaks to the database: a query within a deadline, in a transaction that only reads."""

import re
import sqlite3
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy
from sqlalchemy.exc import ArgumentError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import NullPool

from kitbuilder import SourceFailed

#: So many items are asked for at once: databases limit how many values a statement may have.
AT_ONCE = 500
#: SQLite is asked whether the time is up after so many of its steps.
STEPS = 10_000
KNOWN = ("item", "quantity", "unit", "lot", "bin", "use_by", "price", "per")


def rows(url: str, folder: Path, query: str, items: Sequence[str], until: float) -> list[Mapping[str, Any]]:
    """The query's rows for some items, columns in lower case; `until` is on the monotonic clock. Raises SourceFailed,
    saying what to mend."""
    listed = re.search(r"(?<![:\w]):items\b", query) is not None
    statement = sqlalchemy.text(query)
    if listed:
        statement = statement.bindparams(sqlalchemy.bindparam("items", expanding=True))
    parts = [list(items[at:at + AT_ONCE]) for at in range(0, len(items), AT_ONCE)] if listed else [[]]
    found: list[Mapping[str, Any]] = []
    with _reading(url, folder, until) as connection:
        # asked for nothing, it shows whether it can be asked; an empty list has no type, and some databases want one
        for part in parts or [[""]]:
            result = connection.execute(statement, {"items": part} if listed else {})
            names = [name.casefold() for name in result.keys()]  # noqa: SIM118 - it is no dictionary
            _check(names)
            for row in result:
                if time.monotonic() > until:
                    raise SourceFailed("the query has too many rows for its deadline: put WHERE … IN :items into it")
                found.append(dict(zip(names, row, strict=True)))
    return found


def _check(names: Sequence[str]) -> None:
    missing = [name for name in ("item", "quantity") if name not in names]
    unknown = [name for name in names if name not in KNOWN]
    if missing:
        raise SourceFailed(f"the query has no column named {' and none named '.join(missing)}; it has "
                           f"{', '.join(names)}: name them with AS")
    if unknown or len(set(names)) < len(names):
        raise SourceFailed(f"the query has a column {(unknown or list(names))[0]} that isn't known, or one twice; "
                           f"expected {', '.join(KNOWN)}")


@contextmanager
def _reading(url: str, folder: Path, until: float) -> Iterator[sqlalchemy.Connection]:
    engine = engine_for(url, folder, until)
    try:
        with engine.connect() as connection, connection.begin() as transaction:
            if engine.dialect.name == "postgresql":
                left_ms = max(1, int((until - time.monotonic()) * 1000))
                connection.exec_driver_sql("SET TRANSACTION READ ONLY")
                connection.exec_driver_sql(f"SET LOCAL statement_timeout = {left_ms}")
            try:
                yield connection
            finally:
                transaction.rollback()
    except SQLAlchemyError as error:
        why = " ".join(str(getattr(error, "orig", None) or error).split())[:200]
        if time.monotonic() >= until - 0.05 or "timeout" in why.casefold() or "interrupted" in why:
            raise SourceFailed(f"the database was too slow ({why}): raise deadline_s, or put WHERE … IN :items into "
                               "the query") from None
        raise SourceFailed(f"the database refuses ({why}): check url and query") from None
    finally:
        engine.dispose()


def engine_for(url: str, folder: Path, until: float, writes: bool = False) -> sqlalchemy.Engine:
    """What connects to the database; a file of SQLite is opened to read unless it `writes`. Raises SourceFailed, saying
    what to mend, where the URL can't be used."""
    try:
        return _engine(url, folder, until, writes)
    except (ArgumentError, NoSuchModuleError, ValueError):
        # the URL isn't shown: it may have a password in it
        raise SourceFailed("url is no database URL of SQLAlchemy, such as postgresql://reader@host/stock") from None
    except ImportError as error:
        raise SourceFailed(f"the database's driver isn't installed ({error}): install it beside kitbuilder") from None


def _engine(url: str, folder: Path, until: float, writes: bool) -> sqlalchemy.Engine:
    made = sqlalchemy.make_url(url)
    left_s = max(1, int(until - time.monotonic()))
    if made.get_backend_name() == "sqlite":
        file = folder / (made.database or "")
        if not file.is_file():
            raise SourceFailed(f"there is no database file {file.name}")

        def connect() -> sqlite3.Connection:
            # transactions are begun by hand where it writes: their first look has to lock already
            connection = sqlite3.connect(f"file:{quote(str(file))}?mode={'rw' if writes else 'ro'}", uri=True,
                                         timeout=left_s, isolation_level=None if writes else "DEFERRED")
            connection.set_progress_handler(lambda: time.monotonic() > until, STEPS)
            return connection

        return sqlalchemy.create_engine("sqlite://", creator=connect, poolclass=NullPool)
    if made.drivername == "postgresql":
        made = made.set(drivername="postgresql+psycopg")
    more = {"connect_timeout": left_s} if made.get_backend_name() == "postgresql" else {}
    return sqlalchemy.create_engine(made, poolclass=NullPool, connect_args=more)
