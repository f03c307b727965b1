"""Orders and runs, as values. Amounts are milli-units, money is minor units of the order's currency."""

from datetime import date, datetime
from typing import Literal

import msgspec

OrderState = Literal["proposed", "ordered", "cancelled", "received"]


class OrderedLine(msgspec.Struct, frozen=True):
    """An item in an order: `count` packs of `pack` milli-units (pack 0: `count` milli-units, loose) for `minor` money."""

    item: str
    unit: str
    pack: int
    count: int
    minor: int

    @property
    def quantity(self) -> int:
        """How much that is, in milli-units."""
        return self.count * self.pack if self.pack else self.count


class OrderedFor(msgspec.Struct, frozen=True):
    """For which need of which booking an order's item is, and how much of it."""

    item: str
    booking: int
    need: str
    quantity: int


class OrderRow(msgspec.Struct, frozen=True, kw_only=True):
    """An order: proposed by a run, ordered once a named person says so; `expected` is when it should be there."""

    id: int = 0
    key: str
    site: str
    source: str
    slot: str
    ready: datetime
    cut_off: datetime | None
    currency: str
    fee: int
    state: OrderState
    proposed_at: datetime
    lines: tuple[OrderedLine, ...]
    wanted_for: tuple[OrderedFor, ...]
    expected_at: datetime | None = None
    decided_at: datetime | None = None
    decided_by: str = ""


class RunRow(msgspec.Struct, frozen=True, kw_only=True):
    """A run: its site and day, its frozen moment and quotes (JSON), the steps done with their results (JSON)."""

    id: int
    site: str
    day: date
    state: Literal["running", "done"]
    now: datetime
    quotes: str
    steps: dict[str, str]
    report: str
    finished_at: datetime | None
