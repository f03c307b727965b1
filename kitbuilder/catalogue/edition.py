"""Editions: one immutable, content-hashed state of a catalogue, in one file that opens in constant time.

The file is an SQLite database of parts, each read by its key: a job type is read without the rest.
"""

import contextlib
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import msgspec

from kitbuilder.catalogue.parts import FORMAT, FactsPart, HeadingPart, JobPart, RequirementPart, RolePart
from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.errors import BadData, WrongUse, offered
from kitbuilder.model.catalogue import (
    Caution,
    Exchange,
    Finding,
    Hazard,
    Item,
    Replacement,
    Selling,
    Supersession,
    Waste,
)
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Table
from kitbuilder.vehicle.worlds import Space

if TYPE_CHECKING:
    from kitbuilder.vehicle.plates import PlatePattern
    from kitbuilder.vehicle.vin import VinPattern

T = TypeVar("T")


class Heading:
    """What an edition holds: the catalogue's name and currency, counts, and the job types in order (name, title, goal),
    which are read only when asked for."""

    def __init__(self, part: HeadingPart, jobs: Callable[[], tuple[tuple[str, str, str], ...]]) -> None:
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
            self._must("heading", HeadingPart), lambda: self._must("jobs", tuple[tuple[str, str, str], ...]))

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
    def supersessions(self) -> Supersessions:
        """Which item takes the place of which, by the old one's number, in the order of the file: all at once, as
        chains go through them; and which do so together."""
        rows = sorted(self._all("supersession", Supersession), key=lambda one: one.row)
        return Supersessions(
            ((one.old, one) for one in rows), self._part("replacements", tuple[Replacement, ...]) or ())

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
    opened = open_path(path.stem, path)
    if opened is None:
        raise BadData(
            f"{path} is no compiled catalogue that this kitbuilder reads. Name the catalogue's folder instead.")
    return opened


def open_again(handle: tuple[str, Path | bytes]) -> Edition:
    """An edition by its handle, with a connection of its own. Raises BadData if its file is gone."""
    name, source = handle
    if isinstance(source, bytes):
        return in_memory(name, source, "")
    opened = open_path(name, source)
    if opened is None:
        raise BadData(f"The compiled catalogue {source} is gone. Run this once more: it is compiled again.")
    return opened


def open_path(name: str, path: Path) -> Edition | None:
    """The edition in a file if it is whole and of this format, else None."""
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


def in_memory(name: str, data: bytes, warning: str) -> Edition:
    """An edition from the bytes of its file; `warning` says why it isn't one."""
    connection = sqlite3.connect(":memory:")
    connection.deserialize(data)
    return Edition(name, connection, None, warning)
