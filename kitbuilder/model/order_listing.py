"""Orders' histories, what was sent, and what goes back, as JSON; money and amounts as decimals, times ISO 8601."""

from typing import Literal

import msgspec

from kitbuilder.model.workshop_listing import OrderListed


class ChangeListed(msgspec.Struct, frozen=True):
    """A change of an order."""

    at: str
    state: str
    who: str
    text: str


class OrderShown(msgspec.Struct, frozen=True):
    """`kitbuilder order show --json`; `came`: how much has come of each item that was asked for."""

    format: Literal["kitbuilder.order-shown/1"]
    warnings: tuple[str, ...]
    order: OrderListed
    key: str
    changes: tuple[ChangeListed, ...]
    came: dict[str, str] = {}


class SentListed(msgspec.Struct, frozen=True):
    """An order that was sent or asked after: its states before and after, what is to be told."""

    order: int
    source: str
    before: str
    state: str
    text: str
    by_hand: bool


class AllSent(msgspec.Struct, frozen=True):
    """`kitbuilder order send --json`."""

    format: Literal["kitbuilder.sent/1"]
    warnings: tuple[str, ...]
    orders: tuple[SentListed, ...]


class ReturnListed(msgspec.Struct, frozen=True):
    """Something that goes back to a supplier."""

    id: int
    source: str
    order: int | None
    item: str
    lot: str
    bin: str
    amount: str
    unit: str
    why: str
    until: str | None
    currency: str
    fee: str
    credit: str | None
    state: str
    changed_at: str
    changed_by: str


class ReturnsListed(msgspec.Struct, frozen=True):
    """`kitbuilder order returns --json`."""

    format: Literal["kitbuilder.returns/1"]
    warnings: tuple[str, ...]
    returns: tuple[ReturnListed, ...]


class UnitListed(msgspec.Struct, frozen=True):
    """An old unit that is owed for an exchange unit."""

    id: int
    booking: int
    item: str
    amount: str
    due: str | None
    wanted: str
    currency: str
    deposit: str
    state: str
    changed_at: str
    changed_by: str


class UnitsListed(msgspec.Struct, frozen=True):
    """`kitbuilder order units --json`."""

    format: Literal["kitbuilder.exchange-units/1"]
    warnings: tuple[str, ...]
    units: tuple[UnitListed, ...]
