"""What bringing in answers: how a sheet is read, what can't be, what was written; what past jobs teach."""

from typing import Literal

import msgspec


class Noted(msgspec.Struct, frozen=True):
    """One thing that is proposed: the place in the mapping (`columns.unit`), what stands there, why it is thought so.

    `sure`: nothing had to be guessed for it.
    """

    place: str
    value: str
    why: str
    sure: bool


class RowFault(msgspec.Struct, frozen=True, order=True):
    """A row that can't be read: the sheet's row as its program counts it, the sheet's column, what stood there, what
    was expected."""

    row: int
    column: str
    read: str
    expected: str


class RowRead(msgspec.Struct, frozen=True):
    """A row as it would stand in the catalogue."""

    row: int
    cells: dict[str, str]


class Imported(msgspec.Struct, frozen=True):
    """`kitbuilder catalogue import --json`. `rows` counts those that aren't empty, `ready` those that can be read,
    `there` those that stand in the catalogue already, word for word; `catalogue` are faults that other files would
    have; `written` is the path of the file, null where nothing was written."""

    format: Literal["kitbuilder.import/1"]
    warnings: tuple[str, ...]
    file: str
    sheet: str
    into: str
    mapping: str
    proposed: tuple[Noted, ...]
    questions: tuple[str, ...]
    columns: tuple[str, ...]
    rows: int
    ready: int
    there: int
    preview: tuple[RowRead, ...]
    faults: tuple[RowFault, ...]
    catalogue: tuple[str, ...]
    written: str | None


class DraftedFit(msgspec.Struct, frozen=True):
    """A fit that past jobs speak for: `evidence` says how many of them."""

    role: str
    item: str
    amount: str
    unit: str
    conditions: dict[str, str]
    finding: str
    otherwise: bool
    evidence: str


class DraftedRole(msgspec.Struct, frozen=True):
    """A role of the draft; `sort` is guessed from its items."""

    name: str
    title: str
    sort: str
    takes: str


class DraftedFinding(msgspec.Struct, frozen=True):
    """What turned out in some jobs only: in `used` of `jobs`; `chance` is what such a count says of the next job, with
    its 95 % interval (Jeffreys)."""

    name: str
    title: str
    used: int
    jobs: int
    chance: str
    least: str
    most: str


class Drafted(msgspec.Struct, frozen=True):
    """`kitbuilder catalogue draft --json`. `files` are the texts by path in the catalogue; `written` says whether they
    are there now."""

    format: Literal["kitbuilder.draft/1"]
    warnings: tuple[str, ...]
    job: str
    jobs: int
    lines: int
    roles: tuple[DraftedRole, ...]
    findings: tuple[DraftedFinding, ...]
    fits: tuple[DraftedFit, ...]
    questions: tuple[str, ...]
    faults: tuple[RowFault, ...]
    catalogue: tuple[str, ...]
    files: dict[str, str]
    written: bool
