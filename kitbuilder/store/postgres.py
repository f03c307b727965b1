"""The store in a PostgreSQL database: how its connections are prepared, and how writers take turns.

Larger changes (a run's step, a count) take the store's lock alone, holds take it together: they are decided by the
conditions of single statements, and where two meet one is done again. So every change has its place in one order, as
in a file.
"""

import time
from typing import Any, Final

from sqlalchemy import Engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, DisconnectionError

from kitbuilder.store.spare import FRESH_S

#: The store's lock, a number as advisory locks have it; other programs in the same database hardly take this one.
LOCK: Final = 0x6B6974_73746F
ALONE: Final = f"SELECT pg_advisory_xact_lock({LOCK})"
TOGETHER: Final = f"SELECT pg_advisory_xact_lock_shared({LOCK})"

#: Who keeps others waiting: sessions that have had locks for so many seconds, and wait for nobody themselves. Of those
#: of other users the server may not tell since when.
_HOLDERS: Final = text("""
    SELECT a.application_name, a.usename, a.pid, a.state,
           CAST(extract(epoch FROM clock_timestamp() - a.xact_start) AS integer)
    FROM pg_stat_activity a
    WHERE a.datname = current_database() AND a.pid <> pg_backend_pid()
      AND (a.xact_start IS NULL OR a.xact_start <= clock_timestamp() - make_interval(secs => :busy_s))
      AND EXISTS (SELECT 1 FROM pg_locks l WHERE l.pid = a.pid AND l.granted
                  AND (l.locktype IN ('advisory', 'transactionid') OR l.mode <> 'AccessShareLock')
                  AND l.locktype <> 'virtualxid')
      AND NOT EXISTS (SELECT 1 FROM pg_locks l WHERE l.pid = a.pid AND NOT l.granted)
    ORDER BY EXISTS (SELECT 1 FROM pg_locks l WHERE l.pid = a.pid AND l.granted AND l.locktype = 'advisory'
                     AND l.mode = 'ExclusiveLock' AND CAST(l.classid AS bigint) = :lock_high
                     AND CAST(l.objid AS bigint) = :lock_low) DESC, a.xact_start
    LIMIT 1""")


def connect_args(busy_s: float) -> dict[str, Any]:
    """What each connection is opened with: how long it waits for a lock, and times in UTC."""
    return {
        "options": f"-c lock_timeout={max(int(busy_s * 1000), 1)} -c timezone=UTC",
        "connect_timeout": max(int(busy_s), 2), "application_name": "kitbuilder"}


def prepare(engine: Engine) -> None:
    """Have each transaction that writes take the store's lock, and each that reads see one state of the store; and a
    connection that was idle looked at before it is used again, for the server may be another since."""
    @event.listens_for(engine, "checkin")
    def put_back(_: Any, record: Any) -> None:
        record.info["idle since"] = time.monotonic()

    @event.listens_for(engine, "checkout")
    def taken_out(connection: Any, record: Any, _: Any) -> None:
        idle_since = record.info.get("idle since")
        if idle_since is not None and time.monotonic() - idle_since > FRESH_S:
            try:
                engine.dialect.do_ping(connection)
            except engine.dialect.loaded_dbapi.Error as error:
                raise DisconnectionError from error  # the pool connects anew

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


def holder(engine: Engine, busy_s: float) -> str:
    """Who has held a lock here for so many seconds, in words; empty where the server doesn't tell."""
    try:
        with engine.connect() as connection:
            found = connection.execute(_HOLDERS, {
                "busy_s": busy_s, "lock_high": LOCK >> 32, "lock_low": LOCK & 0xFFFFFFFF}).first()
    except DBAPIError:
        return ""
    if found is None:
        return ""
    name, user, pid, state, seconds = found
    since = "" if seconds is None else f", whose transaction has been open for {seconds} s"
    idle = " and is idle" if since and str(state).startswith("idle") else ""
    return f"{name or 'a program that gives no name'}, user {user}, process {pid} on the server{since}{idle}"
