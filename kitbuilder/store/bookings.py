"""Visits, bookings, their kits as built and the edits by hand."""

import json
from collections.abc import Sequence
from datetime import UTC, datetime

from sqlalchemy import select
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.booking import Booking, DiaryEntry, EditRow, KitRow
from kitbuilder.store import tables
from kitbuilder.store.database import Store

_BOOKINGS = select(tables.Booking, tables.Visit.name).outerjoin(tables.Visit, tables.Visit.id == tables.Booking.visit)
#: A start is one thing: wall time, zone and moment belong together.
_OF_START = {"start", "start_wall", "zone"}


def put(store: Store, diary: str, entry: DiaryEntry, start: datetime, zone: str, now: datetime) -> tuple[int, bool]:
    """Put a diary's entry in, or bring the booking that it is up to date: its number, and whether anything changed.

    `start` is the entry's start in UTC. A lower revision than the known one is ignored. Of an entry that is known only
    what the diary tells anew changes the booking: what was changed at the desk stays until the diary says otherwise.
    Raises WrongUse if the entry has no id, or a start with a zone.
    """
    with store.writing() as session:
        return put_in(session, diary, entry, start, zone, now)


def put_in(session: Session, diary: str, entry: DiaryEntry, start: datetime, zone: str,
           now: datetime) -> tuple[int, bool]:
    """As `put`, inside a transaction that does more."""
    if not entry.id:
        raise WrongUse(f"An entry of the diary {diary} has no id.")
    if entry.start.tzinfo is not None:
        raise WrongUse(f"The start of {diary}'s entry {entry.id} is to be wall time at the site, without a zone.")
    if session.get(tables.Site, entry.site) is None:
        session.add(tables.Site(name=entry.site))
        session.flush()
    row = session.execute(select(tables.Booking).where(
        tables.Booking.diary == diary, tables.Booking.uid == entry.id,
        tables.Booking.recurrence == entry.recurrence)).scalar_one_or_none()
    if row is not None and entry.revision < row.revision:
        return row.number or 0, False
    told = _told(entry, start, zone)
    known: dict[str, object] = {} if row is None else json.loads(row.told)
    anew = {name for name, value in told.items() if name not in known or known[name] != value}
    values: dict[str, object] = {
        "visit": lambda: _visit(session, diary, entry), "site": entry.site, "job": entry.job,
        "registration": entry.registration, "start": start, "start_wall": entry.start.isoformat(), "zone": zone,
        "state": entry.state, "priority": entry.priority, "bay": entry.bay, "technician": entry.technician,
        "facts": json.dumps(entry.facts, sort_keys=True)}
    if anew & _OF_START:
        anew |= _OF_START
    changed: dict[str, object] = {name: value() if callable(value := values[name]) else value for name in anew}
    changed |= {"revision": entry.revision, "missing_since": None, "told": json.dumps(told, sort_keys=True)}
    if row is None:
        row = tables.Booking(diary=diary, uid=entry.id, recurrence=entry.recurrence, changed_at=now, **changed)
        session.add(row)
        session.flush()
        return row.number or 0, True
    changed = {name: value for name, value in changed.items() if getattr(row, name) != value}
    for name, value in changed.items():
        setattr(row, name, value)
    if changed:
        row.changed_at = now
        session.add(row)
        session.flush()
    return row.number or 0, bool(changed)


def _told(entry: DiaryEntry, start: datetime, zone: str) -> dict[str, object]:
    """What a diary tells of a booking, as it is kept to see what it tells anew: the columns by name."""
    return {
        "visit": entry.visit, "site": entry.site, "job": entry.job, "registration": entry.registration,
        "start": start.astimezone(UTC).isoformat(), "start_wall": entry.start.isoformat(), "zone": zone,
        "state": entry.state, "priority": entry.priority, "bay": entry.bay, "technician": entry.technician,
        "facts": json.dumps(entry.facts, sort_keys=True)}


def _visit(session: Session, diary: str, entry: DiaryEntry) -> int | None:
    if not entry.visit:
        return None
    row = session.execute(select(tables.Visit).where(
        tables.Visit.diary == diary, tables.Visit.name == entry.visit)).scalar_one_or_none()
    if row is None:
        row = tables.Visit(diary=diary, name=entry.visit, registration=entry.registration)
        session.add(row)
        session.flush()
    return row.id


def mark_missing_in(session: Session, numbers: Sequence[int], now: datetime) -> None:
    """Mark bookings that vanished from their diary."""
    for number in numbers:
        row = session.get(tables.Booking, number)
        if row is not None and row.missing_since is None:
            row.missing_since = now
            session.add(row)


def change(store: Store, number: int, now: datetime, **told: object) -> Booking:
    """Change columns of a booking (state, start, start_wall, actual_start, …) at the desk.

    Raises WrongUse if there is none, StoreRefuses if it is cancelled and isn't made to stand again.
    """
    with store.writing() as session:
        row = session.get(tables.Booking, number)
        if row is None:
            raise WrongUse(_no_booking(number))
        if row.state == "cancelled" and told.get("state") not in ("authorised", "enquiry"):
            raise StoreRefuses(f"Booking {number} is cancelled. Authorise it first.")
        for name, value in told.items():
            setattr(row, name, value)
        row.changed_at = now
        session.add(row)
    return get(store, number)


