"""Editions: one immutable, content-hashed state of a catalogue, in one file that opens in constant time.

The file is an SQLite database of parts, each read by its key: a job type is read without the rest.
It is written beside and renamed, so that readers see the old one or the new one, whole. Where it can't
be written the same database is used from memory.
"""

import contextlib
import hashlib
import os
import sqlite3
import time
from collections.abc import Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import msgspec

from kitbuilder.catalogue.folder import own_files
from kitbuilder.errors import BadData, WrongUse, offered
from kitbuilder.model.catalogue import Caution, Finding, Fit, Item, JobType, Requirement, Role, Supersession
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint, Table
from kitbuilder.vehicle.worlds import Space

if TYPE_CHECKING:
    from kitbuilder.catalogue.content import Content

FORMAT = 3
_KEPT_DAYS = 30
#: A file changed this shortly before it was hashed may have changed again within one tick of the clock.
_TICK_NS = 50_000_000

T = TypeVar("T")


class Heading(msgspec.Struct, frozen=True):
    """What an edition holds: the catalogue's name and currency, job types in order, and counts."""

    name: str
    currency: str
    jobs: tuple[tuple[str, str, str], ...]
    counts: dict[str, int]


class FactsPart(msgspec.Struct, frozen=True):
    """Everything about facts."""

    facts: tuple[Fact, ...]
    joints: tuple[Joint, ...]
    tables: tuple[Table, ...]


class JobPart(msgspec.Struct, frozen=True):
    """A job type and the fits of its own."""

    job: JobType
    fits: tuple[Fit, ...]


class RolePart(msgspec.Struct, frozen=True):
    """A role and the fits that belong to every job that lists it."""

    role: Role
    fits: tuple[Fit, ...]


class RequirementPart(msgspec.Struct, frozen=True):
    """A requirement, and for each quantity the items that satisfy it, in order."""

    requirement: Requirement
    acceptable: dict[str, tuple[str, ...]]


class Edition:
    """An open edition. `warning` says why it is only in memory, if it is; `path` is None then."""

    def __init__(self, name: str, connection: sqlite3.Connection, path: Path | None, warning: str = "") -> None:
        self.name, self.path, self.warning = name, path, warning
        self._connection = connection
        self._known: dict[str, object] = {}

    def _part(self, key: str, kind: type[T]) -> T | None:
        if key not in self._known:
            with self._whole():
                row = self._connection.execute("SELECT value FROM part WHERE key = ?", (key,)).fetchone()
                self._known[key] = None if row is None else msgspec.msgpack.decode(row[0], type=kind)
        return self._known[key]  # type: ignore[return-value]

    def _must(self, key: str, kind: type[T]) -> T:
        part = self._part(key, kind)
        if part is None:
            raise self._damaged(f"it has no part {key!r}")
        return part

    @contextlib.contextmanager
    def _whole(self) -> Iterator[None]:
        """A file that opened can still be spoilt further in; it is told as what it is."""
        try:
            yield
        except (sqlite3.Error, msgspec.MsgspecError) as error:
            raise self._damaged(str(error)) from None

    def _damaged(self, why: str) -> BadData:
        """The error for a spoilt file, which is deleted so that the catalogue is compiled again next time."""
        if self.path is not None:
            with contextlib.suppress(OSError):
                self.path.unlink()
        return BadData(f"The compiled catalogue {self.path or self.name} is damaged ({why}). "
                       "It is compiled again the next time: run this once more.")

    @cached_property
    def heading(self) -> Heading:
        """What the edition holds."""
        return self._must("heading", Heading)

    @cached_property
    def _facts(self) -> FactsPart:
        return self._must("facts", FactsPart)

    @property
    def facts(self) -> tuple[Fact, ...]:
        """The facts, in the order of facts.toml."""
        return self._facts.facts

    @property
    def tables(self) -> tuple[Table, ...]:
        """The combinations tables, by file name."""
        return self._facts.tables

    @cached_property
    def space(self) -> Space:
        """All worlds that the facts and tables allow."""
        return Space(self._facts.facts, self._facts.joints)

    @cached_property
    def findings(self) -> dict[str, Finding]:
        """All findings by name."""
        return self._must("findings", dict[str, Finding])

    @cached_property
    def supersessions(self) -> dict[str, Supersession]:
        """Which item takes the place of which, by the old one's number."""
        return self._must("supersessions", dict[str, Supersession])

    def job(self, name: str) -> JobPart:
        """A job type with its own fits; WrongUse with the nearest name if there is none."""
        part = self._part(f"job/{name}", JobPart)
        if part is None:
            known = [job for job, _, _ in self.heading.jobs]
            raise WrongUse(f"There is no job {name!r}. {offered(name, known)} `kitbuilder jobs` lists all.")
        return part

    def role(self, name: str) -> RolePart:
        """A role with the fits shared by all jobs that list it."""
        return self._must(f"role/{name}", RolePart)

    def requirement(self, name: str) -> RequirementPart:
        """A requirement with what satisfies it."""
        return self._must(f"requirement/{name}", RequirementPart)

    def item(self, number: str) -> Item:
        """An item by its number."""
        return self._must(f"item/{number}", Item)

    def known_item(self, number: str) -> Item | None:
        """An item by its number; None where the catalogue has no such item (any more)."""
        return self._part(f"item/{number}", Item)

    def known_role(self, name: str) -> RolePart | None:
        """A role with its shared fits; None where the catalogue has no such role (any more)."""
        return self._part(f"role/{name}", RolePart)

    def caution(self, name: str) -> Caution:
        """A caution by its name."""
        return self._must(f"caution/{name}", Caution)

    def _all(self, prefix: str, kind: type[T]) -> Iterator[T]:
        decode = msgspec.msgpack.Decoder(kind).decode
        with self._whole():
            rows = self._connection.execute(
                "SELECT value FROM part WHERE key >= ? AND key < ? ORDER BY key", (f"{prefix}/", f"{prefix}0"))
            for row in rows:
                yield decode(row[0])

    def items(self) -> Iterator[Item]:
        """All items, by number."""
        return self._all("item", Item)

    def roles(self) -> Iterator[RolePart]:
        """All roles with their shared fits, by name."""
        return self._all("role", RolePart)

    def requirements(self) -> Iterator[RequirementPart]:
        """All requirements, by name."""
        return self._all("requirement", RequirementPart)


