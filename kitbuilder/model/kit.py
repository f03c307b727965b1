"""A kit, as it is shown and as it leaves in JSON (`kitbuilder.kit/1`).

Amounts and chances are decimal strings, days ISO 8601; a cell is a value or a run of values in words.
A field that JSON leaves out is UNSET.
"""

from typing import Literal

import msgspec
from msgspec import UNSET, UnsetType

from kitbuilder.model.along import Along
from kitbuilder.model.catalogue import Port, Sort

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

    Left out where there is nothing to say: `fill` (how it fills its circuit), `least` (of a fill to level, which takes
    from so much to `amount`), `select` (several go along, so many are used, the rest comes back), `advised` (renewed
    while the job is open if the customer chooses it), `weight` (of the amount, in kg), `ports`, `superseded` (which
    items have taken its items' place together, in sentences).
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
    fill: str | UnsetType = UNSET
    least: str | UnsetType = UNSET
    select: int | UnsetType = UNSET
    advised: bool | UnsetType = UNSET
    weight: str | UnsetType = UNSET
    ports: tuple[Port, ...] | UnsetType = UNSET
    superseded: tuple[str, ...] | UnsetType = UNSET


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


class ComesOff(msgspec.Struct, frozen=True):
    """What comes off and has to be got rid of, with its code of the European List of Waste and that code's title.

    `amount` and `unit` are null where they aren't told; `role` is that with whose lines it comes off, null where it
    comes with a job or with several roles. `findings`: it comes off only if one of them occurs; `advised`: only if the
    customer chooses it.
    """

    what: str
    code: str
    title: str
    hazardous: bool
    amount: str | None
    unit: str | None
    role: str | None
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    because: tuple[Reason, ...]
    findings: tuple[str, ...] | UnsetType = UNSET
    advised: bool | UnsetType = UNSET


class Pictogram(msgspec.Struct, frozen=True):
    """A hazard pictogram: its code (`GHS02`) and name."""

    code: str
    name: str


class HazardStatement(msgspec.Struct, frozen=True):
    """A hazard statement: its code (`H222`) and what it says."""

    code: str
    text: str


class HazardShown(msgspec.Struct, frozen=True):
    """What the safety data sheet of an item that may fill a line says; null is what it isn't told to say."""

    item: str
    name: str
    sheet: str
    revised: str | None
    signal: str | None
    pictograms: tuple[Pictogram, ...]
    statements: tuple[HazardStatement, ...]
    note: str | None
    row: int


class ExchangeShown(msgspec.Struct, frozen=True):
    """An item of the kit that is had against the old unit: the very one that is taken off (`like_for_like`), in some
    state, within `days`. `deposit` is for one of its unit, in `currency`; `roles` are those of the lines that it may
    fill; `arrives` dry or filled with the fluid of `circuit`. Null is what isn't told."""

    item: str
    name: str
    unit: str
    roles: tuple[str, ...]
    like_for_like: bool
    deposit: str | None
    currency: str | None
    days: int | None
    state: tuple[str, ...]
    arrives: str | None
    circuit: str | None
    note: str | None
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
    """The whole answer for one job type and what is known; see kit-rules for every field's meaning.

    What comes off, hazards and exchange units are left out where the catalogue tells of none; `along` (what of the
    lines on condition goes along) unless the job is done where the settings say that no shelf is at hand.
    """

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
    comes_off: tuple[ComesOff, ...] | UnsetType = UNSET
    hazards: tuple[HazardShown, ...] | UnsetType = UNSET
    exchange: tuple[ExchangeShown, ...] | UnsetType = UNSET
    along: Along | UnsetType = UNSET