def _no_booking(number: int) -> str:
    return f"There is no booking {number}. `kitbuilder book list` shows all."


def get(store: Store, number: int) -> Booking:
    """A booking. Raises WrongUse if there is none."""
    with store.reading() as session:
        row = session.execute(_BOOKINGS.where(tables.Booking.number == number)).one_or_none()
        if row is None:
            raise WrongUse(_no_booking(number))
        return _value(*row)


def every(store: Store, site: str | None = None, since: datetime | None = None,
          until: datetime | None = None) -> list[Booking]:
    """Bookings by planned start, then number; `since` inclusive, `until` exclusive."""
    query = _BOOKINGS
    if site is not None:
        query = query.where(tables.Booking.site == site)
    if since is not None:
        query = query.where(tables.Booking.start >= since)
    if until is not None:
        query = query.where(tables.Booking.start < until)
    with store.reading() as session:
        rows = session.execute(query.order_by(tables.Booking.start, tables.Booking.number)).all()
        return [_value(row, visit) for row, visit in rows]


def _value(row: tables.Booking, visit: str | None) -> Booking:
    return Booking(
        number=row.number or 0, diary=row.diary, id=row.uid, recurrence=row.recurrence, revision=row.revision,
        visit=visit or "", site=row.site, job=row.job, registration=row.registration, start=row.start,
        start_wall=row.start_wall, zone=row.zone, state=row.state, priority=row.priority,
        bay=row.bay, technician=row.technician, facts=json.loads(row.facts), missing=row.missing_since is not None,
        actual_start=row.actual_start)


def put_kit(session: Session, kit: KitRow) -> bool:
    """Store a booking's kit; whether it differs from the one there."""
    row = session.get(tables.StoredKit, kit.booking)
    if row is not None and (row.kit, row.statements) == (kit.kit.decode(), kit.statements.decode()):
        return False
    if row is None:
        row = tables.StoredKit(booking=kit.booking, edition=kit.edition, fingerprint=kit.fingerprint, kit="",
                               statements="", built_at=kit.built_at)
    row.edition, row.fingerprint, row.built_at = kit.edition, kit.fingerprint, kit.built_at
    row.kit, row.statements = kit.kit.decode(), kit.statements.decode()
    session.add(row)
    session.flush()
    return True


def kit_of(store: Store, number: int) -> KitRow | None:
    """The kit of a booking as it was last built, or None."""
    with store.reading() as session:
        row = session.get(tables.StoredKit, number)
        if row is None:
            return None
        return KitRow(number, row.edition, row.fingerprint, row.kit.encode(), row.statements.encode(), row.built_at)


def add_edit(store: Store, edit: EditRow) -> int:
    """Note an edit by hand; its id. Raises WrongUse if there is no such booking."""
    with store.writing() as session:
        return add_edit_in(session, edit)


def add_edit_in(session: Session, edit: EditRow) -> int:
    """As `add_edit`, inside a transaction that does more."""
    if session.get(tables.Booking, edit.booking) is None:
        raise WrongUse(_no_booking(edit.booking))
    row = tables.Edit(booking=edit.booking, action=edit.action, role=edit.role, filler=edit.filler, item=edit.item,
                      amount=edit.amount, unit=edit.unit, who=edit.who, why=edit.why, at=edit.at)
    session.add(row)
    session.flush()
    return row.id or 0


def undo_edit(store: Store, booking: int, number: int, who: str, now: datetime) -> None:
    """Take an edit of a booking back. Raises WrongUse if it has no such edit that stands."""
    with store.writing() as session:
        row = session.get(tables.Edit, number)
        if row is None or row.undone_at is not None or row.booking != booking:
            standing = session.execute(select(tables.Edit.id).where(
                tables.Edit.booking == booking, tables.Edit.undone_at.is_(None)).order_by(tables.Edit.id)).scalars()
            there = ", ".join(map(str, standing)) or "none"
            raise WrongUse(f"Booking {booking} has no edit {number} that stands. Its edits: {there}.")
        row.undone_at, row.undone_by = now, who
        session.add(row)


def edits_of(store: Store, number: int) -> list[EditRow]:
    """The edits of a booking that stand, oldest first."""
    with store.reading() as session:
        rows = session.execute(select(tables.Edit).where(
            tables.Edit.booking == number, tables.Edit.undone_at.is_(None))
            .order_by(tables.Edit.id)).scalars()
        return [
            EditRow(id=row.id or 0, booking=row.booking, action=row.action, role=row.role, filler=row.filler,
                    item=row.item, amount=row.amount, unit=row.unit, who=row.who, why=row.why, at=row.at)
            for row in rows
        ]
