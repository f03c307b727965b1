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
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import msgspec

from kitbuilder.catalogue.folder import own_files
from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.errors import BadData, WrongUse, offered
from kitbuilder.model.catalogue import (
    Caution,
    Exchange,
    Finding,
    Fit,
    Hazard,
    Item,
    JobType,
    Requirement,
    Role,
    Selling,
    Supersession,
    Waste,
)
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint, Table
from kitbuilder.vehicle.worlds import Space

if TYPE_CHECKING:
    from kitbuilder.catalogue.content import Content
    from kitbuilder.vehicle.plates import PlatePattern
    from kitbuilder.vehicle.vin import VinPattern

FORMAT = 3
_KEPT_DAYS = 30
#: A file changed this shortly before it was hashed may have changed again within one tick of the clock.
_TICK_NS = 50_000_000

T = TypeVar("T")


class _Heading(msgspec.Struct, frozen=True):
    """The catalogue's name and currency, and how much it holds."""

    name: str
    currency: str
    counts: dict[str, int]


class Heading:
    """What an edition holds: the catalogue's name and currency, counts, and the job types in order (name, title, goal),
    which are read only when asked for."""

    def __init__(self, part: _Heading, jobs: Callable[[], tuple[tuple[str, str, str], ...]]) -> None:
        self.name, self.currency, self.counts = part.name, part.currency, part.counts
        self._jobs = jobs

    @cached_property
    def jobs(self) -> tuple[tuple[str, str, str], ...]:
        """Name, title and goal of each job type."""
        return self._jobs()


