"""The tables of orders: what is asked of suppliers, what they answered, what came, what goes back to them."""

from datetime import date, datetime

from sqlalchemy import BigInteger, CheckConstraint, Column, ForeignKeyConstraint, Index, UniqueConstraint, text
from sqlmodel import Field, SQLModel

from kitbuilder.amount import UNITS
from kitbuilder.model.order import (
    DELIVERED,
    EXCHANGE_STATES,
    EXPECTED,
    ORDER_STATES,
    RETURN_STATES,
    SENT,
)
from kitbuilder.model.stock_elsewhere import ISSUE_STATES
from kitbuilder.store.columns import Moment, big, key_part, link, not_empty, one_of


class Order(SQLModel, table=True):
    """What is to be asked of a supplier in one slot: proposed until a named person decides. A number stands for what
    was seen under it: a proposal that changes gets another, and none is used again. Of one key there is one proposal
    at most; `sequence` tells it from what was decided before.

    Once approved, the row is its own entry of the outbox: key and sequence are the key that a supplier gets, `sent_at`
    is committed before anything is sent. `answer` is the supplier's as it counts (JSON), so that the same one again is
    known; `said` is what they said, or what isn't clear.
    """

    __tablename__ = "supplier_order"
    __table_args__ = (
        CheckConstraint(one_of("state", ORDER_STATES), name="state"),
        CheckConstraint("state = 'proposed' OR (decided_by <> '' AND decided_at IS NOT NULL)", name="decided"),
        CheckConstraint(
            f"NOT ({one_of('state', (*EXPECTED, 'changed', 'received'))}) OR expected_at IS NOT NULL", name="expected"),
        CheckConstraint(f"NOT ({one_of('state', SENT)}) OR sent_at IS NOT NULL", name="sent"),
        CheckConstraint("fee >= 0", name="fee"),
        CheckConstraint("length(currency) = 3", name="currency"),
        not_empty("key", "source", "slot"),
        UniqueConstraint("key", "sequence"),
        Index("ix_supplier_order_proposed", "key", unique=True, sqlite_where=text("state = 'proposed'"),
              postgresql_where=text("state = 'proposed'")),
        Index("ix_supplier_order_site_state", "site", "state"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    key: str
    sequence: int
    site: str = Field(foreign_key="site.name")
    source: str
    slot: str
    ready: datetime = Field(sa_column=Column(Moment, nullable=False))
    cut_off: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    currency: str
    fee: int = Field(sa_column=big("fee"))
    state: str
    proposed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    expected_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    decided_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    decided_by: str = ""
    sent_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    answered_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))
    supplier_number: str = ""
    answer: str = ""
    said: str = ""


