"""The workshop's answers as JSON: stock, bookings, orders, what a command did."""

from typing import Literal

import msgspec


class AsideListed(msgspec.Struct, frozen=True):
    """So much is set aside for what may turn out on a day in some bookings."""

    day: str
    amount: str
    bookings: tuple[int, ...]


class LotListed(msgspec.Struct, frozen=True):
    """A lot in a bin; amounts are decimals in `unit`. `set_aside`: what of `held` is for a day's findings."""

    item: str
    lot: str
    bin: str
    on_hand: str
    held: str
    unit: str
    use_by: str | None
    site: str
    quarantine: str
    set_aside: tuple[AsideListed, ...] = ()


class LotsListed(msgspec.Struct, frozen=True):
    """`kitbuilder stock list --json`."""

    format: Literal["kitbuilder.stock/1"]
    warnings: tuple[str, ...]
    lots: tuple[LotListed, ...]


class AuditListed(msgspec.Struct, frozen=True):
    """`kitbuilder stock audit --json`; no fault means that every balance is proved."""

    format: Literal["kitbuilder.audit/1"]
    warnings: tuple[str, ...]
    faults: tuple[str, ...]


class BookingListed(msgspec.Struct, frozen=True):
    """A booking; `id` is the number that people see, `start` ISO 8601 with its offset."""

    id: int
    start: str
    job: str
    vehicle: str
    site: str
    state: str
    priority: str
    visit: str
    missing: bool


class BookingsListed(msgspec.Struct, frozen=True):
    """`kitbuilder book list --json`."""

    format: Literal["kitbuilder.bookings/1"]
    warnings: tuple[str, ...]
    bookings: tuple[BookingListed, ...]


class OrderLineListed(msgspec.Struct, frozen=True):
    """An item in an order; amount and money as decimals. `confirmed` is what the supplier accepted (None: not told),
    `substitute` the item that comes in its place; `because`: why it is ordered instead of what a kit names, in
    sentences."""

    item: str
    amount: str
    unit: str
    packs: int
    price: str
    confirmed: str | None = None
    substitute: str = ""
    returnable: bool = True
    because: tuple[str, ...] = ()
    expected: str | None = None


class OrderListed(msgspec.Struct, frozen=True):
    """An order; times are ISO 8601, UTC. `total` is with the fee, as confirmed where that is told. `said`: what the
    supplier said last, what isn't clear, or why a proposal waits for a person though the settings let others go."""

    id: int
    source: str
    state: str
    ready: str
    cut_off: str | None
    expected: str | None
    currency: str
    fee: str
    lines: tuple[OrderLineListed, ...]
    bookings: tuple[int, ...]
    decided_by: str
    supplier_number: str = ""
    said: str = ""
    site: str = ""
    from_site: str = ""
    total: str = ""


class LoadRowListed(msgspec.Struct, frozen=True):
    """What is to be fetched from a bin for another site; `booking` is the one that it is for."""

    item: str
    lot: str
    bin: str
    amount: str
    unit: str
    use_by: str | None
    booking: int


class LoadListed(msgspec.Struct, frozen=True):
    """What is to be loaded at a site (`from_site`) for another (`site`), or is on its way; times are ISO 8601, UTC."""

    order: int
    from_site: str
    site: str
    source: str
    slot: str
    state: str
    leaves: str | None
    ready: str
    rows: tuple[LoadRowListed, ...]


class OrdersListed(msgspec.Struct, frozen=True):
    """`kitbuilder order list --json`; `loads`: what goes from here to other sites."""

    format: Literal["kitbuilder.orders/1"]
    warnings: tuple[str, ...]
    orders: tuple[OrderListed, ...]
    loads: tuple[LoadListed, ...] = ()


class Done(msgspec.Struct, frozen=True):
    """What a command that changes something did, in words."""

    format: Literal["kitbuilder.done/1"]
    warnings: tuple[str, ...]
    text: str
    number: int | None = None
