"""Orders and runs, as values. Amounts are milli-units, money is minor units of the order's currency."""

from datetime import date, datetime
from typing import Final, Literal

import msgspec

OrderState = Literal[
    "proposed", "approved", "sending", "ordered", "confirmed", "part", "changed", "unclear", "refused", "cancelled",
    "received"]
"""Where an order stands.

proposed   a run thinks it should be ordered
approved   a named person decided: it is in the outbox, or to be rung up
sending    it is being sent just now; found later, it was half sent
ordered    a person says that it was ordered, by telephone or otherwise
confirmed  the supplier accepted all of it
part       the supplier accepted some of it; the rest isn't coming
changed    the supplier accepted something else (dearer, another item, later): a person takes it or cancels
unclear    nobody knows whether the supplier has it: it is asked for where it can be, else a person decides
refused    the supplier doesn't accept it; nothing comes
cancelled  a named person doesn't want it
received   all that was to come of it has come
"""
ORDER_STATES: Final = (
    "proposed", "approved", "sending", "ordered", "confirmed", "part", "changed", "unclear", "refused", "cancelled",
    "received")
#: What counts as coming, at its expected time.
EXPECTED: Final = ("ordered", "confirmed", "part")
#: What a person decided on and that may come, so that it is never ordered a second time.
UNDER_WAY: Final = ("approved", "sending", *EXPECTED, "changed", "unclear")
#: What somebody still has to do with.
OPEN: Final = ("proposed", *UNDER_WAY)
#: What went to a supplier through the outbox.
SENT: Final = ("sending", "confirmed", "part", "changed", "unclear")
#: How something that came stands to its order: as asked for, in another's place, wrong, or more than asked for.
Delivered = Literal["ordered", "instead", "wrong", "beyond"]
DELIVERED: Final = ("ordered", "instead", "wrong", "beyond")
ReturnState = Literal["proposed", "sent", "credit awaited", "credited", "refused", "dropped"]
RETURN_STATES: Final = ("proposed", "sent", "credit awaited", "credited", "refused", "dropped")
ExchangeState = Literal["due", "sent", "deposit back", "refused"]
EXCHANGE_STATES: Final = ("due", "sent", "deposit back", "refused")


class OrderedLine(msgspec.Struct, frozen=True):
    """An item in an order: so much for `minor` money; `packs` says of what it is made (milli-units and count each,
    the largest first), and is empty where it comes loose. `confirmed` is what the supplier accepted of it (None: not
    told), for `confirmed_minor` money, as `substitute` where that isn't empty."""

    item: str
    unit: str
    quantity: int
    packs: tuple[tuple[int, int], ...]
    minor: int
    confirmed: int | None = None
    confirmed_minor: int | None = None
    substitute: str = ""
    returnable: bool = True


class OrderedFor(msgspec.Struct, frozen=True):
    """For which need of which booking an order's item is, and how much of it is still to come."""

    item: str
    booking: int
    need: str
    quantity: int


class OrderRow(msgspec.Struct, frozen=True, kw_only=True):
    """An order: proposed by a run, decided by a named person; `expected_at` is when it should be there.

    `outbox_key` is what the supplier knows it by, `said` what they said last or what isn't clear.
    """

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
    sequence: int = 0
    sent_at: datetime | None = None
    answered_at: datetime | None = None
    supplier_number: str = ""
    said: str = ""

    @property
    def outbox_key(self) -> str:
        """Site, day, supplier, slot and sequence: one order of all that were ever sent."""
        return f"{self.key}|{self.sequence}"


class OrderChange(msgspec.Struct, frozen=True):
    """One change of an order: to which state, when, by whom, what was told."""

    at: datetime
    state: OrderState
    who: str
    text: str


class LineVerdict(msgspec.Struct, frozen=True):
    """What a supplier accepts of an order line: so much, for so much money (None: not told), as another item ("": as
    asked for)."""

    item: str
    quantity: int
    minor: int | None = None
    substitute: str = ""


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """A supplier's answer as it counts: what state it puts the order in, line by line, when it is to be here, the
    supplier's own number of it, and what is to be told."""

    state: Literal["confirmed", "part", "changed", "refused"]
    lines: tuple[LineVerdict, ...] = ()
    expected_at: datetime | None = None
    number: str = ""
    text: str = ""


class Goods(msgspec.Struct, frozen=True, kw_only=True):
    """What came under an order, by its delivery note: so much of an item in `unit` (milli-units), of a lot, into a bin.
    `instead_of`: the item of the order in whose place a person takes it."""

    note: str
    item: str
    quantity: int
    unit: str
    bin: str
    lot: str = ""
    use_by: date | None = None
    instead_of: str = ""


class BookedIn(msgspec.Struct, frozen=True):
    """What booking goods in came to: how they stand to the order, how much of them was beyond it, how much is held for
    which bookings, the lot they are in, the order's state then, the return that is proposed (0: none), and whether the
    delivery note's line had been booked in before, so that nothing was done."""

    takes: Delivered
    beyond: int
    held: dict[int, int]
    lot: str
    state: OrderState
    proposed_return: int = 0
    again: bool = False


class ReturnTerms(msgspec.Struct, frozen=True):
    """What a supplier says of returns: within how many days of delivery (None: not told), and which percentage of the
    price it keeps."""

    days: int | None = None
    fee_percent: int = 0


class SupplierReturnRow(msgspec.Struct, frozen=True, kw_only=True):
    """Something that goes back to a supplier; `until` is the last day they take it, `credit` what they are to credit
    after the fee, in minor units (None: not known)."""

    id: int
    site: str
    source: str
    order: int | None
    item: str
    lot: str
    bin: str
    quantity: int
    unit: str
    why: str
    until: date | None
    currency: str
    fee: int
    credit: int | None
    state: ReturnState
    said: str
    changed_at: datetime
    changed_by: str


class ExchangeReturnRow(msgspec.Struct, frozen=True, kw_only=True):
    """An old unit that is owed for an exchange unit: `wanted` is the state in which it is to come back, `due` the last
    day (None: no term), `deposit` what is paid back for it."""

    id: int
    booking: int
    item: str
    quantity: int
    due: date | None
    currency: str
    deposit: int
    wanted: str
    state: ExchangeState
    said: str
    changed_at: datetime
    changed_by: str


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
