"""Back-ups: a store's whole content in one file, which is a store itself; put back into either kind of database."""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Integer, Table, func, insert, select, text
from sqlmodel import SQLModel

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.store.audit import audit
from kitbuilder.store.database import Store, open_store

#: Rows that are copied at a time.
_ROWS = 1000


def back_up(store: Store, file: Path) -> int:
    """Write all that a store holds, as it is at one moment, to a new file; how many rows.

    The file is written beside and renamed: it is there whole or not at all. Raises WrongUse if there is one already,
    StoreRefuses if it can't be written.
    """
    if file.exists():
        raise WrongUse(f"{file} is there already; a back-up doesn't overwrite anything. Name a new file.")
    beside = file.with_name(f".{file.name}.{os.getpid()}")
    try:
        copy = open_store(beside)
        try:
            with store.reading() as session:
                rows = _copy(session.connection(), copy)
        finally:
            copy.close()
        with closing(sqlite3.connect(beside)) as connection:
            connection.execute("PRAGMA journal_mode = DELETE")  # one file, without a journal beside it
        os.replace(beside, file)
    except OSError as error:
        raise StoreRefuses(f"The back-up can't be written to {file}: {error.strerror}.") from error
    finally:
        _clear(beside)
    return rows


def restore(file: Path, store: Store) -> int:
    """Put a back-up into a store that has nothing in it yet; how many rows. All of it or nothing.

    Raises WrongUse if the store isn't empty or there is no such file, StoreRefuses if the back-up is unsound or of a
    newer kitbuilder.
    """
    if not file.is_file():
        raise WrongUse(f"There is no file {file}.")
    with store.reading() as session:
        full = [table.name for table in _tables() if session.execute(select(table).limit(1)).first() is not None]
    if full:
        raise WrongUse("The store isn't empty. A back-up is put into a new one: name another file or database as "
                       "`store` in kitbuilder.toml.")
    # looked at in a copy: an older back-up is brought to the newest revision there, and stays as it is
    beside = file.with_name(f".{file.name}.{os.getpid()}.restoring")
    try:
        shutil.copyfile(file, beside)
        backed_up = open_store(beside, keep=False)
        try:
            faults = audit(backed_up)
            if faults:
                raise StoreRefuses(f"The back-up {file} isn't sound: {faults[0].item} in {faults[0].bin}: "
                                   f"{faults[0].text}. Nothing was put back.")
            with backed_up.reading() as session:
                return _copy(session.connection(), store)
        finally:
            backed_up.close()
    except OSError as error:
        raise StoreRefuses(f"The back-up {file} can't be read: {error.strerror}.") from error
    finally:
        _clear(beside)


def _clear(file: Path) -> None:
    """Take away a file that SQLite worked in, with what it keeps beside it."""
    for end in ("", "-wal", "-shm", "-journal"):
        with suppress(OSError):
            file.with_name(file.name + end).unlink()


def _tables() -> list[Table]:
    """The tables, those that others name first."""
    return list(SQLModel.metadata.sorted_tables)


def _copy(source: Connection, target: Store) -> int:
    """All rows of a store into an empty one, and the numbers that are never to be used again."""
    copied = 0
    with target.writing() as session:
        connection = session.connection()
        for table in _tables():
            for rows in _batches(source, table):
                connection.execute(insert(table), rows)
                copied += len(rows)
            _go_on_from(connection, table, _last_number(source, table))
    return copied


def _batches(source: Connection, table: Table) -> Iterator[list[dict[str, Any]]]:
    keys = list(table.primary_key.columns)
    result = source.execution_options(yield_per=_ROWS).execute(select(table).order_by(*keys))
    for rows in result.mappings().partitions(_ROWS):
        yield [dict(row) for row in rows]


def _numbered(table: Table) -> str | None:
    """The column that the database numbers by itself, or None."""
    keys = list(table.primary_key.columns)
    return keys[0].name if len(keys) == 1 and isinstance(keys[0].type, Integer) and keys[0].autoincrement else None


def _last_number(source: Connection, table: Table) -> int:
    """The highest number a table has given, of rows that aren't there any more too where the database remembers."""
    column = _numbered(table)
    if column is None:
        return 0
    highest = source.execute(select(func.max(table.c[column]))).scalar() or 0
    if source.dialect.name == "sqlite":
        given = source.execute(
            text("SELECT seq FROM sqlite_sequence WHERE name = :name"), {"name": table.name}).scalar() or 0
    else:
        sequence = source.execute(text("SELECT pg_get_serial_sequence(:name, :column)"),
                                  {"name": f'"{table.name}"', "column": column}).scalar()
        # None where it has given no number yet
        given = source.execute(text("SELECT pg_sequence_last_value(CAST(:name AS regclass))"),
                               {"name": sequence}).scalar() or 0
    return max(int(highest), int(given))


def _go_on_from(connection: Connection, table: Table, number: int) -> None:
    """Have a table give higher numbers than this one."""
    column = _numbered(table)
    if column is None or not number:
        return
    if connection.dialect.name == "sqlite":
        if table.dialect_options["sqlite"]["autoincrement"]:
            connection.execute(text("DELETE FROM sqlite_sequence WHERE name = :name"), {"name": table.name})
            connection.execute(text("INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :number)"),
                               {"name": table.name, "number": number})
    else:
        connection.execute(text("SELECT setval(pg_get_serial_sequence(:name, :column), :number)"),
                           {"name": f'"{table.name}"', "column": column, "number": number})

