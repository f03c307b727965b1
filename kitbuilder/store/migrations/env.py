"""Runs migrations on the connection that kitbuilder.store.database hands over."""

from typing import Any, Literal

from alembic import context
from sqlmodel.sql.sqltypes import AutoString

from kitbuilder.store import tables
from kitbuilder.store.columns import Moment


def rendered(kind: str, value: Any, _: Any) -> str | Literal[False]:
    """Write column types so that a migration needs nothing but sqlalchemy and Moment."""
    if kind == "type" and isinstance(value, AutoString):
        return "sa.String()"
    if kind == "type" and isinstance(value, Moment):
        return "Moment()"
    return False


context.configure(
    connection=context.config.attributes["connection"], target_metadata=tables.SQLModel.metadata, render_as_batch=True,
    compare_type=True, render_item=rendered)
context.run_migrations()
