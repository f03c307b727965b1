"""The tables. Amounts are milli-units of the row's unit, money is minor units, moments are UTC.

What matters is a constraint here too: `table=True` models don't validate, and another program may write.
Rows don't leave this room; its functions take and return values of kitbuilder.model.
"""

from datetime import date, datetime

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKeyConstraint,
    Index,
    UniqueConstraint,
    text,
)
from sqlmodel import Field, SQLModel

from kitbuilder.amount import UNITS
from kitbuilder.store.columns import Moment, big, key_part, link, not_empty, one_of, whole

# every table is had from here, so that none is without those that it names
from kitbuilder.store.order_tables import Delivery as Delivery
from kitbuilder.store.order_tables import ExchangeReturn as ExchangeReturn
from kitbuilder.store.order_tables import IssueElsewhere as IssueElsewhere
from kitbuilder.store.order_tables import Order as Order
from kitbuilder.store.order_tables import OrderEvent as OrderEvent
from kitbuilder.store.order_tables import OrderFor as OrderFor
from kitbuilder.store.order_tables import OrderLine as OrderLine
from kitbuilder.store.order_tables import ReturnEvent as ReturnEvent
from kitbuilder.store.order_tables import SupplierReturn as SupplierReturn

HOLD_STATES = ("planned", "picking", "picked", "issued", "released")
#: Of a hold in these states, what it takes lies in its bin's balance, promised.
PROMISED = ("planned", "picking", "picked")
#: What sort of place a bin is.
WAITS = ("shelf", "bulk point", "tool store", "flammables cupboard", "bench stock")
_IN, _OUT, _SAME = "on_hand > 0 AND held = 0", "on_hand < 0 AND held <= 0", "on_hand = 0 AND held = 0"
#: What may stand in a row of the ledger, and what it does to the two balances.
ACTIONS = {
    "receive": _IN, "return": _IN, "count": "held = 0", "move out": _OUT, "move in": "on_hand > 0 AND held >= 0",
    "hold": "on_hand = 0 AND held > 0", "release": "on_hand = 0 AND held < 0", "issue": _OUT,
    "set aside": "on_hand = 0 AND held > 0", "give back": "on_hand = 0 AND held < 0",
    "planned": _SAME, "picking": _SAME, "picked": _SAME, "quarantine": _SAME, "send back": _OUT,
}
#: Actions that only a hold can be the reason of.
_OF_HOLDS = ("hold", "release", "planned", "picking", "picked")
#: Actions that only something set aside can be the reason of.
_OF_RESERVES = ("set aside", "give back")


def _fits(actions: dict[str, str]) -> str:
    """For each action, the changes that it may make."""
    by_change: dict[str, list[str]] = {}
    for action, change in actions.items():
        by_change.setdefault(change, []).append(action)
    return " OR ".join(f"({one_of('action', tuple(words))} AND {change})" for change, words in by_change.items())


class Site(SQLModel, table=True):
    """A place with a shelf of its own."""

    __table_args__ = (not_empty("name"),)
    name: str = Field(primary_key=True)


class Bin(SQLModel, table=True):
    """Where things lie: aisle-rack-level-place, or another name; `waits` says what sort of place it is
    (shelf, bulk point, tool store, flammables cupboard, bench stock)."""

    __table_args__ = (
        UniqueConstraint("site", "name"), UniqueConstraint("id", "site"), not_empty("name"),
        CheckConstraint(one_of("waits", WAITS), name="waits"),
    )
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    name: str
    waits: str = "shelf"


class Lot(SQLModel, table=True):
    """A receipt of an item at a site: its number ("" where it has none), the unit that all its amounts are in, the
    last day of use, why it is in quarantine ("" if not)."""

    __table_args__ = (
        UniqueConstraint("site", "item", "number"), UniqueConstraint("id", "site"), not_empty("item"),
        CheckConstraint(one_of("unit", UNITS), name="unit"),
    )
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    item: str = Field(index=True)
    number: str = ""
    unit: str
    use_by: date | None = None
    quarantine: str = ""
    received_at: datetime = Field(sa_column=Column(Moment, nullable=False))