class OrderLine(SQLModel, table=True):
    """An item in an order: so much for `minor` money, made of `packs` (JSON: milli-units, count; none: loose).

    What the supplier confirmed of it (None: not told yet), for how much money, which item in its place ("": none), and
    when it comes if not with the rest of the order (None: with it); whether they take it back unused.
    """

    __table_args__ = (
        UniqueConstraint("order", "item"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("minor >= 0", name="minor"),
        CheckConstraint("confirmed >= 0", name="confirmed"),
        CheckConstraint("confirmed_minor >= 0", name="confirmed_minor"),
        CheckConstraint(one_of("unit", UNITS), name="unit"),
    )
    __tablename__ = "order_line"
    id: int | None = Field(default=None, primary_key=True)
    order: int = Field(sa_column=link("order", "supplier_order.id"))
    item: str
    unit: str
    quantity: int = Field(sa_column=big("quantity"))
    packs: str = "[]"
    minor: int = Field(sa_column=big("minor"))
    confirmed: int | None = Field(default=None, sa_column=Column("confirmed", BigInteger, nullable=True))
    confirmed_minor: int | None = Field(default=None, sa_column=Column("confirmed_minor", BigInteger, nullable=True))
    substitute: str = ""
    returnable: bool = True
    expected_at: datetime | None = Field(default=None, sa_column=Column(Moment, nullable=True))


class OrderFor(SQLModel, table=True):
    """For which line of which booking an order's item is, and how much of it; `coming` is what is still to come."""

    __tablename__ = "order_for"
    __table_args__ = (
        UniqueConstraint("order", "item", "booking", "need"),
        ForeignKeyConstraint(["order", "item"], ["order_line.order", "order_line.item"]),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("coming >= 0 AND coming <= quantity", name="coming"),
    )
    id: int | None = Field(default=None, primary_key=True)
    order: int = Field(sa_column=key_part("order"))
    item: str
    booking: int = Field(sa_column=link("booking", "booking.number", index=True))
    need: str
    quantity: int = Field(sa_column=big("quantity"))
    coming: int = Field(sa_column=big("coming"))


class OrderEvent(SQLModel, table=True):
    """A change of an order: to which state, when, by whom, and what was told."""

    __tablename__ = "order_event"
    __table_args__ = (
        CheckConstraint(one_of("state", ORDER_STATES), name="state"), not_empty("who"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    order: int = Field(sa_column=link("order", "supplier_order.id", index=True))
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    state: str
    who: str
    text: str = ""


class Delivery(SQLModel, table=True):
    """What came under an order, by the number of the delivery note: booking the same line of it in twice is once.
    `takes` is how it stands to the order, `line` the item that was asked for ("" where it is none of the order's)."""

    __table_args__ = (
        UniqueConstraint("order", "note", "item", "lot"),
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint(one_of("unit", UNITS), name="unit"),
        CheckConstraint(one_of("takes", DELIVERED), name="takes"),
        not_empty("note", "item", "who"),
    )
    id: int | None = Field(default=None, primary_key=True)
    order: int = Field(sa_column=link("order", "supplier_order.id"))
    note: str
    item: str
    lot: str = ""
    line: str = ""
    quantity: int = Field(sa_column=big("quantity"))
    unit: str
    takes: str
    who: str
    at: datetime = Field(sa_column=Column(Moment, nullable=False))


class IssueElsewhere(SQLModel, table=True):
    """What was delivered from a source whose stock is kept elsewhere, and is to be issued there: queued with its
    delivery, in one transaction. `key` is what the source knows it by; `said` is why it isn't through."""

    __tablename__ = "issue_elsewhere"
    __table_args__ = (
        UniqueConstraint("delivery"),
        UniqueConstraint("key"),
        CheckConstraint(one_of("state", ISSUE_STATES), name="state"),
        not_empty("key", "changed_by"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    delivery: int = Field(sa_column=link("delivery", "delivery.id"))
    key: str
    state: str = Field(index=True)
    said: str = ""
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    changed_by: str


class SupplierReturn(SQLModel, table=True):
    """What goes back to a supplier: from which bin and lot, why, until when they take it, what they keep as a fee, and
    what they are to credit (None: not known)."""

    __tablename__ = "supplier_return"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("fee >= 0", name="fee"),
        CheckConstraint("credit >= 0", name="credit"),
        CheckConstraint("length(currency) = 3", name="currency"),
        CheckConstraint(one_of("unit", UNITS), name="unit"),
        CheckConstraint(one_of("state", RETURN_STATES), name="state"),
        not_empty("source", "item", "bin", "why", "changed_by"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    site: str = Field(foreign_key="site.name")
    source: str
    order: int | None = Field(default=None, sa_column=link("order", "supplier_order.id", nullable=True))
    item: str
    lot: str = ""
    bin: str
    quantity: int = Field(sa_column=big("quantity"))
    unit: str
    why: str
    until: date | None = None
    currency: str
    fee: int = Field(sa_column=big("fee"))
    credit: int | None = Field(default=None, sa_column=Column("credit", BigInteger, nullable=True))
    state: str
    said: str = ""
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    changed_by: str


class ExchangeReturn(SQLModel, table=True):
    """An old unit that is owed for an exchange unit which a booking used: by when, in what state it is wanted (words of
    the catalogue), and the deposit on it."""

    __tablename__ = "exchange_return"
    __table_args__ = (
        CheckConstraint("quantity > 0", name="quantity"),
        CheckConstraint("deposit >= 0", name="deposit"),
        CheckConstraint("length(currency) = 3", name="currency"),
        CheckConstraint(one_of("state", EXCHANGE_STATES), name="state"),
        not_empty("item", "changed_by"),
        UniqueConstraint("hold"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    hold: int = Field(sa_column=link("hold", "hold.id"))
    booking: int = Field(sa_column=link("booking", "booking.number", index=True))
    item: str
    quantity: int = Field(sa_column=big("quantity"))
    due: date | None = None
    currency: str
    deposit: int = Field(sa_column=big("deposit"))
    wanted: str = ""
    state: str
    said: str = ""
    changed_at: datetime = Field(sa_column=Column(Moment, nullable=False))
    changed_by: str


class ReturnEvent(SQLModel, table=True):
    """A change of something that goes back: a supplier return or an old unit, one of the two."""

    __tablename__ = "return_event"
    __table_args__ = (
        CheckConstraint("(supplier_return IS NULL) <> (exchange_return IS NULL)", name="of_one"),
        not_empty("state", "who"),
        {"sqlite_autoincrement": True},
    )
    id: int | None = Field(default=None, primary_key=True)
    supplier_return: int | None = Field(
        default=None, sa_column=link("supplier_return", "supplier_return.id", nullable=True, index=True))
    exchange_return: int | None = Field(
        default=None, sa_column=link("exchange_return", "exchange_return.id", nullable=True, index=True))
    at: datetime = Field(sa_column=Column(Moment, nullable=False))
    state: str
    who: str
    text: str = ""
