"""Orders: proposed by a run, decided by a named person; what is written of each change."""

import json
from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import delete, func, select
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import OPEN, UNDER_WAY, OrderChange, OrderedFor, OrderedLine, OrderRow, OrderState
from kitbuilder.model.transfer import from_site
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Order, OrderEvent, OrderFor, OrderLine
from kitbuilder.store.transfers import decided_in


def propose_in(session: Session, site: str, orders: Sequence[OrderRow]) -> int:
    """Make the open proposals of a site just these, by key: how many were made, changed or taken back.

    What was decided already is left alone: what is proposed under its key again is another order. A proposal that
    stays the same isn't touched; one that changes gets a new number, so that nobody approves what they didn't see.
    """
    wanted = {order.key: order for order in orders}
    changed = 0
    open_rows = session.execute(
        select(Order).where(Order.site == site, Order.state == "proposed")).scalars().all()
    for row in open_rows:
        order = wanted.pop(row.key, None)
        if order is not None and _same(value(session, row), order):
            continue
        changed += 1
        _drop(session, row)
        if order is not None:
            _add(session, order)
    for order in wanted.values():
        changed += 1
        _add(session, order)
    return changed


def _same(one: OrderRow, other: OrderRow) -> bool:
    return (
        (one.slot, one.ready, one.cut_off, one.currency, one.fee) == (
            other.slot, other.ready, other.cut_off, other.currency, other.fee)
        and sorted(one.lines, key=_line_order) == sorted(other.lines, key=_line_order)
        and set(one.wanted_for) == set(other.wanted_for))


def _line_order(line: OrderedLine) -> str:
    return line.item


def _drop(session: Session, row: Order) -> None:
    for table in (OrderFor, OrderLine):
        session.execute(delete(table).where(table.order == row.id))
    session.delete(row)
    session.flush()


def _add(session: Session, order: OrderRow) -> None:
    last = session.execute(select(func.max(Order.sequence)).where(Order.key == order.key)).scalar() or 0
    row = Order(key=order.key, sequence=last + 1, site=order.site, source=order.source, slot=order.slot,
                ready=order.ready, cut_off=order.cut_off, currency=order.currency, fee=order.fee, state="proposed",
                proposed_at=order.proposed_at)
    session.add(row)
    session.flush()
    number = row.id or 0
    session.add_all([
        OrderLine(order=number, item=line.item, unit=line.unit, quantity=line.quantity, packs=json.dumps(line.packs),
                  minor=line.minor, returnable=line.returnable)
        for line in order.lines])
    session.flush()
    session.add_all([
        OrderFor(order=number, item=one.item, booking=one.booking, need=one.need, quantity=one.quantity,
                 coming=one.quantity)
        for one in order.wanted_for])
    session.flush()


def proposed_in(session: Session, site: str) -> list[OrderRow]:
    """The open proposals of a site, inside a transaction that does more, by number."""
    rows = session.execute(select(Order).where(Order.site == site, Order.state == "proposed").order_by(Order.id))
    return [value(session, row) for row in rows.scalars()]


def judged_in(session: Session, number: int, waits: str, approved: str, who: str, now: datetime) -> None:
    """Note why a proposal waits for a person; or where nothing makes it wait, that it is approved, for the reason
    `approved`. With neither it waits as all do. One whose cut-off is past is never approved."""
    row = order_row(session, number)
    if approved and not waits and (row.cut_off is None or row.cut_off > now):
        row.decided_at, row.decided_by, row.said = now, who, ""
        change(session, row, "approved", who, approved, now)
    elif row.said != waits:
        row.said = waits
        session.add(row)
        session.flush()


#: From which states a person may bring an order to another.
_BEFORE: dict[str, tuple[str, ...]] = {
    "approved": ("proposed",),
    "ordered": ("proposed", "approved"),
    "cancelled": ("proposed", *(state for state in UNDER_WAY if state != "sending")),
    "received": ("ordered", "confirmed", "part", "changed", "unclear"),
}


