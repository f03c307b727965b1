"""The store in a PostgreSQL database: how its connections are prepared, and how writers take turns.

Larger changes (a run's step, a count) take the store's lock alone, holds take it together: they are decided by the
conditions of single statements, and where two meet one is done again. So every change has its place in one order, as
in a file.
"""

from typing import Any, Final

from sqlalchemy import Engine, event
from sqlalchemy.engine import make_url

#: The store's lock, a number as advisory locks have it; other programs in the same database hardly take this one.
LOCK: Final = 0x6B6974_73746F
ALONE: Final = f"SELECT pg_advisory_xact_lock({LOCK})"
TOGETHER: Final = f"SELECT pg_advisory_xact_lock_shared({LOCK})"


def connect_args(busy_s: float) -> dict[str, Any]:
    """What each connection is opened with: how long it waits for a lock, and times in UTC."""
    return {
        "options": f"-c lock_timeout={max(int(busy_s * 1000), 1)} -c timezone=UTC",
        "connect_timeout": max(int(busy_s), 2), "application_name": "kitbuilder"}


def prepare(engine: Engine) -> None:
    """Have each transaction that writes take the store's lock, and each that reads see one state of the store."""
    @event.listens_for(engine, "begin")
    def begun(connection: Any) -> None:
        if connection.get_execution_options().get("kitbuilder_writes", False):
            connection.exec_driver_sql(ALONE)
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")


def with_driver(address: str) -> str:
    """A database URL with the driver that is used where it names none."""
    url = make_url(address)
    if url.drivername in ("postgresql", "postgres"):
        url = url.set(drivername="postgresql+psycopg")
    return url.render_as_string(hide_password=False)
