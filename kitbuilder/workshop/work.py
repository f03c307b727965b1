"""Puts together what is worked with at the bay and at night: a booking's kit, its edits, its stages in time."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

import msgspec
from msgspec import UNSET

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.working import stage_starts
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import BadData, Contradiction, WrongUse
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.conditions import Conditions
from kitbuilder.kit.on_condition import with_along
from kitbuilder.kit.stages import stage_minutes
from kitbuilder.kit.totals import totals
from kitbuilder.model.booking import Booking, EditRow, KitRow
from kitbuilder.model.catalogue import Item, Key, Stage
from kitbuilder.model.kit import Kit
from kitbuilder.model.order import OPEN, OrderRow
from kitbuilder.model.work import WorkKit
from kitbuilder.stock.supersede import as_taken, superseded
from kitbuilder.store import bookings
from kitbuilder.store.database import Store
from kitbuilder.store.holds import holds
from kitbuilder.store.orders import orders
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.lines import edited_key, share_visit, work_kit
from kitbuilder.workshop.needs import with_chosen, with_open


class Work(msgspec.Struct, frozen=True):
    """A booking with its kit, the statements it was built from, its lines after edits, its stages in time (UTC):
    `starts` at the earliest, `ends` at the latest. `edition`: the one that the lines were worked out with, which may
    be newer than the kit's."""

    booking: Booking
    kit: Kit
    statements: tuple[Statement, ...]
    lines: WorkKit
    stages: tuple[Stage, ...]
    starts: dict[str, datetime]
    ends: dict[str, datetime]
    edition: str

    @property
    def finish(self) -> datetime:
        """When the last stage is done at the latest."""
        return self.ends[self.stages[-1].name]

    @property
    def outdated(self) -> str:
        """A warning if the catalogue has changed since the kit was built, else empty."""
        if self.edition == self.kit.edition:
            return ""
        return (f"The catalogue has changed since booking {self.booking.number}'s kit was built; "
                "the next run builds it anew.")


class _Parts(NamedTuple):
    """What a kit is worked out from besides itself."""

    edition: Edition
    site: Site
    edits: Sequence[EditRow]


def told_of(booking: Booking, visit: Sequence[Booking], edition: Edition) -> list[Statement]:
    """What the diary tells of a booking: its own facts, and what its visit's other bookings tell of the vehicle."""
    told = {(name, cell): booking.number for name, cell in booking.facts.items() if cell}
    for other in visit:
        for name, cell in other.facts.items():
            number = edition.space.number.get(name)
            if cell and number is not None and edition.facts[number].of == "vehicle":
                # where it says something else of the one vehicle, both are told, so that it comes out
                told.setdefault((name, cell), other.number)
    return [Statement(name, cell, TOLD, f"booking {number}") for (name, cell), number in told.items()]


def in_visit_order(bookings: Sequence[Booking]) -> list[Booking]:
    """A visit's bookings in the order in which they get what the visit needs once: the earliest start first, but
    what an enquiry gets is not ordered, so it comes last."""
    return sorted(bookings, key=lambda one: (one.state != "authorised", one.start, one.number))


def build(edition: Edition, site: Site, booking: Booking, statements: Sequence[Statement],
          edits: Sequence[EditRow], conditions: Conditions | None = None) -> Work:
    """A booking's work from its statements. `conditions`: what goes along on condition. Raises as build_kit does."""
    kit = build_kit(edition, booking.job, statements)
    if conditions is not None:
        kit = with_along(edition, kit, statements, conditions)
    return _superseded(edition, _work(_Parts(edition, site, edits), booking, kit, statements, None))


def _superseded(edition: Edition, work: Work) -> Work:
    """A work with what may be taken for its lines by its planned day, not the clock's: run, pick list, check and gate
    go by the same numbers."""
    lines = superseded(work.lines, edition.supersessions, date.fromisoformat(work.booking.start_wall[:10]),
                       edition.known_item, [stage.name for stage in work.stages])
    return msgspec.structs.replace(work, lines=lines)


def with_ways_taken(store: Store, works: Sequence[Work]) -> list[Work]:
    """Works with the lines of the ways that are taken, by what is held and ordered for them."""
    found = []
    ordered: dict[str, list[OrderRow]] = {}
    for work in works:
        if work.lines.instead:
            number, site = work.booking.number, work.booking.site
            if site not in ordered:
                ordered[site] = orders(store, site, OPEN)
            there = [row.need for row in holds(store, number) if row.state != "released"]
            there += [one.need for order in ordered[site] for one in order.wanted_for if one.booking == number]
            lines = as_taken(work.lines, {need.partition("/")[2] for need in there})
            work = msgspec.structs.replace(work, lines=lines)
        found.append(work)
    return found


