"""The ways to one goal, side by side, as they are shown and as they leave in JSON (`kitbuilder.options/1`).

Money is a decimal in the catalogue's currency, before tax unless a field says otherwise; chances are decimals rounded
half to even to 4 places; moments are ISO 8601 at the site. A `Choice` is what a customer may see: nothing in it knows
what the house pays, where a thing comes from or where it lies. That is in the `Way` around it.
"""

from typing import Literal

import msgspec
from msgspec import UNSET, UnsetType

from kitbuilder.model.catalogue import Sort
from kitbuilder.model.kit import Certainty, When


class Span(msgspec.Struct, frozen=True):
    """The least in any open world, and the most."""

    least: str
    most: str


class ChargedPart(msgspec.Struct, frozen=True):
    """A line that is charged for: `item` is the one priced (of a requirement the first acceptable one with a price).
    `price` for the whole amount, None where no price is told: it is then named, never counted as nothing."""

    stage: str
    role: str
    title: str
    name: str
    item: str | None
    amount: str
    unit: str
    sort: Sort
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    price: Span | None


class ChargedStage(msgspec.Struct, frozen=True):
    """A stage's planned minutes, least and most, and what they cost; None where no rate is set."""

    name: str
    least: int
    most: int
    price: Span | None


class DepositDue(msgspec.Struct, frozen=True):
    """A deposit on an exchange unit (`deposit`, with `tax` on it), paid back when the old unit is back, like for like,
    by `back_by` (null where no term is set) in the state told. `finding`: due only if that turns out."""

    item: str
    name: str
    deposit: str
    tax: str
    back_by: str | None
    state: tuple[str, ...]
    certainty: Certainty
    finding: str | None


class MayTurnOut(msgspec.Struct, frozen=True):
    """A finding: its chance, what it adds in parts and labour if it turns out (`adds_total`: with tax), and on average
    (`expected`).

    `turns_into`: the title of the job that the work then becomes. `unpriced`: lines of it without a price.
    """

    finding: str
    title: str
    chance: str
    adds: Span
    adds_total: Span
    expected: str
    turns_into: str | None
    unpriced: tuple[str, ...]


class Advised(msgspec.Struct, frozen=True):
    """What may be renewed while the job is open, if the customer chooses it; `total` is its price with tax. Not in
    the totals."""

    title: str
    name: str
    certainty: Certainty
    price: Span | None
    total: Span | None


class Sums(msgspec.Struct, frozen=True):
    """A way's totals. `labour` is null where no rate is set (it is then in no sum), `tax` where no tax is.

    `small`: what of `parts` is single-use or consumable. `net` is parts and labour, least and most of the sum itself in
    one world; `total` is with tax. `deposits` are apart, with the tax that is asked with them. `expected_extra`: what
    findings add on average; `expected_total`: net and that together, with tax.
    """

    parts: Span
    small: Span
    labour: Span | None
    net: Span
    tax: Span | None
    total: Span
    deposits: Span
    expected_extra: str
    expected_total: Span


class Choice(msgspec.Struct, frozen=True):
    """One way as a customer may see it. `unpriced`: lines that are not in the sums, as they have no price.
    `finish`: the earliest, null where it isn't known; `finish_latest`: if what is open takes the most."""

    job: str
    title: str
    sums: Sums
    parts: tuple[ChargedPart, ...]
    stages: tuple[ChargedStage, ...]
    deposits: tuple[DepositDue, ...]
    may_turn_out: tuple[MayTurnOut, ...]
    advised: tuple[Advised, ...]
    unpriced: tuple[str, ...]
    hangs_on: tuple[str, ...]
    finish: str | None
    finish_latest: str | None


class Waits(msgspec.Struct, frozen=True):
    """A line that a stage waits for, and until when; null where nothing brings it or a source failed (`why`)."""

    stage: str
    name: str
    amount: str
    unit: str
    until: str | None
    why: str


class StripDown(msgspec.Struct, frozen=True):
    """The chance that the vehicle stands open, or is stripped a second time: that at least one finding turns out
    and is not covered by another, of whose parts one is not at hand when its stage starts. `findings` are those it
    is about. Each part is asked for by itself, behind what the job takes anyhow; where no source was asked, nothing on
    condition counts as at hand."""

    chance: str
    findings: tuple[str, ...]


class Cost(msgspec.Struct, frozen=True):
    """What the house pays for the parts, at the lowest price of any source (packs and fees left out); `unpriced`:
    lines that no source has a price for."""

    parts: Span
    unpriced: tuple[str, ...]


class Way(msgspec.Struct, frozen=True):
    """One way, with what only the house sees. `problems`: where the catalogue fails, so that the kit isn't sure."""

    choice: Choice
    waits: tuple[Waits, ...]
    strip_down: StripDown
    problems: tuple[str, ...]
    cost: Cost | UnsetType = UNSET


class Options(msgspec.Struct, frozen=True):
    """The ways to one goal. `tax` in per cent; `start` at the site, null where no site is set; `asked`: whether the
    stock sources were asked, else finishes assume that all is there."""

    format: Literal["kitbuilder.options/1"]
    warnings: tuple[str, ...]
    goal: str
    currency: str
    tax: str | None
    start: str | None
    asked: bool
    ways: tuple[Way, ...]


class ChoiceSheet(msgspec.Struct, frozen=True):
    """What a customer signs: drawn from choices, which know no cost, no supplier and no place of stock.

    `day`: of the sheet (ISO 8601). `deposit_rule` says how deposits are taxed. `all_there`: whether the finishes assume
    that all parts are there.
    """

    goal: str
    vehicle: str
    day: str
    currency: str
    tax: str
    deposit_rule: str
    all_there: bool
    choices: tuple[Choice, ...]
