"""Stock of record that lies elsewhere: what was fetched from it, and where its numbers don't agree."""

from datetime import datetime
from typing import Final, Literal

import msgspec


class Fetched(msgspec.Struct, frozen=True):
    """So much of an item that was booked in from a source, in milli-units of `unit`."""

    item: str
    unit: str
    quantity: int


class IssueRequest(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be issued where the stock is kept, because it was taken from there: so many milli-units of `unit`.
    `key` is this issue's alone: what is told twice under it is issued once. `reference` says in words what it was for,
    `who` took it, at `taken_at` (with zone)."""

    key: str
    item: str
    unit: str
    quantity: int
    lot: str
    reference: str
    who: str
    taken_at: datetime


IssueState = Literal["waiting", "issuing", "unclear", "issued"]
"""How far an issue elsewhere is.

waiting  it is to be told there; it may have been refused before, for certain
issuing  it is being told just now
unclear  it was told, and nobody knows whether it came through; it is told again under its key, which counts once
issued   it is issued there, or a person says that it was done by hand
"""
ISSUE_STATES: Final = ("waiting", "issuing", "unclear", "issued")


class IssueRow(msgspec.Struct, frozen=True, kw_only=True):
    """An issue as it stands; `said` is why it isn't through."""

    id: int
    source: str
    order: int
    request: IssueRequest
    state: IssueState
    said: str


class Difference(msgspec.Struct, frozen=True):
    """An item of which a source has another amount than expected, as decimals in `unit`: what it had `before`, what was
    `fetched` from it since, what is `expected` to be left, what is there `now`, and how much that is more (or, with a
    minus, less)."""

    item: str
    unit: str
    before: str
    fetched: str
    expected: str
    now: str
    more: str


class ElsewhereReport(msgspec.Struct, frozen=True):
    """What a report tells of stock that is kept elsewhere: the differences from what there was at `since` (None: there
    is nothing to compare with yet) to what was counted at `counted_at`, first thing on the day; what was taken from
    there and isn't issued there, in sentences; why nothing could be counted ("": it was)."""

    source: str
    since: datetime | None
    counted_at: datetime | None
    differences: tuple[Difference, ...]
    not_issued: tuple[str, ...]
    error: str = ""


class IssueListed(msgspec.Struct, frozen=True):
    """What was taken from a source and isn't issued there: `amount` a decimal in `unit`."""

    id: int
    source: str
    order: int
    item: str
    lot: str
    amount: str
    unit: str
    taken_at: datetime
    taken_by: str
    state: IssueState
    said: str


class IssuesListed(msgspec.Struct, frozen=True):
    """`kitbuilder sources issues --json`."""

    format: Literal["kitbuilder.source-issues/1"]
    warnings: tuple[str, ...]
    issues: tuple[IssueListed, ...]


class Differences(msgspec.Struct, frozen=True):
    """`kitbuilder sources differences --json`. `since` is when the count was that is compared with; null where there is
    none of an earlier day yet."""

    format: Literal["kitbuilder.source-differences/1"]
    warnings: tuple[str, ...]
    source: str
    since: datetime | None
    now: datetime
    counted: int
    differences: tuple[Difference, ...]
