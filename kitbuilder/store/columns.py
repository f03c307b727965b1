"""Column types and names that all tables share."""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Column, DateTime, ForeignKey, Integer, MetaData
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel

#: Every constraint has a name, so that a migration can speak of it on any database.
NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


def name_constraints(metadata: MetaData) -> None:
    """Give a schema the naming convention; it must be done before the first table is declared."""
    metadata.naming_convention = NAMES


class Moment(TypeDecorator[datetime]):
    """A moment: UTC in the database, with its zone in Python. A time without a zone is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """To UTC; SQLite keeps no zone, so it is left out there."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"{value.isoformat()} has no zone")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """With its zone, UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def one_of(column: str, words: tuple[str, ...]) -> str:
    """A condition that a column holds one of some words."""
    return f"{column} IN ({', '.join(repr(word) for word in words)})"


def not_empty(*columns: str) -> CheckConstraint:
    """A constraint that these texts aren't empty."""
    return CheckConstraint(" AND ".join(f"{column} <> ''" for column in columns), name="told")


def whole(*columns: str) -> CheckConstraint:
    """A constraint that these are whole numbers; SQLite would keep a text or a fraction."""
    return CheckConstraint(" AND ".join(f"{column} = CAST({column} AS BIGINT)" for column in columns), name="whole")


def big(name: str) -> Column[int]:
    """A column of a whole number that may be large: milli-units, minor units."""
    return Column(name, BigInteger, nullable=False)


def key_part(name: str, primary_key: bool = False) -> Column[int]:
    """A number that is one of several columns that name a row elsewhere."""
    return Column(name, Integer, nullable=False, primary_key=primary_key, autoincrement=False)


def link(name: str, target: str, nullable: bool = False, primary_key: bool = False,
         index: bool = False) -> Column[int]:
    """A column that names a row of another table."""
    return Column(name, Integer, ForeignKey(target), nullable=nullable, primary_key=primary_key, autoincrement=False,
                  index=index or None)


# before the first table is declared, which needs a module of this room that imports this one
name_constraints(SQLModel.metadata)