def _work(parts: _Parts, booking: Booking, kit: Kit, statements: Sequence[Statement], now: datetime | None) -> Work:
    edition, edits = parts.edition, parts.edits
    minutes = stage_minutes(edition, booking.job, statements)
    found = [edition.known_role(name) for name in {*(line.role for line in kit.lines), *(edit.role for edit in edits)}]
    roles = {part.role.name: part.role for part in found if part is not None}
    named = [edition.known_item(edit.item) for edit in edits if edit.item]
    items = {item.number: item for item in named if item is not None}
    stages = [one.name for one in minutes]
    lines = work_kit(booking.number, kit, roles, items, edits, edition.findings, edition.job(booking.job).job.roles,
                     stages[0])

    def edited(role: str, key: Key) -> Key | None:
        # tools come back: open questions take none of them from stock
        if role in roles and roles[role].sort == "special tool":
            return None
        return edited_key(role, key, items, edits)

    lines = with_open(lines, totals(edition, booking.job, statements, edited), stages)
    if kit.along is not UNSET:
        lines = with_chosen(lines, kit.along)
    start = booking.actual_start or (booking.start if now is None else max(booking.start, now))
    least = stage_starts(parts.site, start, [(one.name, one.least) for one in minutes],
                         {one.name: one.cure_least for one in minutes})
    most = stage_starts(parts.site, start, [(one.name, one.most) for one in minutes],
                        {one.name: one.cure_most for one in minutes})
    return Work(
        booking, kit, tuple(statements), lines, tuple(Stage(one.name, one.least) for one in minutes),
        {one.name: one.start for one in least}, {one.name: one.end for one in most}, edition.name)


def kit_row(work: Work, now: datetime) -> KitRow:
    """What is stored of a work: the whole kit, and the statements it was built from."""
    return KitRow(
        work.booking.number, work.kit.edition, work.kit.fingerprint, msgspec.json.encode(work.kit),
        msgspec.json.encode(work.statements), now)


def load(store: Store, edition: Edition, site: Site, number: int, now: datetime | None = None) -> Work:
    """A booking's work as the last run built it, with its edits as they are now, sharing with its visit's others.

    With `now`, a job that should have started and hasn't is timed from then. Raises WrongUse for an unknown booking,
    BadData if it has no kit or the catalogue no longer has what it is built from.
    """
    booking = bookings.get(store, number)
    visit = [
        one for one in (bookings.every(store, booking.site) if booking.visit else ())
        if (one.diary, one.visit) == (booking.diary, booking.visit) and one.state != "cancelled"]
    works = {one.number: _stored(store, edition, site, one, now) for one in visit or [booking]}
    if booking.number not in works:  # a cancelled one shares nothing
        works = {booking.number: _stored(store, edition, site, booking, now)}
    work = works[booking.number]
    if work is None:
        raise BadData(f"Booking {number} has no kit yet. Run `kitbuilder night run`, which builds it.")
    together = [found for one in in_visit_order(visit) if (found := works.get(one.number)) is not None]
    if booking in visit and len(together) > 1:
        shared, _ = share_visit([one.lines for one in together])
        work = msgspec.structs.replace(work, lines=next(lines for lines in shared if lines.booking == number))
    return with_ways_taken(store, [_superseded(edition, work)])[0]


def _stored(store: Store, edition: Edition, site: Site, booking: Booking, now: datetime | None) -> Work | None:
    row = bookings.kit_of(store, booking.number)
    if row is None:
        return None
    kit = msgspec.json.decode(row.kit, type=Kit)
    statements = msgspec.json.decode(row.statements, type=tuple[Statement, ...])
    parts = _Parts(edition, site, bookings.edits_of(store, booking.number))
    # the kit as stored belongs to its job; a diary that changed it since is for the next run
    booking = msgspec.structs.replace(booking, job=kit.job)
    try:
        gone = {line.stage for line in kit.lines} - {stage.name for stage in edition.job(kit.job).job.stages}
        if gone:
            raise WrongUse(f"{kit.job} has no stage {min(gone)!r} any more.")
        return _work(parts, booking, kit, statements, now)
    except (WrongUse, Contradiction) as error:
        raise BadData(
            f"Booking {booking.number}'s kit no longer fits the catalogue: {error} Run the night again.") from error


def items_of(edition: Edition, works: Sequence[Work], more: Sequence[str] = ()) -> Mapping[str, Item]:
    """The items that some works' lines may be filled with, and others by number; those the catalogue has."""
    numbers = {
        number for work in works
        for line in (*work.lines.lines, *work.lines.extras, *work.lines.reserves, *work.lines.instead)
        for number in line.acceptable} | set(more)
    found = {number: edition.known_item(number) for number in sorted(numbers)}
    return {number: item for number, item in found.items() if item is not None}
