"""A connection that lies ready for the next short transaction: a pool's rites, some 10 µs, are spared."""

import time
from typing import Any, Final

from sqlalchemy import Engine
from sqlalchemy.pool import PoolProxiedConnection

#: Seconds for which a connection that did its work is taken to be there still; a server may be another since.
FRESH_S: Final = 1.0


class Spare:
    """One connection of an engine's pool, kept out of it while nobody else needs a second one."""

    def __init__(self, engine: Engine) -> None:
        self._engine, self._dialect = engine, engine.dialect
        self._ages = engine.dialect.name != "sqlite"
        # a list, since taking the last and adding one are each one step for threads
        self._ready: list[tuple[PoolProxiedConnection, float]] = []

    def take(self) -> PoolProxiedConnection:
        """A connection with no transaction open; whoever takes it keeps it here again, or gives it up."""
        try:
            connection, since = self._ready.pop()
        except IndexError:
            return self._engine.raw_connection()
        if self._ages and time.monotonic() - since > FRESH_S:
            driver: Any = connection.driver_connection
            try:
                self._dialect.do_ping(driver)
            except self._dialect.loaded_dbapi.Error as error:
                connection.invalidate(error)
                connection.close()
                return self._engine.raw_connection()
        return connection

    def keep(self, connection: PoolProxiedConnection) -> None:
        """Put one back whose transaction is committed."""
        if self._ready:
            connection.close()
        else:
            self._ready.append((connection, time.monotonic()))

    def give_up(self, connection: PoolProxiedConnection, error: BaseException) -> None:
        """Give one back to the pool, which rolls back what is open; one that is cut is thrown away."""
        if isinstance(error, self._dialect.loaded_dbapi.Error):
            driver: Any = connection.driver_connection
            if self._dialect.is_disconnect(error, driver, None):
                connection.invalidate(error)  # the pool would try to roll it back, and say that it can't
        connection.close()

    def close(self) -> None:
        """Give all back."""
        while self._ready:
            self._ready.pop()[0].close()
