"""What a named person decides on an order that was sent: takes what was changed, settles what is unclear, says when the
rest comes or that it doesn't."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlmodel import Session

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.booking import EditRow
from kitbuilder.model.order import OrderRow
from kitbuilder.store.bookings import add_edit_in
from kitbuilder.store.database import Store
from kitbuilder.store.orders import change, order_row, value
from kitbuilder.store.outbox import in_turn, lines_of, trim
from kitbuilder.store.tables import Delivery, Order, OrderFor, OrderLine
from kitbuilder.store.transfers import drop_rest_in


def take(store: Store, number: int, who: str, now: datetime, edits: Sequence[EditRow] = ()) -> OrderRow:
    """A named person takes what a supplier changed: another price, another item, another time. `edits` put what comes
    in an item's place into the kits of the bookings that get it.

    Raises StoreRefuses if nothing of it was changed, or what comes in an item's place isn't told.
    """
    with store.writing() as session:
        row = order_row(session, number)
        if row.state != "changed":
            raise StoreRefuses(f"Order {number} is {row.state}: there is nothing that the supplier changed.")
        row.decided_at, row.decided_by = now, who
        whole = True
        for line in lines_of(session, row):
            confirmed = line.quantity if line.confirmed is None else line.confirmed
            whole = whole and confirmed >= line.quantity
            if line.substitute and confirmed:
                _put_in_place(session, row, line, confirmed)
        trim(session, row)
        for edit in edits:
            add_edit_in(session, edit)
        change(session, row, "confirmed" if whole else "part", who, "taken as the supplier changed it", now)
        return value(session, row)


def _put_in_place(session: Session, row: Order, line: OrderLine, quantity: int) -> None:
    """Have a substitute come for those whom the item was for."""
    other = session.execute(select(OrderLine).where(
        OrderLine.order == row.id, OrderLine.item == line.substitute)).scalar_one_or_none()
    minor = line.minor if line.confirmed_minor is None else line.confirmed_minor
    if other is None:
        other = OrderLine(order=row.id or 0, item=line.substitute, unit=line.unit, quantity=quantity, packs="[]",
                          minor=minor, confirmed=quantity, confirmed_minor=minor, returnable=line.returnable,
                          expected_at=line.expected_at)
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


def expect(store: Store, number: int, when: datetime, who: str, now: datetime, item: str = "") -> OrderRow:
    """What is still to come of an order comes at another time: all of it, or what is to come of one `item`. Raises
    StoreRefuses if nothing is, WrongUse if the order has no such item."""
    with store.writing() as session:
        row = order_row(session, number)
        if row.state not in ("ordered", "confirmed", "part"):
            raise StoreRefuses(f"Order {number} is {row.state}: nothing of it is expected.")
        lines = [line for line in lines_of(session, row) if item in ("", line.item)]
        if not lines:
            raise WrongUse(f"Order {number} has no {item}. What it has: kitbuilder order show {number}.")
        if not item:
            row.expected_at = when
        for line in lines:
            line.expected_at = when if item else None
            session.add(line)
        what = f"{item} " if item else ""
        change(session, row, row.state, who, f"{what}expected {when.isoformat(timespec='minutes')}", now)
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
        drop_rest_in(session, row, who, now)
        for line in lines_of(session, row):
            line.confirmed = min(came.get(line.item, 0), line.quantity)
            session.add(line)
        for one in session.execute(select(OrderFor).where(OrderFor.order == row.id)).scalars():
            one.coming = 0
            session.add(one)
        change(session, row, "received", who, f"the rest isn't coming; came: "
               f"{', '.join(f'{show(total)} {item}' for item, total in sorted(came.items()))}", now)
        return value(session, row)