class Stock(SQLModel, table=True):
    """How much of a lot belongs in a bin, and how much of that is promised: never below zero, never more than is there.

    What was picked counts until it is issued, though it lies in a tote by then. `changes` is how many rows of the
    ledger made this balance. Lot and bin are of one site.
    """

    __table_args__ = (
        ForeignKeyConstraint(["lot", "site"], ["lot.id", "lot.site"]),
        ForeignKeyConstraint(["bin", "site"], ["bin.id", "bin.site"]),
        whole("on_hand", "held", "changes"),
        CheckConstraint("on_hand >= 0", name="on_hand"),
        CheckConstraint("held >= 0 AND held <= on_hand", name="held"),
    )
    lot: int = Field(sa_column=key_part("lot", primary_key=True))
    bin: int = Field(sa_column=key_part("bin", primary_key=True))
    site: str
    on_hand: int = Field(sa_column=big("on_hand"))
    held: int = Field(sa_column=big("held"))
    changes: int = Field(sa_column=big("changes"))


class Visit(SQLModel, table=True):
    """A vehicle's stay; bookings are of one visit only if their diary says so."""

    __table_args__ = (UniqueConstraint("diary", "name"), not_empty("diary", "name"))
    id: int | None = Field(default=None, primary_key=True)
    diary: str
    name: str
    registration: str = ""


class Booking(SQLModel, table=True):
    """One job type at a planned start. `number` is what people see and scan, and is never used again.

    `told` is what the diary told last (JSON): only what it tells anew changes the row, so that what was changed at
    the desk stays until the diary itself says something else. `start_wall` is the wall time at the site, in `zone`.
    """

    __table_args__ = (
        UniqueConstraint("diary", "uid", "recurrence"),
        CheckConstraint(one_of("state", ("enquiry", "authorised", "cancelled")), name="state"),
        CheckConstraint(one_of("priority", ("normal", "VOR")), name="priority"),
        CheckConstraint("revision >= 0", name="revision"),
        not_empty("diary", "uid", "job", "start_wall", "zone"),
        Index("ix_booking_site_start", "site", "start"),
        {"sqlite_autoincrement": True},
    )
    number: int | None = Field(default=None, primary_key=True)
    diary: str
    uid: str
    recurrence: str = ""
    revision: int = 0
    visit: int | None = Field(default=None, sa_column=link("visit", "visit.id", nullable=True))
    site: str = Field(foreign_key="site.name")
    job: str
    registration: str = ""
    start_wall: str
    zone: str
    start: datetime = Field(sa_column=Column(Moment, nullable=False))
    state: str
    priority: str = "normal"
    bay: str = ""
    technician: str = ""
    facts: str = "{}"
    told: str = "{}"
    missing_since: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    actual_start: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))


class StoredKit(SQLModel, table=True):
    """A booking's kit as built, whole, with the statements it was built from; an edition's cache may be gone."""

    __tablename__ = "kit"
    booking: int = Field(sa_column=link("booking", "booking.number", primary_key=True))
    edition: str
    fingerprint: str
    kit: str
    statements: str
    built_at: datetime = Field(sa_column=Column(Moment, nullable=False))


