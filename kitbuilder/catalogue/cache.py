"""The cache of editions: a catalogue folder is compiled once, and its edition found again while no file changes.

An edition is written beside and renamed, so that readers see the old one or the new one, whole. Where it can't be
written the same database is used from memory.
"""

import contextlib
import hashlib
import os
import time
from collections.abc import Mapping
from pathlib import Path

import msgspec

from kitbuilder.catalogue.edition import Edition, in_memory, open_path
from kitbuilder.catalogue.folder import own_files
from kitbuilder.catalogue.parts import FORMAT
from kitbuilder.errors import BadData

_KEPT_DAYS = 30
#: A file changed this shortly before it was hashed may have changed again within one tick of the clock.
_TICK_NS = 50_000_000


def edition_name(files: Mapping[str, bytes]) -> str:
    """The SHA-256 of the format and of the files' sorted paths and bytes, each with its length before it."""
    digest = hashlib.sha256(f"kitbuilder edition {FORMAT}\n".encode())
    for path in sorted(files):
        for part in (path.encode("utf-8", "surrogateescape"), files[path]):
            digest.update(len(part).to_bytes(8, "big"))
            digest.update(part)
    return digest.hexdigest()


class _Mark(msgspec.Struct, frozen=True):
    """What a folder's files looked like when they were last hashed, and the edition that they make."""

    format: int
    edition: str
    hashed_ns: int
    files: tuple[tuple[str, int, int, int, int], ...]


def open_edition(folder: Path, cache: Path) -> Edition:
    """The edition of a catalogue folder, compiled first where no fresh one lies in the cache folder.

    Raises BadData if there is no such folder or a file can't be read, LoadError with every fault of its files.
    """
    looks = _looks(folder)
    mark_path = cache / "folders" / (hashlib.sha256(os.fsencode(folder.resolve())).hexdigest()[:32] + ".json")
    mark = _read_mark(mark_path)
    newest = max((look[3] for look in looks), default=0)
    if mark is not None and mark.files == looks and mark.hashed_ns - newest > _TICK_NS:
        opened = _open(mark.edition, cache)
        if opened is not None:
            return opened
    hashed_ns = time.time_ns()
    files = _read_all(folder, looks)
    name = edition_name(files)
    opened = _open(name, cache)
    if opened is None:
        opened = _write(name, _compile(folder, files), cache)
    if opened.path is not None:
        try:
            _replace(mark_path, msgspec.json.encode(_Mark(FORMAT, name, hashed_ns, looks)))
        except OSError as error:
            opened.warning = (
                f"What the catalogue's files look like could not be noted in {cache} ({error.strerror}); "
                "they are read anew each time.")
    return opened


def read_edition(folder: Path) -> Edition:
    """The edition of a folder, built in memory; no cache is read or written."""
    files = _read_all(folder, _looks(folder))
    return in_memory(edition_name(files), _compile(folder, files), "")


def _compile(folder: Path, files: Mapping[str, bytes]) -> bytes:
    import gc

    from kitbuilder.catalogue.compiled import compile_content
    from kitbuilder.catalogue.content import read_content

    # nothing that is read refers to itself: looking for circles in millions of values would be a fifth of the work
    watched = gc.isenabled()
    gc.disable()
    try:
        return compile_content(read_content(str(folder), files))
    finally:
        if watched:
            gc.enable()


def _looks(folder: Path) -> tuple[tuple[str, int, int, int, int], ...]:
    """Path, size, time of modification and of change (ns) and inode of each of the folder's own files."""
    found = []
    for path in own_files(folder):
        try:
            stat = os.stat(folder / path)
        except OSError as error:
            raise BadData(f"{folder / path} can't be read: {error.strerror}.") from None
        found.append((path, stat.st_size, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_ino))
    return tuple(found)


def _read_all(folder: Path, looks: tuple[tuple[str, int, int, int, int], ...]) -> dict[str, bytes]:
    files = {}
    for path, *_ in looks:
        try:
            files[path] = (folder / path).read_bytes()
        except OSError as error:
            raise BadData(f"{folder / path} can't be read: {error.strerror}.") from None
    return files


def _read_mark(path: Path) -> _Mark | None:
    try:
        mark = msgspec.json.decode(path.read_bytes(), type=_Mark)
    except (OSError, msgspec.MsgspecError):
        return None
    return mark if mark.format == FORMAT else None


def _open(name: str, cache: Path) -> Edition | None:
    """The edition of that name if the cache holds it whole, else None."""
    return open_path(name, cache / "editions" / f"{name}.edition")


def _write(name: str, data: bytes, cache: Path) -> Edition:
    path = cache / "editions" / f"{name}.edition"
    try:
        _replace(path, data)
    except OSError as error:
        return in_memory(name, data, _not_kept(cache, error))
    for folder in ("editions", "folders"):
        _forget_old(cache / folder)
    return _open(name, cache) or in_memory(name, data, _not_kept(cache, OSError(0, "it can't be read back")))


def _not_kept(cache: Path, error: OSError) -> str:
    return f"The compiled catalogue could not be kept in {cache} ({error.strerror}); it was built in memory."


def _replace(path: Path, data: bytes) -> None:
    """Write a file beside its place and rename it there, so that it is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}.{time.monotonic_ns()}")
    try:
        with open(beside, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise


def _forget_old(folder: Path) -> None:
    """Delete what was not written for a month, also what a kill left beside it; it is made again when wanted."""
    oldest = time.time() - _KEPT_DAYS * 86400
    with contextlib.suppress(OSError):
        for entry in os.scandir(folder):
            with contextlib.suppress(OSError):
                if entry.stat().st_mtime < oldest:
                    os.unlink(entry.path)
