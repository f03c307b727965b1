"""An edition from its bytes."""

import sqlite3

from kitbuilder.catalogue.edition import Edition


def in_memory(data: bytes) -> Edition:
    connection = sqlite3.connect(":memory:")
    connection.deserialize(data)
    return Edition("test", connection, None)
