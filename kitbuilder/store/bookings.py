"""Visits, bookings, their kits as built and the edits by hand."""

import json
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.booking import Booking, DiaryEntry, EditRow, KitRow
from kitbuilder.store import tables
from kitbuilder.store.database import Store


def put(store: Store, diary: str, entry: DiaryEntry, start: datetime, zone: str, now: datetime) -> tuple[int, bool]:
    """Put a diary's entry in, or bring the booking that it already is up to date: its number, and whether anything changed.

    `start` is the entry's start in UTC. A lower revision than the known one is ignored. Raises StoreRefuses if the
    same revision tells something else for what can't change (the diary's id names one booking for ever).
    """
    with store.writing() as session:
        return put_in(session, diary, entry, start, zone, now)


def put_in(session: Session, diary: str, entry: DiaryEntry, start: datetime, zone: str,
           now: datetime) -> tuple[int, bool]:
    """As `put`, inside a transaction that does more."""
    if session.get(tables.Site, entry.site) is None:
        session.add(tables.Site(name=entry.site))
        session.flush()
    row = session.execute(select(tables.Booking).where(
        tables.Booking.diary == diary, tables.Booking.uid == entry.id,
        tables.Booking.recurrence == entry.recurrence)).scalar_one_or_none()
    if row is not None and entry.revision < row.revision:
        return row.number or 0, False
    visit = _visit(session, diary, entry)
    told = {
        "revision": entry.revision, "visit": visit, "site": entry.site, "job": entry.job,
        "registration": entry.registration, "start_wall": entry.start.isoformat(), "zone": zone, "start": start,
        "state": entry.state, "priority": entry.priority, "bay": entry.bay, "technician": entry.technician,
        "facts": json.dumps(entry.facts, sort_keys=True), "missing_since": None,
    }
    if row is None:
        row = tables.Booking(diary=diary, uid=entry.id, recurrence=entry.recurrence, changed_at=now, **told)
        session.add(row)
        session.flush()
        return row.number or 0, True
    changed = {name: value for name, value in told.items() if getattr(row, name) != value}
    for name, value in changed.items():
        setattr(row, name, value)
    if changed:
        row.changed_at = now
        session.add(row)
        session.flush()
    return row.number or 0, bool(changed)


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
    """Change columns of a booking (state, start, start_wall, actual_start, …). Raises WrongUse if there is none."""
    with store.writing() as session:
        row = session.get(tables.Booking, number)
        if row is None:
            raise WrongUse(f"There is no booking {number}. `kitbuilder book list` shows all.")
        if row.state == "cancelled" and told.get("state") != "authorised" and told.get("state") != "enquiry":
            raise StoreRefuses(f"Booking {number} is cancelled. Authorise it first.")
        for name, value in told.items():
            setattr(row, name, value)
        row.changed_at = now
        session.add(row)
    return get(store, number)


def get(store: Store, number: int) -> Booking:
    """A booking. Raises WrongUse if there is none."""
    found = [one for one in every(store) if one.number == number]
    if not found:
        raise WrongUse(f"There is no booking {number}. `kitbuilder book list` shows all.")
    return found[0]


def every(store: Store, site: str | None = None, since: datetime | None = None,
          until: datetime | None = None) -> list[Booking]:
    """Bookings by planned start, then number; `since` inclusive, `until` exclusive."""
    query = select(tables.Booking, tables.Visit.name).outerjoin(tables.Visit, tables.Visit.id == tables.Booking.visit)
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
        row = tables.StoredKit(booking=kit.booking, edition="", fingerprint="", kit="", statements="", built_at=kit.built_at)
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
    """Note an edit by hand; its id."""
    with store.writing() as session:
        row = tables.Edit(booking=edit.booking, action=edit.action, role=edit.role, filler=edit.filler, item=edit.item,
                          amount=edit.amount, unit=edit.unit, who=edit.who, why=edit.why, at=edit.at)
        session.add(row)
        session.flush()
        return row.id or 0


def undo_edit(store: Store, number: int, now: datetime) -> None:
    """Take an edit back. Raises WrongUse if there is none."""
    with store.writing() as session:
        row = session.get(tables.Edit, number)
        if row is None or row.undone_at is not None:
            raise WrongUse(f"There is no edit {number}.")
        row.undone_at = now
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
