"""Reads a price file's rows: again only if it has changed, and never a half of it."""

import hashlib
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

from kitbuilder import BadData, SheetRow

#: A file that was written so many seconds ago, or less, may still be being written.
YOUNG_S = 5.0
#: So long it is watched for whether it is.
WATCH_S = 0.3


class Seen(msgspec.Struct, frozen=True):
    """A file as it was read: what told whether it has changed (size, time, inode, and of the mapping), and its rows
    as line and cells."""

    sign: str
    size: int
    rows: list[tuple[int, dict[str, str]]]


class Rows(msgspec.Struct, frozen=True):
    """The rows of a file; `kept` says why they are those of before ("": they are those of now)."""

    rows: list[SheetRow]
    kept: str = ""


def read_watched(path: Path, parse: Callable[[bytes], list[SheetRow]], also: bytes, folder: Path | None) -> Rows:
    """The rows that `parse` finds in a file. While size, time and inode are those of the last time, the file isn't
    read at all; one that is being written, or can't be read as it is now, has the rows of before.

    `also` is what else the rows depend on; `folder` is where they are kept (None: nowhere). Raises BadData.
    """
    memory = folder / f"{hashlib.sha256(str(path.absolute()).encode()).hexdigest()[:16]}.rows" if folder else None
    before = _remembered(memory)
    at_first = _stat(path)
    if before is not None and before.sign == _sign(at_first, also):
        return Rows([SheetRow(line, cells) for line, cells in before.rows])
    data = _read(path)
    writing = _sign(_stat(path), also) != _sign(at_first, also)
    # only what has something to fall back on is worth waiting for
    if before is not None and not writing and _doubtful(data, at_first, before):
        time.sleep(WATCH_S)
        writing = _sign(_stat(path), also) != _sign(at_first, also)
    if writing and before is not None:
        return _as_before(before, f"{path.name} is being written")
    try:
        rows = parse(data)
    except BadData as error:
        if before is None:
            raise
        return _as_before(before, f"as it is now it can't be read ({' '.join(str(error).split()).rstrip('.')})")
    # one that changed while it was read is read anew next time
    if not writing:
        _remember(memory, Seen(_sign(at_first, also), len(data), [(row.line, row.cells) for row in rows]))
    return Rows(rows)


def _doubtful(data: bytes, stat: os.stat_result, before: Seen) -> bool:
    """Whether a file looks as if it weren't whole: just written, and shorter than before or without an end of line."""
    young = abs(time.time() - stat.st_mtime) < YOUNG_S
    return young and (len(data) < before.size or not data.endswith(b"\n"))


def _as_before(before: Seen, why: str) -> Rows:
    return Rows([SheetRow(line, cells) for line, cells in before.rows], why)


def _stat(path: Path) -> os.stat_result:
    try:
        return path.stat()
    except OSError as error:
        raise BadData(f"{path.name} can't be read: {error.strerror}.") from None


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadData(f"{path.name} can't be read: {error.strerror}.") from None


def _sign(stat: os.stat_result, also: bytes) -> str:
    return f"{stat.st_size} {stat.st_mtime_ns} {stat.st_ino} {hashlib.sha256(also).hexdigest()}"


def _remembered(memory: Path | None) -> Seen | None:
    try:
        return msgspec.msgpack.decode(memory.read_bytes(), type=Seen) if memory else None
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return None


def _remember(memory: Path | None, seen: Seen) -> None:
    if memory is None:
        return
    try:
        memory.parent.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=memory.parent, prefix=".new-")
        with os.fdopen(handle, "wb") as new:
            new.write(msgspec.msgpack.encode(seen))
        os.replace(beside, memory)
    except OSError:
        pass  # what can't be kept is read again