class Edit(SQLModel, table=True):
    """A change by hand to a booking's kit; it addresses a role and item or requirement, never stage or amount."""

    __table_args__ = (
        CheckConstraint(one_of("action", ("add", "swap", "strike", "amount")), name="action"),
        CheckConstraint("action NOT IN ('add', 'swap') OR item <> ''", name="item"),
        CheckConstraint("action = 'add' OR filler <> ''", name="filler"),
        CheckConstraint(
            "(amount IS NULL AND action <> 'amount') OR (amount IS NOT NULL AND amount > 0)", name="amount"),
        not_empty("role", "who", "why"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    booking: int = Field(sa_column=link("booking", "booking.number", index=True))
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
    undone_by: str = ""


class Hold(SQLModel, table=True):
    """Stock promised to a need of a booking; the item is its lot's. Asking for a `promise` twice is asking once; one
    taken from several bins, or let go and made again, has several parts."""

    __table_args__ = (
        UniqueConstraint("promise", "part"),
        ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"]),
        whole("quantity"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint(one_of("state", HOLD_STATES), name="state"),
        not_empty("promise", "need", "changed_by"),
        Index("ix_hold_place", "lot", "bin"),
    )
    id: int | None = Field(default=None, primary_key=True)
    promise: str
    part: int
    booking: int = Field(sa_column=link("booking", "booking.number", index=True))
    need: str
    lot: int = Field(sa_column=key_part("lot"))
    bin: int = Field(sa_column=key_part("bin"))
    quantity: int = Field(sa_column=big("quantity"))
    state: str
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    changed_by: str


class Reserve(SQLModel, table=True):
    """Stock that is set aside at a site for what may turn out in a day's bookings together, for none of them alone.
    `bookings`: their numbers (JSON)."""

    __table_args__ = (
        ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"]),
        ForeignKeyConstraint(["bin", "site"], ["bin.id", "bin.site"]),
        whole("quantity"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint(one_of("state", ("set aside", "given back")), name="state"),
        not_empty("bookings", "changed_by"),
        Index("ix_reserve_set_aside", "day", "lot", "bin", unique=True, sqlite_where=text("state = 'set aside'"),
              postgresql_where=text("state = 'set aside'")),
        Index("ix_reserve_site_state", "site", "state"),
        Index("ix_reserve_place", "lot", "bin"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    site: str
    day: date
    lot: int = Field(sa_column=key_part("lot"))
    bin: int = Field(sa_column=key_part("bin"))
    quantity: int = Field(sa_column=big("quantity"))
    state: str
    bookings: str
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    changed_by: str


class Ledger(SQLModel, table=True):
    """Every change to stock, and every step of a hold, in order. `on_hand` and `held` are what it changed,
    `on_hand_after` and `held_after` what was there then; `number` counts the rows of one lot in one bin from 1, so that
    a row that was changed or taken out breaks the chain where it stood."""

    __table_args__ = (
        UniqueConstraint("lot", "bin", "number"),
        ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"]),
        CheckConstraint(_fits(ACTIONS), name="action"),
        CheckConstraint(
            f"NOT ({one_of('action', _OF_HOLDS)}) OR (hold IS NOT NULL AND booking IS NOT NULL)", name="hold"),
        CheckConstraint(f"({one_of('action', _OF_RESERVES)}) = (reserve IS NOT NULL)", name="reserve"),
        CheckConstraint("number > 0", name="number"),
        whole("on_hand", "held", "on_hand_after", "held_after"),
        CheckConstraint("held_after >= 0 AND held_after <= on_hand_after", name="after"),
        not_empty("who"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    action: str
    lot: int = Field(sa_column=key_part("lot"))
    bin: int = Field(sa_column=key_part("bin"))
    number: int = Field(sa_column=big("number"))
    on_hand: int = Field(sa_column=big("on_hand"))
    held: int = Field(sa_column=big("held"))
    on_hand_after: int = Field(sa_column=big("on_hand_after"))
    held_after: int = Field(sa_column=big("held_after"))
    booking: int | None = Field(default=None, sa_column=link("booking", "booking.number", nullable=True))
    hold: int | None = Field(default=None, sa_column=link("hold", "hold.id", nullable=True))
    who: str
    why: str = ""
    reserve: int | None = Field(default=None, sa_column=link("reserve", "reserve.id", nullable=True))


class Run(SQLModel, table=True):
    """One run for a site and a day; one at a time. `now` and `quotes` are frozen at its first step."""

    __table_args__ = (
        CheckConstraint(one_of("state", ("running", "done")), name="state"),
        CheckConstraint("state = 'running' OR finished_at IS NOT NULL", name="finished"),
        Index("ix_run_running", "site", "day", unique=True, sqlite_where=text("state = 'running'"),
              postgresql_where=text("state = 'running'")),
        Index("ix_run_site_day", "site", "day"),
    )
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    day: date
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
    run: int = Field(sa_column=link("run", "run.id"))
    name: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    result: str = ""


class Check(SQLModel, table=True):
    """A scan of the technician's kit check: what was found in the tote; one that is taken back is deleted."""

    __tablename__ = "kit_check"
    __table_args__ = (CheckConstraint("quantity > 0", name="quantity"), not_empty("item", "who"))
    id: int | None = Field(default=None, primary_key=True)
    booking: int = Field(sa_column=link("booking", "booking.number", index=True))
    item: str
    lot: str = ""
    quantity: int = Field(sa_column=big("quantity"))
    who: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))


class ShortPick(SQLModel, table=True):
    """A pick that found less than was promised; it starts a count and sourcing again."""

    __tablename__ = "short_pick"
    __table_args__ = (CheckConstraint("missing > 0", name="missing"), not_empty("who"))
    id: int | None = Field(default=None, primary_key=True)
    booking: int = Field(sa_column=link("booking", "booking.number", index=True))
    hold: int = Field(sa_column=link("hold", "hold.id", index=True))
    missing: int = Field(sa_column=big("missing"))
    who: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    counted_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
