"""The outbox: approved orders, what becomes of them while they are sent, and what suppliers answer.

An order is approved and in the outbox in one transaction. It is marked as being sent, and that is committed, before
anything is sent; nothing here waits for a network. One that is found half sent is unclear: it is never sent again by
itself. Answers to one key are one answer, however often they come.
"""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import msgspec
from sqlalchemy import func, select, text
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.order import OrderRow, Verdict
from kitbuilder.store.database import Store
from kitbuilder.store.orders import change, order_row, value
from kitbuilder.store.postgres import LOCK
from kitbuilder.store.tables import Booking, Delivery, Order, OrderFor, OrderLine

_BUSY = "Orders are being sent by another process just now. Nothing was sent; try again when it has ended."


class OthersSend(StoreRefuses):
    """Another process is sending just now."""


@contextmanager
def sending(store: Store) -> Iterator[None]:
    """Be the only one who sends, until the block or the process ends: what is marked as being sent before it was
    broken off. Raises OthersSend if another does."""
    if store.engine.dialect.name == "sqlite":
        import fcntl

        file = Path(store.engine.url.database or "")
        with open(file.with_name(f".{file.name}.sending"), "a", encoding="utf-8") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                raise OthersSend(_BUSY) from None
            yield
        return
    # a connection of its own: the lock is its session's, and goes with it
    with store.engine.connect() as connection:
        # the server takes a moment to notice that a sender was killed
        for _ in range(20):
            mine = connection.execute(text(f"SELECT pg_try_advisory_lock({LOCK + 1})")).scalar()
            connection.commit()
            if mine:
                break
            time.sleep(0.1)
        else:
            raise OthersSend(_BUSY)
        try:
            yield
        finally:
            connection.execute(text(f"SELECT pg_advisory_unlock({LOCK + 1})"))
            connection.commit()


def broken_off(store: Store, who: str, now: datetime, site: str | None = None) -> list[int]:
    """Make unclear what was being sent when the sender ended; whoever calls is the only sender. The orders' numbers."""
    with store.writing() as session:
        query = select(Order).where(Order.state == "sending").order_by(Order.id)
        rows = session.execute(query if site is None else query.where(Order.site == site)).scalars().all()
        for row in rows:
            row.said = "it was broken off while it was being sent"
            change(session, row, "unclear", who, row.said, now)
        return [row.id or 0 for row in rows]


def begin(store: Store, number: int, who: str, now: datetime) -> OrderRow | None:
    """Mark an approved order as being sent; None if it isn't approved any more. One whose cut-off is past isn't sent:
    it is refused, so that the next run looks for another way."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state != "approved":
            return None
        if row.cut_off is not None and row.cut_off <= now:
            row.said = "its cut-off was past before it was sent"
            change(session, row, "refused", who, row.said, now)
            return None
        row.sent_at = now
        change(session, row, "sending", who, "", now)
        return value(session, row)


def not_sent(store: Store, number: int, why: str, who: str, now: datetime) -> None:
    """Nothing of it went out for certain: it is in the outbox again."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state == "sending":
            row.sent_at, row.said = None, why
            change(session, row, "approved", who, f"not sent: {why}", now)


def unclear(store: Store, number: int, why: str, who: str, now: datetime) -> None:
    """It may or may not have reached the supplier."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state in ("sending", "unclear") and (row.state, row.said) != ("unclear", why):
            row.said = why
            change(session, row, "unclear", who, why, now)


def answered(store: Store, number: int, verdict: Verdict, who: str, now: datetime) -> OrderRow:
    """Take a supplier's answer, whenever it comes.

    The same answer again changes nothing. One that contradicts an earlier one makes the order unclear, unless all of it
    has come. A cancelled order stays cancelled: what the supplier accepted all the same is written down and told.
    """
    told = msgspec.json.encode(verdict, order="deterministic").decode()
    with store.writing() as session:
        row = order_row(session, number)
        if row.answer == told:
            if row.state == "unclear":  # what was contradicted holds after all
                _apply(session, row, verdict, who, now)
            return value(session, row)
        first = not row.answer
        row.answer, row.answered_at, row.said = told, now, verdict.text
        row.supplier_number = verdict.number or row.supplier_number
        if row.state == "cancelled":
            accepted = verdict.state != "refused"
            row.said = "the supplier accepted it all the same: tell them that it is cancelled" if accepted else ""
            change(session, row, "cancelled", who, row.said or "the supplier refused it too", now)
        elif row.state == "received":
            change(session, row, "received", who, f"answered when all had come: {verdict.state}", now)
        elif row.state in ("sending", "unclear") and (first or row.state == "unclear"):
            _apply(session, row, verdict, who, now)
        else:
            row.said = f"the supplier answered twice, and not the same; now: {verdict.state}" + (
                f", {verdict.text}" if verdict.text else "")
            row.sent_at = row.sent_at or now
            change(session, row, "unclear", who, row.said, now)
        return value(session, row)


def _apply(session: Session, row: Order, verdict: Verdict, who: str, now: datetime) -> None:
    lines = {line.item: line for line in lines_of(session, row)}
    for one in verdict.lines:
        line = lines[one.item]
        line.confirmed, line.confirmed_minor, line.substitute = one.quantity, one.minor, one.substitute
        line.expected_at = one.expected_at
        session.add(line)
    if session.execute(select(Delivery.id).where(Delivery.order == row.id)).first() is None:
        # what an earlier answer let go comes after all, perhaps
        for wanted in session.execute(select(OrderFor).where(OrderFor.order == row.id)).scalars():
            wanted.coming = wanted.quantity
            session.add(wanted)
    if verdict.state != "refused":
        row.expected_at = verdict.expected_at or row.ready
        row.fee = row.fee if verdict.fee is None else verdict.fee
    if verdict.state in ("confirmed", "part"):
        trim(session, row)
    change(session, row, verdict.state, who, verdict.text, now)


def lines_of(session: Session, row: Order) -> list[OrderLine]:
    """The lines of an order."""
    return list(session.execute(select(OrderLine).where(OrderLine.order == row.id).order_by(OrderLine.id)).scalars())


def trim(session: Session, row: Order) -> None:
    """Let no more be awaited than is coming: the first bookings get it."""
    for line in lines_of(session, row):
        came = session.execute(select(func.coalesce(func.sum(Delivery.quantity), 0)).where(
            Delivery.order == row.id, Delivery.line == line.item, Delivery.unit == line.unit)).scalar() or 0
        left = max(0, (line.quantity if line.confirmed is None else line.confirmed) - int(came))
        for one in in_turn(session, row.id or 0, line.item):
            one.coming = min(one.coming, left)
            left -= one.coming
            session.add(one)
    session.flush()


def in_turn(session: Session, order: int, item: str) -> list[OrderFor]:
    """For whom an order's item still comes, the first start first."""
    return list(session.execute(
        select(OrderFor).join(Booking, Booking.number == OrderFor.booking)
        .where(OrderFor.order == order, OrderFor.item == item, OrderFor.coming > 0)
        .order_by(Booking.start, OrderFor.id)).scalars())
