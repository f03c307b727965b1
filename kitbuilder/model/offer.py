"""What a stock source answers: offers, as values. Amounts are milli-units, money is minor units.

A quote is one source's whole answer at one moment: arrival slots with their terms, and offers that
refer to the slots by name. `Quote` validates its shape when it crosses the seam (see kitbuilder.stock).
"""

from datetime import date, datetime
from typing import Literal

import msgspec

Sureness = Literal["on the shelf", "dispatched", "confirmed", "promised"]


class Slot(msgspec.Struct, frozen=True, kw_only=True):
    """One time at which things from this source are there, and the terms of ordering for it.

    `ready`: when the parts are to hand (with zone). `cut_off`: order before this moment for it, None
    where nothing is ordered. `fee`: minor units charged once for an order in this slot; `minimum`: least
    value of such an order, in minor units.
    """

    name: str
    ready: datetime
    cut_off: datetime | None = None
    fee: int = 0
    minimum: int = 0


class Price(msgspec.Struct, frozen=True, kw_only=True):
    """`minor` units of money for `per` milli-units, if at least `least` milli-units are taken (a price break)."""

    minor: int
    per: int
    least: int = 0


class Arrival(msgspec.Struct, frozen=True, kw_only=True):
    """An offer in one slot: how sure it is, its prices (from the smallest break up; none where no price is
    known), and the most that can come in this slot, in milli-units (None: as much as the pool holds)."""

    slot: str
    sureness: Sureness
    prices: tuple[Price, ...] = ()
    most: int | None = None


class Offer(msgspec.Struct, frozen=True, kw_only=True):
    """What a source has of one item.

    `pool`: how much there is over all slots, in milli-units of `unit` (None: as much as is asked for).
    `packs`: pack sizes in milli-units (none: any amount); `least`: least amount of an order;
    `returnable`: whether it may go back unused; `deposit`: minor units per unit, for exchange units.
    `lot` and `use_by`: of which lot it is and the last day it may be used, where the source tells.
    """

    item: str
    unit: str
    pool: int | None
    arrivals: tuple[Arrival, ...]
    packs: tuple[int, ...] = ()
    least: int = 0
    returnable: bool = True
    deposit: int = 0
    lot: str = ""
    use_by: date | None = None


class Quote(msgspec.Struct, frozen=True, kw_only=True):
    """The answer of a source: as of when (with zone), in which currency (ISO 4217), slots and offers.

    An item that is asked for and has no offer is one the source doesn't have. `unreadable` names items
    whose stock the source can't tell, and why: that is never the same as none. `kept` says why this is the last good
    answer and not a new one ("": it is new); one that is kept counts as stale, however young it is.

    `site`: the offers lie on the shelf of this site of the workshop's own store, and a slot is a trip from there. What
    a plan takes of them is held there, and brought as a transfer: it has no price, only the trip's fee ("": they are
    bought, or lie on the own shelf).
    """

    as_of: datetime
    currency: str
    slots: tuple[Slot, ...]
    offers: tuple[Offer, ...]
    unreadable: dict[str, str] = {}
    kept: str = ""
    site: str = ""


class Wanted(msgspec.Struct, frozen=True):
    """An item that a quote is wanted for, with the unit the catalogue counts it in and its codes."""

    item: str
    unit: str
    codes: tuple[str, ...] = ()


class QuoteRequest(msgspec.Struct, frozen=True):
    """What a source is asked: the items, and the moment that counts as now (with zone)."""

    wanted: tuple[Wanted, ...]
    now: datetime


class OrderItem(msgspec.Struct, frozen=True):
    """A line of an order that is sent: so many milli-units of `unit`, for `minor` money as it was quoted."""

    item: str
    unit: str
    quantity: int
    minor: int


class OrderRequest(msgspec.Struct, frozen=True, kw_only=True):
    """An order as it is sent to a supplier. `key` is this order's alone: what comes twice under it is one order.

    `slot` and `ready` are those of the quote, `cut_off` the last moment for it (None: none), `fee` what the slot costs
    in minor units of `currency`. `now` is the moment that counts as now.
    """

    key: str
    slot: str
    ready: datetime
    cut_off: datetime | None
    currency: str
    fee: int
    lines: tuple[OrderItem, ...]
    now: datetime


class AnsweredLine(msgspec.Struct, frozen=True, kw_only=True):
    """What a supplier accepts of a line: so many milli-units of the unit that was asked in, for `minor` money in all
    (None: as quoted), `substitute` if another item comes in its place, `ready` if at another time than the slot's."""

    item: str
    quantity: int
    minor: int | None = None
    substitute: str = ""
    ready: datetime | None = None


class OrderAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """A supplier's answer to an order: accepted (line by line; a line that isn't told isn't accepted), refused, or
    unknown: they have no order under this key. `number` is their own number of it, `fee` what they charge for it in all
    (None: as quoted), `says` one sentence."""

    state: Literal["accepted", "refused", "unknown"]
    lines: tuple[AnsweredLine, ...] = ()
    number: str = ""
    fee: int | None = None
    says: str = ""
