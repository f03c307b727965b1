"""Puts together what is worked with at the bay and at night: a booking's kit, its edits, its stages in time."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.working import stage_starts
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import BadData, KitbuilderError
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.stages import StageMinutes, stage_minutes
from kitbuilder.kit.totals import Total, totals
from kitbuilder.model.booking import Booking, EditRow, KitRow
from kitbuilder.model.catalogue import Item, Role, Stage
from kitbuilder.model.kit import Kit
from kitbuilder.model.work import WorkKit
from kitbuilder.store import bookings
from kitbuilder.store.database import Store
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.lines import work_kit


class Work(msgspec.Struct, frozen=True):
    """A booking with its kit, the statements it was built from, its lines after edits, its stages in time (UTC)."""

    booking: Booking
    kit: Kit
    statements: tuple[Statement, ...]
    lines: WorkKit
    stages: tuple[Stage, ...]
    starts: dict[str, datetime]
    finish: datetime
    totals: tuple[Total, ...]


def told_of(booking: Booking, visit: Sequence[Booking], edition: Edition) -> list[Statement]:
    """What the diary tells of a booking: its own facts, and what its visit's other bookings tell of the vehicle."""
    told = dict(booking.facts)
    for other in visit:
        for name, cell in other.facts.items():
            number = edition.space.number.get(name)
            if number is not None and edition.facts[number].of == "vehicle":
                told.setdefault(name, cell)
    return [Statement(name, cell, TOLD, f"booking {booking.number}") for name, cell in told.items() if cell]


def build(edition: Edition, site: Site, booking: Booking, statements: Sequence[Statement],
          edits: Sequence[EditRow]) -> Work:
    """A booking's work from its statements. Raises as build_kit does."""
    kit = build_kit(edition, booking.job, statements)
    minutes = stage_minutes(edition, booking.job, statements)
    sums = totals(edition, booking.job, statements)
    return _work(edition, site, booking, kit, statements, edits, minutes, sums)


def _work(edition: Edition, site: Site, booking: Booking, kit: Kit, statements: Sequence[Statement],
          edits: Sequence[EditRow], minutes: Sequence[StageMinutes], sums: Sequence[Total]) -> Work:
    roles: dict[str, Role] = {line.role: edition.role(line.role).role for line in kit.lines}
    known = {part.role.name: part.role for part in edition.roles() if part.role.name in {one.role for one in edits}}
    named = {edit.item for edit in edits if edit.item}
    items = {item.number: item for item in edition.items() if item.number in named} if named else {}
    lines = work_kit(booking.number, kit, {**known, **roles}, items, edits)
    start = booking.actual_start or booking.start
    least = stage_starts(site, start, [(one.name, one.least) for one in minutes])
    most = stage_starts(site, start, [(one.name, one.most) for one in minutes])
    return Work(
        booking, kit, tuple(statements), lines, tuple(Stage(one.name, one.least) for one in minutes),
        {one.name: one.start for one in least}, most[-1].end, tuple(sums))


def kit_row(work: Work, now: datetime) -> KitRow:
    """What is stored of a work: the whole kit, and the statements it was built from."""
    return KitRow(
        work.booking.number, work.kit.edition, work.kit.fingerprint, msgspec.json.encode(work.kit),
        msgspec.json.encode(work.statements), now)


def load(store: Store, edition: Edition, site: Site, number: int) -> Work:
    """A booking's work as the last run built it. Raises WrongUse for an unknown booking, BadData if it has no kit."""
    booking = bookings.get(store, number)
    row = bookings.kit_of(store, number)
    if row is None:
        raise BadData(f"Booking {number} has no kit yet. Run `kitbuilder night run`, which builds it.")
    kit = msgspec.json.decode(row.kit, type=Kit)
    statements = msgspec.json.decode(row.statements, type=tuple[Statement, ...])
    edits = bookings.edits_of(store, number)
    try:
        minutes = stage_minutes(edition, booking.job, statements)
        sums = totals(edition, booking.job, statements)
    except KitbuilderError as error:
        raise BadData(f"Booking {number}'s kit no longer fits the catalogue: {error}") from error
    return _work(edition, site, booking, kit, statements, edits, minutes, sums)


def items_of(edition: Edition, works: Sequence[Work], more: Sequence[str] = ()) -> Mapping[str, Item]:
    """The items that some works' lines may be filled with, and others by number."""
    numbers = {number for work in works for line in work.lines.lines for number in line.acceptable} | set(more)
    found = {}
    for number in sorted(numbers):
        try:
            found[number] = edition.item(number)
        except BadData:  # held or ordered under an earlier edition
            continue
    return found
