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

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses
from kitbuilder.model.order import OrderRow, Verdict
from kitbuilder.store.database import Store
from kitbuilder.store.orders import change, order_row, value
from kitbuilder.store.postgres import LOCK
from kitbuilder.store.tables import Booking, Delivery, Order, OrderFor, OrderLine

_BUSY = "Orders are being sent by another process just now. Nothing was sent; try again when it has ended."


@contextmanager
def sending(store: Store) -> Iterator[None]:
    """Be the only one who sends, until the block or the process ends: what is marked as being sent before it was
    broken off. Raises StoreRefuses if another sends."""
    if store.engine.dialect.name == "sqlite":
        import fcntl

        file = Path(store.engine.url.database or "")
        with open(file.with_name(f".{file.name}.sending"), "a", encoding="utf-8") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                raise StoreRefuses(_BUSY) from None
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
            raise StoreRefuses(_BUSY)
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
    lines = {line.item: line for line in _lines(session, row)}
    for one in verdict.lines:
        line = lines[one.item]
        line.confirmed, line.confirmed_minor, line.substitute = one.quantity, one.minor, one.substitute
        session.add(line)
    if session.execute(select(Delivery.id).where(Delivery.order == row.id)).first() is None:
        # what an earlier answer let go comes after all, perhaps
        for wanted in session.execute(select(OrderFor).where(OrderFor.order == row.id)).scalars():
            wanted.coming = wanted.quantity
            session.add(wanted)
    if verdict.state != "refused":
        row.expected_at = verdict.expected_at or row.ready
    if verdict.state in ("confirmed", "part"):
        _trim(session, row)
    change(session, row, verdict.state, who, verdict.text, now)


def _lines(session: Session, row: Order) -> list[OrderLine]:
    return list(session.execute(select(OrderLine).where(OrderLine.order == row.id).order_by(OrderLine.id)).scalars())


def _trim(session: Session, row: Order) -> None:
    """Let no more be awaited than is coming: the first bookings get it."""
    for line in _lines(session, row):
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


def take(store: Store, number: int, who: str, now: datetime) -> OrderRow:
    """A named person takes what a supplier changed: another price, another item, another time.

    Raises StoreRefuses if nothing of it was changed, or what comes in an item's place isn't told.
    """
    with store.writing() as session:
        row = order_row(session, number)
        if row.state != "changed":
            raise StoreRefuses(f"Order {number} is {row.state}: there is nothing that the supplier changed.")
        row.decided_at, row.decided_by = now, who
        whole = True
        for line in _lines(session, row):
            confirmed = line.quantity if line.confirmed is None else line.confirmed
            whole = whole and confirmed >= line.quantity
            if line.substitute and confirmed:
                _put_in_place(session, row, line, confirmed)
        _trim(session, row)
        change(session, row, "confirmed" if whole else "part", who, "taken as the supplier changed it", now)
        return value(session, row)


def _put_in_place(session: Session, row: Order, line: OrderLine, quantity: int) -> None:
    """Have a substitute come for those whom the item was for."""
    other = session.execute(select(OrderLine).where(
        OrderLine.order == row.id, OrderLine.item == line.substitute)).scalar_one_or_none()
    minor = line.minor if line.confirmed_minor is None else line.confirmed_minor
    if other is None:
        other = OrderLine(order=row.id or 0, item=line.substitute, unit=line.unit, quantity=quantity, packs="[]",
                          minor=minor, confirmed=quantity, confirmed_minor=minor, returnable=line.returnable)
    elif other.unit != line.unit:
        raise StoreRefuses(f"Order {row.id} asks for {line.substitute} itself, in {other.unit}; what comes in place of "
                           f"{line.item} can't be added to it. Cancel it and order anew.")
    else:
        other.confirmed = (other.quantity if other.confirmed is None else other.confirmed) + quantity
        other.quantity += quantity
        other.minor += minor
        other.confirmed_minor = other.minor
    session.add(other)
    session.flush()
    left = quantity
    for one in in_turn(session, row.id or 0, line.item):
        taken = min(one.coming, left)
        if taken:
            left -= taken
            known = session.execute(select(OrderFor).where(
                OrderFor.order == row.id, OrderFor.item == other.item, OrderFor.booking == one.booking,
                OrderFor.need == one.need)).scalar_one_or_none()
            if known is None:
                known = OrderFor(order=row.id or 0, item=other.item, booking=one.booking, need=one.need,
                                 quantity=taken, coming=taken)
            else:
                known.quantity, known.coming = known.quantity + taken, known.coming + taken
            session.add(known)
        one.coming = 0
        session.add(one)
    line.confirmed = line.confirmed_minor = 0
    session.add(line)
    session.flush()


def settle(store: Store, number: int, accepted: bool, who: str, now: datetime) -> OrderRow:
    """A named person has found out whether the supplier has an unclear order: it is confirmed as asked for, or nothing
    of it comes. Raises StoreRefuses if it isn't unclear."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state != "unclear":
            raise StoreRefuses(f"Order {number} is {row.state}; only one that is unclear is to be settled.")
        row.decided_at, row.decided_by, row.said = now, who, ""
        if accepted:
            row.expected_at = row.expected_at or row.ready
        change(session, row, "confirmed" if accepted else "refused", who,
               "asked: the supplier has it" if accepted else "asked: the supplier doesn't have it", now)
        return value(session, row)


def expect(store: Store, number: int, when: datetime, who: str, now: datetime) -> OrderRow:
    """What is still to come of an order comes at another time. Raises StoreRefuses if nothing is."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state not in ("ordered", "confirmed", "part"):
            raise StoreRefuses(f"Order {number} is {row.state}: nothing of it is expected.")
        row.expected_at = when
        change(session, row, row.state, who, f"expected {when.isoformat(timespec='minutes')}", now)
        return value(session, row)


def drop_rest(store: Store, number: int, who: str, now: datetime) -> OrderRow:
    """What is still to come of an order doesn't come any more: it is received as far as it came, and the next run looks
    for another way. Raises StoreRefuses if nothing has come: that is a cancellation."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state not in ("ordered", "confirmed", "part"):
            raise StoreRefuses(f"Order {number} is {row.state}: nothing of it is to come.")
        came: dict[str, int] = {item: int(total) for item, total in session.execute(
            select(Delivery.line, func.sum(Delivery.quantity)).where(Delivery.order == row.id, Delivery.line != "")
            .group_by(Delivery.line))}
        if not came:
            raise StoreRefuses(f"Nothing of order {number} has come. Cancel it: kitbuilder order cancel {number}.")
        for line in _lines(session, row):
            line.confirmed = min(came.get(line.item, 0), line.quantity)
            session.add(line)
        for one in session.execute(select(OrderFor).where(OrderFor.order == row.id)).scalars():
            one.coming = 0
            session.add(one)
        change(session, row, "received", who, f"the rest isn't coming; came: "
               f"{', '.join(f'{show(total)} {item}' for item, total in sorted(came.items()))}", now)
        return value(session, row)
