"""The tables. Amounts are milli-units of the row's unit, money is minor units, moments are UTC.

What matters is a constraint here too: `table=True` models don't validate, and another program may write.
Rows don't leave this room; its functions take and return values of kitbuilder.model.
"""

from datetime import date, datetime

from sqlalchemy import BigInteger, CheckConstraint, Column, ForeignKey, Index, Integer, UniqueConstraint
from sqlmodel import Field, SQLModel

from kitbuilder.store.columns import Moment, name_constraints

name_constraints(SQLModel.metadata)

HOLD_STATES = ("planned", "picking", "picked", "issued", "released")
ACTIONS = ("receive", "count", "move out", "move in", "hold", "release", "issue", "return", "quarantine")


def _one_of(column: str, words: tuple[str, ...]) -> str:
    return f"{column} IN ({', '.join(repr(word) for word in words)})"


def _amount(name: str) -> Column[int]:
    return Column(name, BigInteger, nullable=False)


def _link(name: str, target: str, nullable: bool = False, primary_key: bool = False) -> Column[int]:
    return Column(name, Integer, ForeignKey(target), nullable=nullable, primary_key=primary_key, autoincrement=False)


class Site(SQLModel, table=True):
    """A place with a shelf of its own."""

    name: str = Field(primary_key=True)


class Bin(SQLModel, table=True):
    """Where things lie: aisle-rack-level-place, or another name; `waits` says what sort of place it is
    (shelf, bulk point, tool store, flammables cupboard, bench stock)."""

    __table_args__ = (UniqueConstraint("site", "name"),)
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    name: str
    waits: str = "shelf"


class Lot(SQLModel, table=True):
    """A receipt of an item: its number ("" where it has none), last day of use, why it is in quarantine ("" if not)."""

    __table_args__ = (UniqueConstraint("site", "item", "number"),)
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    item: str = Field(index=True)
    number: str = ""
    unit: str
    use_by: date | None = None
    quarantine: str = ""
    received_at: datetime = Field(sa_column=Column(Moment, nullable=False))


class Stock(SQLModel, table=True):
    """How much of a lot lies in a bin, and how much of that is promised: never below zero, never more than is there."""

    __table_args__ = (
        CheckConstraint("on_hand >= 0", name="on_hand"),
        CheckConstraint("held >= 0 AND held <= on_hand", name="held"),
    )
    lot: int = Field(sa_column=_link("lot", "lot.id", primary_key=True))
    bin: int = Field(sa_column=_link("bin", "bin.id", primary_key=True))
    on_hand: int = Field(sa_column=_amount("on_hand"))
    held: int = Field(sa_column=_amount("held"))


class Visit(SQLModel, table=True):
    """A vehicle's stay; bookings are of one visit only if their diary says so."""

    __table_args__ = (UniqueConstraint("diary", "name"),)
    id: int | None = Field(default=None, primary_key=True)
    diary: str
    name: str
    registration: str = ""


class Booking(SQLModel, table=True):
    """One job type at a planned start. `number` is what people see and scan, and is never used again."""

    __table_args__ = (
        UniqueConstraint("diary", "uid", "recurrence"),
        CheckConstraint(_one_of("state", ("enquiry", "authorised", "cancelled")), name="state"),
        CheckConstraint(_one_of("priority", ("normal", "VOR")), name="priority"),
        {"sqlite_autoincrement": True},
    )
    number: int | None = Field(default=None, primary_key=True)
    diary: str
    uid: str
    recurrence: str = ""
    revision: int = 0
    visit: int | None = Field(default=None, sa_column=_link("visit", "visit.id", nullable=True))
    site: str = Field(foreign_key="site.name", index=True)
    job: str
    registration: str = ""
    start_wall: str
    zone: str
    start: datetime = Field(sa_column=Column(Moment, nullable=False, index=True))
    state: str
    priority: str = "normal"
    bay: str = ""
    technician: str = ""
    facts: str = "{}"
    missing_since: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    actual_start: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))


class StoredKit(SQLModel, table=True):
    """A booking's kit as built, whole, with the statements it was built from; an edition's cache may be gone."""

    __tablename__ = "kit"
    booking: int = Field(sa_column=_link("booking", "booking.number", primary_key=True))
    edition: str
    fingerprint: str
    kit: str
    statements: str
    built_at: datetime = Field(sa_column=Column(Moment, nullable=False))


class Edit(SQLModel, table=True):
    """A change by hand to a booking's kit; it addresses a role and item or requirement, never stage or amount."""

    __table_args__ = (CheckConstraint(_one_of("action", ("add", "swap", "strike", "amount")), name="action"),)
    id: int | None = Field(default=None, primary_key=True)
    booking: int = Field(sa_column=_link("booking", "booking.number"))
    action: str
    role: str
    filler: str = ""
    item: str = ""
    amount: int | None = Field(default=None, sa_column=Column("amount", BigInteger, nullable=True))
    unit: str = ""
    who: str
    why: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    undone_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))


