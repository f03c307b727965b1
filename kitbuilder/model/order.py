"""Orders and runs, as values. Amounts are milli-units, money is minor units of the order's currency."""

from datetime import date, datetime
from typing import Literal

import msgspec

OrderState = Literal["proposed", "ordered", "cancelled", "received"]


class OrderedLine(msgspec.Struct, frozen=True):
    """An item in an order: so much for `minor` money; `packs` says of what it is made (milli-units and count each,
    the largest first), and is empty where it comes loose."""

    item: str
    unit: str
    quantity: int
    packs: tuple[tuple[int, int], ...]
    minor: int


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
