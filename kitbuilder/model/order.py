"""Orders and runs, as values. Amounts are milli-units, money is minor units of the order's currency."""

from datetime import date, datetime
from typing import Final, Literal

import msgspec

from kitbuilder.model.transfer import from_site

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
    told), for `confirmed_minor` money, as `substitute` where that isn't empty; `expected_at` when it comes if not with
    the rest of the order (None: with it)."""

    item: str
    unit: str
    quantity: int
    packs: tuple[tuple[int, int], ...]
    minor: int
    confirmed: int | None = None
    confirmed_minor: int | None = None
    substitute: str = ""
    returnable: bool = True
    expected_at: datetime | None = None

    @property
    def costs(self) -> int:
        """What it comes to by all that is told: as confirmed, else what was quoted for what is confirmed."""
        if self.confirmed is None or self.confirmed_minor is not None:
            return self.minor if self.confirmed_minor is None else self.confirmed_minor
        return (2 * self.minor * self.confirmed + self.quantity) // (2 * self.quantity)


class OrderedFor(msgspec.Struct, frozen=True):
    """For which need of which booking an order's item is, and how much of it is still to come."""

    item: str
    booking: int
    need: str
    quantity: int


class OrderRow(msgspec.Struct, frozen=True, kw_only=True):
    """An order: proposed by a run, decided by a named person; `expected_at` is when it should be there.

    `outbox_key` is what the supplier knows it by. `said` is what they said last, or what isn't clear; of a proposal,
    why it waits for a person though the settings let others go ("": all wait, or nobody has looked at it yet).
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
    def total(self) -> int:
        """What it costs with its fee, minor units: as it was confirmed where that is told, else as it was quoted."""
        return self.fee + sum(line.costs for line in self.lines)

    @property
    def from_site(self) -> str:
        """The site of our own that it comes from by a van; "" for what is asked of a supplier."""
        return from_site(self.key)

    @property
    def comes(self) -> bool:
        """Whether it counts as coming, at its expected time: ordered, or own stock that somebody said is sent."""
        return self.state in EXPECTED or (self.state == "approved" and bool(self.from_site))

    def expected(self, item: str) -> datetime:
        """When an item of it should be there."""
        later = next((line.expected_at for line in self.lines if line.item == item), None)
        return later or self.expected_at or self.ready

    @property
    def awaited(self) -> dict[datetime, tuple[str, ...]]:
        """What is still to come, by when it should be there; of what is for no booking, as the rest of the order."""
        left = {one.item for one in self.wanted_for}
        found: dict[datetime, list[str]] = {}
        for line in self.lines:
            if line.item in left:
                found.setdefault(self.expected(line.item), []).append(line.item)
        return {when: tuple(found[when]) for when in sorted(found)} or {self.expected_at or self.ready: ()}

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
    asked for), at another time than the rest (None: with it)."""

    item: str
    quantity: int
    minor: int | None = None
    substitute: str = ""
    expected_at: datetime | None = None


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """A supplier's answer as it counts: what state it puts the order in, line by line, when it is to be here, the
    supplier's own number of it, what is to be told, and the fee they charge (None: as quoted)."""

    state: Literal["confirmed", "part", "changed", "refused"]
    lines: tuple[LineVerdict, ...] = ()
    expected_at: datetime | None = None
    number: str = ""
    text: str = ""
    fee: int | None = None


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
