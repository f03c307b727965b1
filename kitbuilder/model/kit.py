"""A kit, as it is shown and as it leaves in JSON (`kitbuilder.kit/1`).

Amounts and chances are decimal strings, days ISO 8601; a cell is a value or a run of values in words.
A field that JSON leaves out is UNSET.
"""

from typing import Literal

import msgspec
from msgspec import UNSET, UnsetType

from kitbuilder.model.catalogue import Sort

Certainty = Literal["certain", "possible"]
When = tuple[dict[str, tuple[str, ...]], ...]
"""Branches; each gives for all the facts it hangs on the values at which it is so."""


class KnownFact(msgspec.Struct, frozen=True):
    """A fact, the values that are still open, and where the knowledge comes from."""

    fact: str
    values: tuple[str, ...]
    source: Literal["seen", "told", "register", "inferred", "open"]


class Ground(msgspec.Struct, frozen=True):
    """One condition of a row, with what is known of its fact."""

    fact: str
    cell: str
    known: tuple[str, ...]
    source: str


class Reason(msgspec.Struct, frozen=True):
    """A row that applies in an open world: a fit, or the include through which its job comes in."""

    file: str
    row: int
    note: str | None
    conditions: tuple[Ground, ...]


class StockAnswer(msgspec.Struct, frozen=True):
    """What one source says of one item in one arrival slot.

    `quantity` in the item's unit and `price` (for `per` of that unit) are decimals; `ready` is ISO 8601.
    Where the source failed all of them are null and `error` says why.
    """

    source: str
    item: str | None
    quantity: str | None
    ready: str | None
    price: str | None
    per: str | None
    currency: str | None
    state: Literal["fresh", "stale", "failed"]
    age_s: int | None
    error: str | None


class Line(msgspec.Struct, frozen=True):
    """One item or requirement that the job needs; `because` are the rows that brought it.

    `chance` is that of being used; `short` is what no source has of it (null while a source failed).
    """

    stage: str
    role: str
    title: str
    item: str | None
    requirement: str | None
    name: str
    amount: str
    unit: str
    sort: Sort
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    finding: str | None
    chance: str
    acceptable: tuple[str, ...]
    because: tuple[Reason, ...]
    stock: tuple[StockAnswer, ...] | UnsetType = UNSET
    short: str | UnsetType | None = UNSET


class NotNeeded(msgspec.Struct, frozen=True):
    """A role for which the catalogue states that nothing is needed."""

    stage: str
    role: str
    title: str
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    because: tuple[Reason, ...]


class Question(msgspec.Struct, frozen=True):
    """A fact worth asking for, and the answers that are still possible."""

    fact: str
    question: str
    where: str
    answers: tuple[str, ...]


class CautionShown(msgspec.Struct, frozen=True):
    """A caution by name."""

    name: str
    text: str


class RowPlace(msgspec.Struct, frozen=True, order=True):
    """Where a row stands; `row` is the line of the file as an editor counts it."""

    file: str
    row: int


class Problem(msgspec.Struct, frozen=True):
    """A place where the catalogue fails: no fit where one is due, two where one is, nothing that satisfies."""

    kind: Literal["gap", "clash", "unmet", "circuit"]
    role: str | None
    circuit: str | None
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    witness: dict[str, str]
    rows: tuple[RowPlace, ...]
    text: str


class Kit(msgspec.Struct, frozen=True):
    """The whole answer for one job type and what is known; see kit-rules for every field's meaning."""

    format: Literal["kitbuilder.kit/1"]
    warnings: tuple[str, ...]
    job: str
    edition: str
    fingerprint: str
    complete: bool
    facts: tuple[KnownFact, ...]
    lines: tuple[Line, ...]
    nothing: tuple[NotNeeded, ...]
    questions: tuple[Question, ...]
    cautions: tuple[CautionShown, ...]
    problems: tuple[Problem, ...]