class ByName(Mapping[str, T]):
    """Parts of an edition by name, each read when it is asked for."""

    def __init__(self, edition: "Edition", prefix: str, kind: type[T]) -> None:
        self._edition, self._prefix, self._kind = edition, prefix, kind

    def __getitem__(self, name: str) -> T:
        part = self._edition.part(f"{self._prefix}/{name}", self._kind)
        if part is None:
            raise KeyError(name)
        return part

    def __iter__(self) -> Iterator[str]:
        return self._edition.names(self._prefix)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def __bool__(self) -> bool:
        return next(iter(self), None) is not None


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

    def forget(self) -> None:
        """Let go of the parts read so far, so that going through all of them doesn't keep them all."""
        self._known.clear()

    @property
    def handle(self) -> tuple[str, Path | bytes]:
        """What another process opens the same edition by (see `open_again`)."""
        return self.name, self.path if self.path is not None else self._connection.serialize()

    def close(self) -> None:
        """Let go of the file. The edition can't be read after this."""
        self._connection.close()

    @cached_property
    def heading(self) -> Heading:
        """What the edition holds."""
        return Heading(
            self._must("heading", _Heading), lambda: self._must("jobs", tuple[tuple[str, str, str], ...]))

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
    def findings(self) -> Mapping[str, Finding]:
        """The findings by name."""
        return ByName(self, "finding", Finding)

    @cached_property
    def supersessions(self) -> Mapping[str, Supersession]:
        """Which item takes the place of which, by the old one's number, in the order of the file: all at once, as chains
        go through them."""
        rows = sorted(self._all("supersession", Supersession), key=lambda one: one.row)
        return Supersessions((one.old, one) for one in rows)

    @cached_property
    def more(self) -> frozenset[str]:
        """What the catalogue tells and many don't: "exchange", "hazards", "selling", "waste", "ports", "cure"."""
        return self._must("more", frozenset[str])

    @cached_property
    def codes(self) -> dict[str, str]:
        """What the codes of waste, the pictograms and the hazard statements that the catalogue names say."""
        return self._must("codes", dict[str, str])

    def exchange(self, number: str) -> Exchange | None:
        """What is asked against an item's old unit; None where it is no exchange unit."""
        return self._part(f"exchange/{number}", Exchange) if "exchange" in self.more else None

    def hazard(self, number: str) -> Hazard | None:
        """What an item's safety data sheet says; None where none is named."""
        return self._part(f"hazard/{number}", Hazard) if "hazards" in self.more else None

    def selling(self, number: str) -> Selling | None:
        """What a customer is charged for an item; None where no price is told."""
        return self._part(f"selling/{number}", Selling) if "selling" in self.more else None

    def wastes_of_job(self, name: str) -> tuple[Waste, ...]:
        """What comes off with a job or with its roles, in the order of the file."""
        return self._part(f"waste-of-job/{name}", tuple[Waste, ...]) or () if "waste" in self.more else ()

    def wastes_of_role(self, name: str) -> tuple[Waste, ...]:
        """What comes off with a role's lines in every job that lists it, in the order of the file."""
        return self._part(f"waste-of-role/{name}", tuple[Waste, ...]) or () if "waste" in self.more else ()

    @cached_property
    def vins(self) -> "tuple[VinPattern, ...]":
        """What VINs tell, in the order of vin.csv."""
        from kitbuilder.vehicle.vin import VinPattern

        return self._part("vins", tuple[VinPattern, ...]) or ()

    @cached_property
    def plates(self) -> "tuple[PlatePattern, ...]":
        """What type plates of components tell, in the order of plates.csv."""
        from kitbuilder.vehicle.plates import PlatePattern

        return self._part("plates", tuple[PlatePattern, ...]) or ()

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

    def part(self, key: str, kind: type[T]) -> T | None:
        """A part by its key; None where there is none."""
        return self._part(key, kind)

    def names(self, prefix: str) -> Iterator[str]:
        """The names of the parts under a prefix that stand in a list, in the order of their file."""
        return iter(self._must(f"names/{prefix}", tuple[str, ...]))

    def _all(self, prefix: str, kind: type[T]) -> Iterator[T]:
        decode = msgspec.msgpack.Decoder(kind).decode
        with self._whole():
            rows = self._connection.execute(
                "SELECT value FROM part WHERE key >= ? AND key < ? ORDER BY key", (f"{prefix}/", f"{prefix}0"))
            for row in rows:
                yield decode(row[0])

    def raw(self) -> Iterator[tuple[str, bytes]]:
        """All parts as they are kept, by key: what is the same in two editions need not be read."""
        with self._whole():
            yield from self._connection.execute("SELECT key, value FROM part ORDER BY key")

    def items(self) -> Iterator[Item]:
        """All items, by number."""
        return self._all("item", Item)

    def jobs(self) -> Iterator[JobPart]:
        """All job types with their own fits, by name; one at a time, none is kept."""
        return self._all("job", JobPart)

    def roles(self) -> Iterator[RolePart]:
        """All roles with their shared fits, by name."""
        return self._all("role", RolePart)

    def requirements(self) -> Iterator[RequirementPart]:
        """All requirements, by name."""
        return self._all("requirement", RequirementPart)

    def exchanges(self) -> Iterator[Exchange]:
        """All exchange units, by number."""
        return self._all("exchange", Exchange)

    def hazards(self) -> Iterator[Hazard]:
        """All that is told of hazards, by number."""
        return self._all("hazard", Hazard)

    def sold(self) -> Iterator[Selling]:
        """All selling prices, by number."""
        return self._all("selling", Selling)


def open_file(path: Path) -> Edition:
    """The edition in a file that was compiled before. Raises BadData if it is none, or of another kitbuilder."""
    opened = _open_path(path.stem, path)
    if opened is None:
        raise BadData(
            f"{path} is no compiled catalogue that this kitbuilder reads. Name the catalogue's folder instead.")
    return opened


def open_again(handle: tuple[str, Path | bytes]) -> Edition:
    """An edition by its handle, with a connection of its own. Raises BadData if its file is gone."""
    name, source = handle
    if isinstance(source, bytes):
        return _in_memory(name, source, "")
    opened = _open_path(name, source)
    if opened is None:
        raise BadData(f"The compiled catalogue {source} is gone. Run this once more: it is compiled again.")
    return opened


