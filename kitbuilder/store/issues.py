"""What was taken from stock that is kept elsewhere, and is to be issued there: queued with its delivery.

An issue is marked as being told, and that is committed, before the source is called. What is found half told is
unclear, and is told again: its key counts once there.
"""

from collections.abc import Collection
from datetime import datetime
from secrets import token_hex

from sqlalchemy import select
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.stock_elsewhere import IssueRequest, IssueRow
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Delivery, IssueElsewhere, Order

#: What isn't through yet.
OPEN = ("waiting", "issuing", "unclear")


def queue_in(session: Session, delivery: Delivery, order_key: str, who: str, now: datetime) -> None:
    """Queue what was delivered, to be issued where it was taken from. In a store that is made anew the numbers of rows
    come again; the key doesn't."""
    key = f"{order_key}|{delivery.note}|{delivery.item}|{delivery.lot}|{token_hex(4)}"
    session.add(IssueElsewhere(
        delivery=delivery.id or 0, key=key, state="waiting", changed_at=now, changed_by=who))
    session.flush()


def issues(store: Store, site: str | None = None, states: Collection[str] = OPEN) -> list[IssueRow]:
    """The issues of a site (None: of all) in some states, in the order in which things were taken."""
    query = (select(IssueElsewhere, Delivery, Order).join(Delivery, Delivery.id == IssueElsewhere.delivery)
             .join(Order, Order.id == Delivery.order).where(IssueElsewhere.state.in_(states))
             .order_by(IssueElsewhere.id))
    with store.reading() as session:
        rows = session.execute(query if site is None else query.where(Order.site == site)).all()
        return [_value(*row) for row in rows]


def _value(row: IssueElsewhere, delivery: Delivery, order: Order) -> IssueRow:
    return IssueRow(
        id=row.id or 0, source=order.source, order=order.id or 0, state=row.state,
        said=row.said, request=IssueRequest(
            key=row.key, item=delivery.item, unit=delivery.unit, quantity=delivery.quantity, lot=delivery.lot,
            reference=f"order {order.id}, note {delivery.note}", who=delivery.who, taken_at=delivery.at))


def broken_off(store: Store, who: str, now: datetime) -> None:
    """Make unclear what was being told when the teller ended; whoever calls is the only one who tells."""
    with store.writing() as session:
        for row in session.execute(select(IssueElsewhere).where(IssueElsewhere.state == "issuing")).scalars().all():
            _put(session, row, "unclear", "it was broken off while it was being told", who, now)


def begin(store: Store, number: int, who: str, now: datetime) -> bool:
    """Mark an issue as being told; False if it is through by now."""
    with store.writing() as session:
        row = _row(session, number)
        if row.state not in ("waiting", "unclear"):
            return False
        _put(session, row, "issuing", row.said, who, now)
        return True


def ended(store: Store, number: int, state: str, said: str, who: str, now: datetime) -> None:
    """Put down what came of telling."""
    with store.writing() as session:
        row = _row(session, number)
        if row.state == "issuing":
            _put(session, row, state, said, who, now)


def by_hand(store: Store, number: int, who: str, now: datetime) -> None:
    """A named person says that it is issued there. Raises WrongUse for an unknown issue, StoreRefuses for one that is
    being told just now."""
    with store.writing() as session:
        row = _row(session, number)
        if row.state == "issuing":
            raise StoreRefuses(f"Issue {number} is being told just now; ask again in a moment.")
        if row.state != "issued":
            _put(session, row, "issued", f"by hand, says {who}", who, now)


def _row(session: Session, number: int) -> IssueElsewhere:
    row = session.get(IssueElsewhere, number)
    if row is None:
        raise WrongUse(f"There is no issue {number}. `kitbuilder sources issues` shows those that are open.")
    return row


def _put(session: Session, row: IssueElsewhere, state: str, said: str, who: str, now: datetime) -> None:
    row.state, row.said, row.changed_by, row.changed_at = state, said, who, now
    session.add(row)
