"""The scans of kit checks, kept so that a check can go on where it stopped."""

from datetime import datetime

from sqlalchemy import select

from kitbuilder.model.work import Scan
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Check


def note(store: Store, booking: int, scan: Scan, who: str, now: datetime) -> None:
    """Keep a scan."""
    with store.writing() as session:
        session.add(Check(booking=booking, item=scan.item, lot=scan.lot, quantity=scan.quantity, who=who, at=now))


def undo(store: Store, booking: int) -> bool:
    """Take the last scan back; whether there was one."""
    with store.writing() as session:
        row = session.execute(
            select(Check).where(Check.booking == booking).order_by(Check.id.desc())).scalars().first()
        if row is None:
            return False
        session.delete(row)
        return True


def scans(store: Store, booking: int) -> list[Scan]:
    """The scans of a booking, oldest first."""
    with store.reading() as session:
        rows = session.execute(select(Check).where(Check.booking == booking).order_by(Check.id)).scalars()
        return [Scan(row.item, row.lot, row.quantity) for row in rows]