def compile_content(content: "Content") -> bytes:
    """The bytes of the edition file of some content."""
    from kitbuilder.kinds import acceptable

    connection = sqlite3.connect(":memory:")
    connection.execute(f"PRAGMA user_version = {FORMAT}")
    connection.execute("CREATE TABLE part (key TEXT PRIMARY KEY, value BLOB NOT NULL) WITHOUT ROWID")
    own, shared = content.fits.by_place()
    jobs = tuple((job.name, job.title, job.goal) for job in content.jobs.values())
    heading = _Heading(
        content.name, content.currency,
        {"facts": len(content.facts), "job types": len(content.jobs), "roles": len(content.roles),
         "items": len(content.items), "fits": len(content.fits)},
    )
    further = {"exchange": content.exchanges, "hazards": content.hazards, "selling": content.selling,
               "waste": content.wastes, "ports": any(one.ports for one in content.items.values()),
               "cure": any("cure" in one.properties for one in content.items.values())}
    wastes: dict[str, list[Waste]] = {}
    for waste in content.wastes:
        key = f"waste-of-job/{waste.job}" if waste.job else f"waste-of-role/{waste.role}"
        wastes.setdefault(key, []).append(waste)
    encode = msgspec.msgpack.Encoder().encode
    insert = "INSERT INTO part VALUES (?, ?)"
    connection.execute(insert, ("heading", encode(heading)))
    connection.execute(insert, ("jobs", encode(jobs)))
    connection.execute(insert, ("facts", encode(FactsPart(content.facts, content.joints, content.tables))))
    connection.execute(insert, ("names/finding", encode(list(content.findings))))
    connection.execute(insert, ("names/supersession", encode(list(content.supersessions))))
    connection.executemany(insert, ((f"finding/{one.name}", encode(one)) for one in content.findings.values()))
    connection.executemany(insert, (
        (f"supersession/{old}", encode(one)) for old, one in content.supersessions.items()))
    # the fits are encoded already
    connection.executemany(insert, (
        (f"job/{job.name}", encode({"job": job, "fits": own.pop(job.name, [])})) for job in content.jobs.values()))
    connection.executemany(insert, (
        (f"role/{role.name}", encode({"role": role, "fits": shared.get(role.name, [])}))
        for role in content.roles.values()))
    of_kind: dict[str, list[Item]] = {}
    for item in content.items.values():
        of_kind.setdefault(item.kind, []).append(item)
    connection.executemany(insert, (
        (f"requirement/{one.name}", encode(RequirementPart(one, acceptable(one, of_kind.get(one.kind, ())))))
        for one in content.requirements.values()))
    connection.executemany(insert, ((f"item/{item.number}", encode(item)) for item in content.items.values()))
    connection.executemany(insert, ((f"caution/{one.name}", encode(one)) for one in content.cautions.values()))
    connection.execute(insert, ("more", encode([name for name, held in further.items() if held])))
    connection.executemany(insert, ((f"exchange/{one.item}", encode(one)) for one in content.exchanges.values()))
    connection.executemany(insert, ((f"hazard/{one.item}", encode(one)) for one in content.hazards.values()))
    connection.executemany(insert, ((f"selling/{one.item}", encode(one)) for one in content.selling.values()))
    connection.executemany(insert, ((key, encode(rows)) for key, rows in wastes.items()))
    if content.hazards or content.wastes:
        connection.execute(insert, ("codes", encode(_words_of_codes(content))))
    if content.vins:
        connection.execute(insert, ("vins", encode(content.vins)))
    if content.plates:
        connection.execute(insert, ("plates", encode(content.plates)))
    connection.commit()
    data = connection.serialize()
    connection.close()
    return data


def _words_of_codes(content: "Content") -> dict[str, str]:
    """Kept with the edition, so that a kit needn't load all that is known of codes."""
    from kitbuilder.kinds.hazards import PICTOGRAMS, statement_text
    from kitbuilder.kinds.waste import title

    hazards = content.hazards.values()
    return {
        **{waste.code: title(waste.code) for waste in content.wastes},
        **{code: PICTOGRAMS[code] for one in hazards for code in one.pictograms},
        **{code: statement_text(code) for one in hazards for code in one.statements}}


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
    import gc

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
    return _open_path(name, cache / "editions" / f"{name}.edition")


def _open_path(name: str, path: Path) -> Edition | None:
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
