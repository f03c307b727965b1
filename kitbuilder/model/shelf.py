"""The shelf as values: what lies where, what is promised, what has been done. Amounts are milli-units of `unit`."""

from datetime import date, datetime
from typing import Literal

import msgspec

HoldState = Literal["planned", "picking", "picked", "issued", "released"]


class ShelfLot(msgspec.Struct, frozen=True):
    """A lot of an item in a bin: what is there, what of it is promised; `quarantine` says why it may not be used."""

    site: str
    item: str
    lot: str
    bin: str
    on_hand: int
    held: int
    unit: str
    use_by: date | None = None
    quarantine: str = ""

    @property
    def free(self) -> int:
        """What may still be promised: nothing of what is in quarantine."""
        return 0 if self.quarantine else self.on_hand - self.held


class Coming(msgspec.Struct, frozen=True):
    """So much of an item that was ordered from a source and isn't here yet, in milli-units of `unit`."""

    item: str
    unit: str
    quantity: int


class Receipt(msgspec.Struct, frozen=True, kw_only=True):
    """Goods in: so much of an item, of a lot ("" where it has none), into a bin."""

    site: str
    item: str
    bin: str
    quantity: int
    unit: str
    lot: str = ""
    use_by: date | None = None
    waits: str = "shelf"


class Promise(msgspec.Struct, frozen=True):
    """What is to be held: `key` makes asking twice the same as asking once. Bins are taken in the order of their
    names; `quantity` is in milli-units of the lot's unit."""

    key: str
    booking: int
    need: str
    item: str
    lot: str
    quantity: int


class HoldRow(msgspec.Struct, frozen=True):
    """A hold as it stands; `key` is that of its promise, which may have several holds in several bins."""

    id: int
    key: str
    booking: int
    need: str
    item: str
    lot: str
    bin: str
    quantity: int
    unit: str
    state: HoldState
    use_by: date | None = None


class Aside(msgspec.Struct, frozen=True):
    """What is to be set aside for what may turn out on a day in some bookings: of a lot, in a bin, in milli-units."""

    day: date
    item: str
    lot: str
    bin: str
    quantity: int
    bookings: tuple[int, ...]


class ReserveRow(msgspec.Struct, frozen=True):
    """What is set aside at a site for a day's bookings together, as it stands."""

    id: int
    site: str
    day: date
    item: str
    lot: str
    bin: str
    quantity: int
    unit: str
    bookings: tuple[int, ...]
    use_by: date | None = None


class LedgerRow(msgspec.Struct, frozen=True):
    """One change to stock."""

    id: int
    at: datetime
    action: str
    item: str
    lot: str
    bin: str
    on_hand: int
    held: int
    booking: int | None
    who: str
    why: str


class AuditFault(msgspec.Struct, frozen=True):
    """A balance that the ledger doesn't prove, or holds that don't add up; `ledger_row` is the first wrong row."""

    item: str
    lot: str
    bin: str
    text: str
    ledger_row: int | None
