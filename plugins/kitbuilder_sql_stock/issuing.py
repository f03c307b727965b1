"""Issues in the database what was taken from its stock: the settings' statements in one transaction, once for a key.

A count says how often something is issued under a key. It is asked before and after: before, so that what came
through already isn't issued again; after, because another transaction with the same key may have waited for its commit
when it was asked before.
"""

import time
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

import sqlalchemy
from sqlalchemy.exc import SQLAlchemyError

from kitbuilder import IssueRequest, NotSent, SourceFailed
from kitbuilder_sql_stock.asking import engine_for

#: What stands for what in the statements.
NAMES = ("key", "item", "quantity", "unit", "lot", "reference", "who", "at")


def issue(url: str, folder: Path, statements: Sequence[str], count: str, request: IssueRequest, until: float) -> None:
    """Issue it, if it isn't under its key. Raises NotSent, saying what to mend, where nothing was done for certain,
    SourceFailed where the connection broke at the commit; `until` is on the monotonic clock."""
    try:
        engine = engine_for(url, folder, until, writes=True)
    except SourceFailed as failed:
        raise NotSent(str(failed)) from failed
    committing = False
    try:
        with engine.connect() as connection:
            transaction = connection.begin()
            try:
                _prepare(connection, until)
                values = _values(request, engine.dialect.name)
                if _count(connection, count, values):
                    transaction.rollback()
                    return
                for statement in statements:
                    changed = _run(connection, statement, values).rowcount
                    if changed == 0:
                        raise NotSent(f"a statement of issue changed no row for {request.item}: is it in their stock?")
                done = _count(connection, count, values)
                if done != 1:
                    raise NotSent("issued counts nothing under :key after issue: does a statement of issue write it?"
                                  if not done else "another is just being issued under the same key")
                if time.monotonic() > until:
                    raise NotSent("the database was too slow: raise deadline_s")
            except BaseException:
                transaction.rollback()
                raise
            committing = True
            transaction.commit()
    except SQLAlchemyError as error:
        why = " ".join(str(getattr(error, "orig", None) or error).split())[:200]
        if committing:
            raise SourceFailed(f"the connection broke at the commit ({why}), so nobody knows whether it is issued"
                               ) from None
        raise NotSent(f"the database refuses ({why}): check url, issue and issued") from None
    finally:
        engine.dispose()


def _prepare(connection: sqlalchemy.Connection, until: float) -> None:
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    elif connection.dialect.name == "postgresql":
        left_ms = max(1, int((until - time.monotonic()) * 1000))
        connection.exec_driver_sql(f"SET LOCAL statement_timeout = {left_ms}")


def _values(request: IssueRequest, dialect: str) -> dict[str, Any]:
    quantity = Decimal(request.quantity) / 1000
    whole = request.quantity % 1000 == 0
    # SQLite has no decimals
    number = int(quantity) if whole else float(quantity) if dialect == "sqlite" else quantity
    return {"key": request.key, "item": request.item, "quantity": number, "unit": request.unit, "lot": request.lot,
            "reference": request.reference, "who": request.who, "at": request.taken_at.isoformat()}


def _run(connection: sqlalchemy.Connection, statement: str, values: dict[str, Any]) -> sqlalchemy.CursorResult[Any]:
    made = sqlalchemy.text(statement)
    return connection.execute(made, {name: values[name] for name in made.compile().params if name in values})


def _count(connection: sqlalchemy.Connection, count: str, values: dict[str, Any]) -> int:
    found = _run(connection, count, values).scalar()
    if isinstance(found, bool) or not isinstance(found, int | Decimal | float):
        raise NotSent(f"issued has to count what is issued under :key, as SELECT count(*) …; it says {found!r}")
    return int(found)
