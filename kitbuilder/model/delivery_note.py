"""What the codes on delivered goods say, as values."""

from datetime import date
from typing import Literal

import msgspec
from msgspec import UNSET, UnsetType


class NoteRow(msgspec.Struct, frozen=True):
    """So much of an item that came: milli-units of `unit`, of a lot ("" where none is told), to be used by a day;
    `scans` are the numbers of the lines that told it, from 1; `order` is the purchase order number there ("": none)."""

    item: str
    lot: str
    use_by: date | None
    quantity: int
    unit: str
    scans: tuple[int, ...]
    order: str = ""


class NoteFault(msgspec.Struct, frozen=True):
    """A scanned line that can't be taken: its number, what was read, what is wrong."""

    scan: int
    read: str
    text: str


class DeliveryNote(msgspec.Struct, frozen=True):
    """All scans of a delivery: rows by item, lot and order, the numbers of its pallets and boxes (SSCC), and what
    couldn't be taken; the purchase order numbers and shipment numbers (GSIN) on labels that name no item."""

    rows: tuple[NoteRow, ...]
    containers: tuple[str, ...]
    faults: tuple[NoteFault, ...]
    orders: tuple[str, ...] = ()
    shipments: tuple[str, ...] = ()


class AgainstOrder(msgspec.Struct, frozen=True):
    """What became of a row against an order, or would: how it stands to it (`takes`; `booked before`: with this note
    already, so that nothing was done), how much of it is more than was ordered, what is held for which bookings, the
    lot that it is in, the order's state then, and the return that is proposed (null: none, or only read)."""

    order: int
    item: str
    lot: str
    amount: str
    unit: str
    takes: Literal["ordered", "instead", "wrong", "beyond", "booked before"]
    beyond: str
    held: dict[int, str]
    state: str
    proposed_return: int | None
    scans: tuple[int, ...] = ()


class Scanned(msgspec.Struct, frozen=True):
    """`kitbuilder stock scan --json`; `bin` is where the rows were booked in, null where they were only read. Against
    orders also the delivery note's number ("": not told) and what became of each row."""

    format: Literal["kitbuilder.scanned/1"]
    warnings: tuple[str, ...]
    note: DeliveryNote
    bin: str | None
    note_number: str | UnsetType = UNSET
    against: tuple[AgainstOrder, ...] | UnsetType = UNSET
