"""Bookings, as values."""

from datetime import datetime
from typing import Literal

import msgspec

BookingState = Literal["enquiry", "authorised", "cancelled"]
Priority = Literal["normal", "VOR"]


class DiaryEntry(msgspec.Struct, frozen=True, kw_only=True):
    """A booking as its diary tells it. `start` is wall time at the site, without a zone; `facts` as told.

    `id` is the diary's own, stable; `recurrence` tells repeats of one id apart; a lower `revision` than one that is
    known already is ignored. Bookings are of one visit if their diary gives them the same `visit`, never by guess.
    """

    id: str
    start: datetime
    site: str
    job: str
    recurrence: str = ""
    revision: int = 0
    visit: str = ""
    registration: str = ""
    state: BookingState = "authorised"
    priority: Priority = "normal"
    bay: str = ""
    technician: str = ""
    facts: dict[str, str] = {}


class Booking(msgspec.Struct, frozen=True, kw_only=True):
    """A booking as the store has it. `number` is what people see, type and scan. `start` is UTC, `start_wall` the
    wall time at the site (ISO 8601, no zone) in `zone`. One that vanished from its diary is `missing`, not
    cancelled."""

    number: int
    diary: str
    id: str
    recurrence: str
    revision: int
    visit: str
    site: str
    job: str
    registration: str
    start: datetime
    start_wall: str
    zone: str
    state: BookingState
    priority: Priority
    bay: str
    technician: str
    facts: dict[str, str]
    missing: bool
    actual_start: datetime | None = None


class EditRow(msgspec.Struct, frozen=True, kw_only=True):
    """A change by hand to a booking's kit: who did it, and why. It addresses a role and the item or requirement that
    fills it (`filler`), never stage or amount. `amount` in milli-units of `unit`."""

    id: int = 0
    booking: int
    action: Literal["add", "swap", "strike", "amount"]
    role: str
    filler: str = ""
    item: str = ""
    amount: int | None = None
    unit: str = ""
    who: str
    why: str
    at: datetime


class KitRow(msgspec.Struct, frozen=True):
    """A booking's kit as built, as JSON, with the statements it was built from (JSON too)."""

    booking: int
    edition: str
    fingerprint: str
    kit: bytes
    statements: bytes
    built_at: datetime