def decide(store: Store, number: int, state: OrderState, who: str, now: datetime,
           expected_at: datetime | None = None, text: str = "") -> OrderRow:
    """A named person approves or cancels, says that it is ordered (by telephone), or that what was ordered has come.

    An approved order is in the outbox. One that is ordered is expected at its slot's time unless the person says
    otherwise; who ordered stays with one that is received. Raises WrongUse for an unknown order, StoreRefuses if its
    state doesn't allow it.
    """
    with store.writing() as session:
        row = order_row(session, number)
        if row.state not in _BEFORE[state]:
            raise StoreRefuses(_not_so(row))
        too_late = row.state == "proposed" and row.cut_off is not None and row.cut_off <= now
        # what is said to be on a van by now was loaded before it left
        if too_late and state != "cancelled" and not (state == "ordered" and from_site(row.key)):
            raise StoreRefuses(f"The cut-off of order {number} is past. Run the night again: it looks for another way.")
        decided_in(session, row, state, who, now)
        if state != "received":
            row.decided_at, row.decided_by = now, who
        if state == "cancelled" or row.state == "proposed":
            row.said = ""
        if state == "ordered":
            row.expected_at = expected_at or row.ready
        elif state in ("approved", "received"):
            row.expected_at = expected_at or row.expected_at or (row.ready if state == "received" else None)
        change(session, row, state, who, text, now)
        return value(session, row)


def order_row(session: Session, number: int) -> Order:
    """The row of an order. Raises WrongUse if there is none."""
    row = session.get(Order, number)
    if row is None:
        raise WrongUse(f"There is no order {number}. `kitbuilder order list` shows all.")
    return row


def _not_so(row: Order) -> str:
    if row.state == "sending":
        return (f"Order {row.id} is being sent just now. If that was broken off, `kitbuilder order send` finds it and "
                "says what is to be done.")
    return f"Order {row.id} is {row.state}{'' if row.state == 'proposed' else ' already'}."


def change(session: Session, row: Order, state: OrderState, who: str, text: str, now: datetime) -> None:
    """Bring an order to a state, and write down who did so, when, and what was told."""
    row.state = state
    session.add(row)
    session.flush()
    session.add(OrderEvent(order=row.id or 0, at=now, state=state, who=who, text=text))
    session.flush()


def orders(store: Store, site: str | None = None, states: Iterable[str] = OPEN) -> list[OrderRow]:
    """Orders by supplier, cut-off and number."""
    query = select(Order).where(Order.state.in_(list(states)))
    if site is not None:
        query = query.where(Order.site == site)
    with store.reading() as session:
        found = [value(session, row) for row in session.execute(query).scalars()]
    return sorted(found, key=lambda one: (one.source, one.cut_off is None, one.cut_off or one.ready, one.id))


def get(store: Store, number: int) -> OrderRow:
    """An order. Raises WrongUse if there is none."""
    with store.reading() as session:
        return value(session, order_row(session, number))


def history(store: Store, number: int) -> list[OrderChange]:
    """All changes of an order, oldest first."""
    with store.reading() as session:
        rows = session.execute(select(OrderEvent).where(OrderEvent.order == number).order_by(OrderEvent.id)).scalars()
        return [OrderChange(row.at, row.state, row.who, row.text) for row in rows]


def _packs(text: str) -> tuple[tuple[int, int], ...]:
    return tuple((size, count) for size, count in json.loads(text))


def value(session: Session, row: Order) -> OrderRow:
    """A row as a value; `wanted_for` are those that something is still to come for."""
    lines = session.execute(select(OrderLine).where(OrderLine.order == row.id).order_by(OrderLine.id)).scalars()
    wanted = session.execute(
        select(OrderFor).where(OrderFor.order == row.id, OrderFor.coming > 0).order_by(OrderFor.id)).scalars()
    return OrderRow(
        id=row.id or 0, key=row.key, site=row.site, source=row.source, slot=row.slot, ready=row.ready,
        cut_off=row.cut_off, currency=row.currency, fee=row.fee, state=row.state, proposed_at=row.proposed_at,
        lines=tuple(
            OrderedLine(one.item, one.unit, one.quantity, _packs(one.packs), one.minor, one.confirmed,
                        one.confirmed_minor, one.substitute, one.returnable, one.expected_at) for one in lines),
        wanted_for=tuple(OrderedFor(one.item, one.booking, one.need, one.coming) for one in wanted),
        expected_at=row.expected_at, decided_at=row.decided_at, decided_by=row.decided_by, sequence=row.sequence,
        sent_at=row.sent_at, answered_at=row.answered_at, supplier_number=row.supplier_number, said=row.said)