class Hold(SQLModel, table=True):
    """Stock promised to a line of a booking. Asking for a `promise` twice is asking once; one taken from several
    bins, or let go and made again, has several parts."""

    __table_args__ = (
        UniqueConstraint("promise", "part"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint(_one_of("state", HOLD_STATES), name="state"),
        Index("ix_hold_place", "lot", "bin"),
    )
    id: int | None = Field(default=None, primary_key=True)
    promise: str
    part: int
    booking: int = Field(sa_column=_link("booking", "booking.number"))
    need: str
    item: str
    lot: int = Field(sa_column=_link("lot", "lot.id"))
    bin: int = Field(sa_column=_link("bin", "bin.id"))
    quantity: int = Field(sa_column=_amount("quantity"))
    state: str
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    changed_by: str


class Ledger(SQLModel, table=True):
    """Every change to stock, in order; the sums of its two deltas are the balances."""

    __table_args__ = (
        CheckConstraint(_one_of("action", ACTIONS), name="action"),
        Index("ix_ledger_place", "lot", "bin"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    action: str
    lot: int = Field(sa_column=_link("lot", "lot.id"))
    bin: int = Field(sa_column=_link("bin", "bin.id"))
    on_hand: int = Field(sa_column=_amount("on_hand"))
    held: int = Field(sa_column=_amount("held"))
    booking: int | None = Field(default=None, sa_column=_link("booking", "booking.number", nullable=True))
    hold: int | None = Field(default=None, sa_column=_link("hold", "hold.id", nullable=True))
    who: str
    why: str = ""


class Order(SQLModel, table=True):
    """What is to be asked of a supplier in one slot: proposed until a named person decides."""

    __tablename__ = "supplier_order"
    __table_args__ = (
        CheckConstraint(_one_of("state", ("proposed", "ordered", "cancelled", "received")), name="state"),
    )
    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    site: str = Field(foreign_key="site.name")
    source: str
    slot: str
    ready: datetime = Field(sa_column=Column(Moment, nullable=False))
    cut_off: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    currency: str
    fee: int = Field(sa_column=_amount("fee"))
    state: str
    proposed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    expected_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    decided_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    decided_by: str = ""


class OrderLine(SQLModel, table=True):
    """An item in an order: so much for `minor` money, made of `packs` (JSON: milli-units and count each; none: loose)."""

    __table_args__ = (UniqueConstraint("order", "item"), CheckConstraint("quantity > 0", name="quantity"))
    __tablename__ = "order_line"
    id: int | None = Field(default=None, primary_key=True)
    order: int = Field(sa_column=_link("order", "supplier_order.id"))
    item: str
    unit: str
    quantity: int = Field(sa_column=_amount("quantity"))
    packs: str = "[]"
    minor: int = Field(sa_column=_amount("minor"))


class OrderFor(SQLModel, table=True):
    """For which line of which booking an order's item is, and how much of it."""

    __tablename__ = "order_for"
    __table_args__ = (
        UniqueConstraint("order", "item", "booking", "need"),
        CheckConstraint("quantity > 0", name="quantity"),
    )
    id: int | None = Field(default=None, primary_key=True)
    order: int = Field(sa_column=_link("order", "supplier_order.id"))
    item: str
    booking: int = Field(sa_column=_link("booking", "booking.number"))
    need: str
    quantity: int = Field(sa_column=_amount("quantity"))


class Run(SQLModel, table=True):
    """One run for a site and a day. `now` and `quotes` are frozen at its first step."""

    __table_args__ = (CheckConstraint(_one_of("state", ("running", "done")), name="state"),)
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    day: date = Field(index=True)
    state: str
    now: datetime = Field(sa_column=Column(Moment, nullable=False))
    quotes: str = ""
    started_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    finished_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    report: str = ""


class RunStep(SQLModel, table=True):
    """A step of a run that is done, and what came of it."""

    __tablename__ = "run_step"
    __table_args__ = (UniqueConstraint("run", "name"),)
    id: int | None = Field(default=None, primary_key=True)
    run: int = Field(sa_column=_link("run", "run.id"))
    name: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    result: str = ""


class Check(SQLModel, table=True):
    """A scan of the technician's kit check: what was found in the tote against a line; `quantity` may be taken back."""

    __tablename__ = "kit_check"
    id: int | None = Field(default=None, primary_key=True)
    booking: int = Field(sa_column=_link("booking", "booking.number"))
    item: str
    lot: str = ""
    quantity: int = Field(sa_column=_amount("quantity"))
    who: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))


class ShortPick(SQLModel, table=True):
    """A pick that found less than was promised; it starts a count and sourcing again."""

    __tablename__ = "short_pick"
    id: int | None = Field(default=None, primary_key=True)
    booking: int = Field(sa_column=_link("booking", "booking.number"))
    hold: int = Field(sa_column=_link("hold", "hold.id"))
    missing: int = Field(sa_column=_amount("missing"))
    who: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    counted_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
