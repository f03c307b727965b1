"""What the codes on delivered goods say, as values."""

from datetime import date
from typing import Literal

import msgspec


class NoteRow(msgspec.Struct, frozen=True):
    """So much of an item that came: milli-units of `unit`, of a lot ("" where none is told), to be used by a day;
    `scans` are the numbers of the lines that told it, from 1."""

    item: str
    lot: str
    use_by: date | None
    quantity: int
    unit: str
    scans: tuple[int, ...]


class NoteFault(msgspec.Struct, frozen=True):
    """A scanned line that can't be taken: its number, what was read, what is wrong."""

    scan: int
    read: str
    text: str


class DeliveryNote(msgspec.Struct, frozen=True):
    """All scans of a delivery: rows by item and lot, the numbers of its pallets and boxes (SSCC), and what couldn't be
    taken."""

    rows: tuple[NoteRow, ...]
    containers: tuple[str, ...]
    faults: tuple[NoteFault, ...]


class Scanned(msgspec.Struct, frozen=True):
    """`kitbuilder stock scan --json`; `bin` is where the rows were booked in, null where they were only read."""

    format: Literal["kitbuilder.scanned/1"]
    warnings: tuple[str, ...]
    note: DeliveryNote
    bin: str | None
