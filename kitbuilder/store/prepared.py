"""Statements that are compiled once and run on the driver's own cursor, inside a session's transaction or without one.

What is done often enough for its cost to show goes this way: the SQL is the same on every database, and what a
statement costs is what the database takes for it.
"""

from collections.abc import Callable, Sequence
from operator import itemgetter
from typing import Any, NamedTuple

from sqlalchemy import Insert, Select
from sqlalchemy.engine import Dialect
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.dml import ReturningInsert, ReturningUpdate, Update
from sqlmodel import Session

Statement = Insert | ReturningInsert[Any] | Update | ReturningUpdate[Any] | Select[Any]


class Hand(NamedTuple):
    """A driver's cursor in an open transaction, and the dialect that its SQL is in."""

    cursor: Any
    dialect: Dialect


def hand_of(session: Session) -> Hand:
    """The cursor of a session's transaction; what the session has still to write is written first."""
    session.flush()
    connection = session.connection()
    return Hand(connection.connection.cursor(), connection.dialect)


class _Compiled(NamedTuple):
    sql: str
    in_order: Callable[[dict[str, Any]], Sequence[Any]] | None  # None: the driver takes parameters by name
    fixed: dict[str, Any]
    to_driver: list[tuple[str, Callable[[Any], Any]]]
    from_driver: list[tuple[int, Callable[[Any], Any]]]
    returns: bool


class Prepared:
    """A statement whose parameters are told by name when it runs."""

    def __init__(self, statement: Statement, *columns: str) -> None:
        """`columns`: of an insert, those that it fills."""
        self._statement, self._columns = statement, list(columns)
        self._compiled: dict[str, _Compiled] = {}

    def run(self, hand: Hand, **values: Any) -> list[tuple[Any, ...]]:
        """Run it: the rows that come back, none where it returns none."""
        compiled = self._compiled.get(hand.dialect.name) or self._compile(hand.dialect)
        for name, convert in compiled.to_driver:
            values[name] = convert(values[name])
        if compiled.fixed:
            values.update(compiled.fixed)
        cursor = hand.cursor
        cursor.execute(compiled.sql, values if compiled.in_order is None else compiled.in_order(values))
        if not compiled.returns:
            return []
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        for index, convert in compiled.from_driver:
            rows = [(*row[:index], convert(row[index]), *row[index + 1:]) for row in rows]
        return rows

    def _compile(self, dialect: Dialect) -> _Compiled:
        statement: Any = self._statement
        if isinstance(statement, Insert) and not statement._returning:
            statement = statement.inline()  # the number of a row that nobody asks for isn't sent
        compiled = statement.compile(dialect=dialect, column_keys=self._columns or None)
        assert isinstance(compiled, SQLCompiler)
        returned = statement.selected_columns if isinstance(statement, Select) else statement._returning
        to_driver = {}
        fixed = {name: bind.value for bind, name in compiled.bind_names.items() if not bind.required}
        for bind, name in compiled.bind_names.items():
            convert = bind.type.dialect_impl(dialect).bind_processor(dialect)
            if convert is not None and name in fixed:
                fixed[name] = convert(fixed[name])
            elif convert is not None:
                to_driver[name] = convert
        found = _Compiled(
            str(compiled), _in_order(compiled.positiontup or ()) if compiled.positional else None, fixed,
            list(to_driver.items()),
            [(index, convert) for index, column in enumerate(returned)
             if (convert := column.type.dialect_impl(dialect).result_processor(dialect, None)) is not None],
            bool(returned))
        self._compiled[dialect.name] = found
        return found


def _in_order(names: Sequence[str]) -> Callable[[dict[str, Any]], Sequence[Any]]:
    """Values by name as a row, as the driver takes them."""
    if len(names) > 1:
        return itemgetter(*names)
    return lambda values: [values[name] for name in names]
