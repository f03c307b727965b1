"""A small catalogue as plain values: what tests draw, write to a folder, and judge by brute force."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

NOTHING = "nothing"


@dataclass(frozen=True)
class Layout:
    """How a CSV file is spelled: separator, mark, line ends, columns turned round, and its blank rows."""

    delimiter: str = ","
    bom: bool = False
    newline: str = "\n"
    turn: int = 0
    blanks: tuple[int, ...] = ()
    """Numbers of the rows (from 0) that have a blank row before them; one number twice is two blank rows."""
    filled: bool = False
    """Whether a blank row is a row of separators rather than an empty line."""


@dataclass(frozen=True)
class Fact:
    """A fact with listed values, or with a range of days or whole numbers from `first` to `last`."""

    name: str
    of: str = "vehicle"
    values: tuple[str, ...] = ()
    first: date | int | None = None
    last: date | int | None = None
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def is_range(self) -> bool:
        """Whether the fact is a range rather than a list."""
        return self.first is not None

    def domain(self) -> list[str]:
        """Every value as it is written in a cell, in order."""
        if isinstance(self.first, date) and isinstance(self.last, date):
            days = (self.last - self.first).days
            return [(self.first + timedelta(days=n)).isoformat() for n in range(days + 1)]
        if isinstance(self.first, int) and isinstance(self.last, int):
            return [str(n) for n in range(self.first, self.last + 1)]
        return list(self.values)


@dataclass(frozen=True)
class Table:
    """A combinations table. A row maps facts to cells; a fact it leaves out is an empty cell."""

    file: str
    facts: tuple[str, ...]
    rows: tuple[Mapping[str, str], ...]
    shares: tuple[str, ...] = ()
    """One share a row, or nothing at all."""
    layout: Layout = Layout()


@dataclass(frozen=True)
class Role:
    """A place in the kit that is to be filled."""

    name: str
    takes: str = "one"
    circuit: str = ""
    sort: str = "part"
    title: str = "A role"


@dataclass(frozen=True)
class Finding:
    """Something that may turn out, with its chance and the findings it covers."""

    name: str
    chance: str
    covers: tuple[str, ...] = ()
    title: str = "A finding"


@dataclass(frozen=True)
class Requirement:
    """What an item must have: properties equal, properties at least, and specifications."""

    name: str
    kind: str
    equal: Mapping[str, str] = field(default_factory=dict)
    least: Mapping[str, str] = field(default_factory=dict)
    listed: tuple[str, ...] = ()
    claimed: tuple[str, ...] = ()
    title: str = "A requirement"


@dataclass(frozen=True)
class Item:
    """A row of items.csv."""

    number: str
    unit: str = "each"
    rank: str = ""
    kind: str = ""
    properties: Mapping[str, str] = field(default_factory=dict)
    listed: tuple[str, ...] = ()
    claimed: tuple[str, ...] = ()
    name: str = "An item"


@dataclass(frozen=True)
class Include:
    """A job within a job: its stages put onto those of the includer, perhaps on conditions."""

    job: str
    stages: Mapping[str, str]
    when: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Job:
    """A job type: its stages in order, its own roles each with a stage, its includes."""

    name: str
    stages: tuple[str, ...] = ("work",)
    roles: Mapping[str, str] = field(default_factory=dict)
    includes: tuple[Include, ...] = ()
    cautions: tuple[str, ...] = ()
    file: str = "jobs/jobs.toml"


@dataclass(frozen=True)
class Fit:
    """A row of a fits file. `item` may be `nothing`; an empty `job` means all that list the role."""

    role: str
    item: str = ""
    requirement: str = ""
    amount: str = ""
    unit: str = ""
    job: str = ""
    finding: str = ""
    otherwise: bool = False
    when: Mapping[str, str] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True)
class FitFile:
    """A file of fits, in the order of its rows."""

    file: str
    fits: tuple[Fit, ...]
    layout: Layout = Layout()


@dataclass(frozen=True)
class Spec:
    """A whole catalogue folder."""

    facts: tuple[Fact, ...]
    jobs: tuple[Job, ...]
    roles: tuple[Role, ...]
    items: tuple[Item, ...] = ()
    fits: tuple[FitFile, ...] = ()
    tables: tuple[Table, ...] = ()
    findings: tuple[Finding, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    cautions: Mapping[str, str] = field(default_factory=dict)
    items_layout: Layout = Layout()


@dataclass(frozen=True)
class Statement:
    """What is known of one fact, and from where: `seen`, `told` or `register`."""

    fact: str
    cell: str
    source: str = "told"


@dataclass(frozen=True)
class Placed:
    """A fit with the file and the line it stands on, as an editor counts it."""

    file: str
    row: int
    fit: Fit


def placed(spec: Spec) -> list[Placed]:
    """Every fit with its place, by file name and then by row. The header is line 1."""
    found = []
    for fit_file in sorted(spec.fits, key=lambda one: one.file):
        line = 2
        for number, fit in enumerate(fit_file.fits):
            line += fit_file.layout.blanks.count(number)
            found.append(Placed(fit_file.file, line, fit))
            line += 1 + fit.note.count("\n")
    return found
