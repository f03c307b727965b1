"""One at a time: a lock that the system lets go when the process that holds it ends, however it ends."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kitbuilder.errors import StoreRefuses


@contextmanager
def only_one(lock: Path, what: str) -> Iterator[None]:
    """Hold a lock while the block runs. Raises StoreRefuses, with the other's process, if another holds it.

    `what` begins the sentence that says so, as "Another daemon serves this workshop".
    """
    lock.parent.mkdir(parents=True, exist_ok=True)
    with open(lock, "a+", encoding="utf-8") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            file.seek(0)
            raise StoreRefuses(f"{what} already (process {file.read().strip() or 'unknown'}).") from None
        file.truncate(0)
        file.write(str(os.getpid()))
        file.flush()
        yield