def compile_content(content: "Content") -> bytes:
    """The bytes of the edition file of some content."""
    from kitbuilder.kinds import acceptable

    connection = sqlite3.connect(":memory:")
    connection.execute(f"PRAGMA user_version = {FORMAT}")
    connection.execute("CREATE TABLE part (key TEXT PRIMARY KEY, value BLOB NOT NULL) WITHOUT ROWID")
    own: dict[str, list[Fit]] = {name: [] for name in content.jobs}
    shared: dict[str, list[Fit]] = {name: [] for name in content.roles}
    for job_name, fit in content.fits:
        (own[job_name] if job_name else shared[fit.role]).append(fit)
    heading = Heading(
        content.name, content.currency, tuple((job.name, job.title, job.goal) for job in content.jobs.values()),
        {"facts": len(content.facts), "job types": len(content.jobs), "roles": len(content.roles),
         "items": len(content.items), "fits": len(content.fits)},
    )
    encode = msgspec.msgpack.Encoder().encode
    insert = "INSERT INTO part VALUES (?, ?)"
    connection.execute(insert, ("heading", encode(heading)))
    connection.execute(insert, ("facts", encode(FactsPart(content.facts, content.joints, content.tables))))
    connection.execute(insert, ("findings", encode(content.findings)))
    connection.execute(insert, ("supersessions", encode(content.supersessions)))
    connection.executemany(insert, (
        (f"job/{job.name}", encode(JobPart(job, tuple(own[job.name])))) for job in content.jobs.values()))
    connection.executemany(insert, (
        (f"role/{role.name}", encode(RolePart(role, tuple(shared[role.name])))) for role in content.roles.values()))
    of_kind: dict[str, list[Item]] = {}
    for item in content.items.values():
        of_kind.setdefault(item.kind, []).append(item)
    connection.executemany(insert, (
        (f"requirement/{one.name}", encode(RequirementPart(one, acceptable(one, of_kind.get(one.kind, ())))))
        for one in content.requirements.values()))
    connection.executemany(insert, ((f"item/{item.number}", encode(item)) for item in content.items.values()))
    connection.executemany(insert, ((f"caution/{one.name}", encode(one)) for one in content.cautions.values()))
    connection.commit()
    data = connection.serialize()
    connection.close()
    return data


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
    return _in_memory(edition_name(files), _compile(folder, files), "")


def _compile(folder: Path, files: Mapping[str, bytes]) -> bytes:
    from kitbuilder.catalogue.content import read_content

    return compile_content(read_content(str(folder), files))


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
    path = cache / "editions" / f"{name}.edition"
    try:
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    except sqlite3.Error:
        return None
    with contextlib.suppress(sqlite3.Error, OSError):
        version, pages, size = (
            connection.execute(f"PRAGMA {what}").fetchone()[0] for what in ("user_version", "page_count", "page_size")
        )
        if version == FORMAT and pages * size == path.stat().st_size:
            return Edition(name, connection, path)
    connection.close()
    return None


def _write(name: str, data: bytes, cache: Path) -> Edition:
    path = cache / "editions" / f"{name}.edition"
    try:
        _replace(path, data)
    except OSError as error:
        return _in_memory(name, data, _not_kept(cache, error))
    for folder in ("editions", "folders"):
        _forget_old(cache / folder)
    return _open(name, cache) or _in_memory(name, data, _not_kept(cache, OSError(0, "it can't be read back")))


def _in_memory(name: str, data: bytes, warning: str) -> Edition:
    connection = sqlite3.connect(":memory:")
    connection.deserialize(data)
    return Edition(name, connection, None, warning)


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
