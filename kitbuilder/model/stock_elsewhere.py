"""Stock of record that lies elsewhere: what was fetched from it, and where its numbers don't agree."""

from datetime import datetime
from typing import Literal

import msgspec


class Fetched(msgspec.Struct, frozen=True):
    """So much of an item that was booked in from a source, in milli-units of `unit`."""

    item: str
    unit: str
    quantity: int


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
