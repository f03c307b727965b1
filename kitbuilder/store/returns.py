"""What goes back: parts to suppliers for credit, and the old units that are owed for exchange units."""

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlmodel import Session

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.catalogue import Exchange
from kitbuilder.model.order import (
    ExchangeReturnRow,
    ExchangeState,
    OrderRow,
    ReturnState,
    ReturnTerms,
    SupplierReturnRow,
)
from kitbuilder.store.database import Store
from kitbuilder.store.shelves import take_out_in
from kitbuilder.store.tables import Delivery, ExchangeReturn, Hold, Lot, ReturnEvent, SupplierReturn

#: Which state may follow which.
_FOLLOWS: dict[str, tuple[str, ...]] = {
    "proposed": ("sent", "dropped"), "sent": ("credit awaited", "credited", "refused"),
    "credit awaited": ("credited", "refused"), "credited": (), "refused": (), "dropped": ()}
_UNIT_FOLLOWS: dict[str, tuple[str, ...]] = {
    "due": ("sent", "refused"), "sent": ("deposit back", "refused"), "deposit back": (), "refused": ()}
#: What somebody has still to do with.
OPEN_RETURNS = ("proposed", "sent", "credit awaited")
OPEN_UNITS = ("due", "sent")


def propose_in(session: Session, site: str, source: str, order: int | None, item: str, lot: str, bin_name: str,
               quantity: int, unit: str, why: str, currency: str, price: int | None, terms: ReturnTerms, who: str,
               now: datetime) -> int:
    """Propose that something goes back, inside a transaction that does more; its number. `price` is what was paid for
    it (None: not known); the supplier keeps its percentage of it, rounded half up."""
    fee = 0 if price is None else (price * terms.fee_percent * 2 + 100) // 200
    row = SupplierReturn(
        site=site, source=source, order=order, item=item, lot=lot, bin=bin_name, quantity=quantity, unit=unit, why=why,
        until=None if terms.days is None else now.date() + timedelta(days=terms.days), currency=currency, fee=fee,
        credit=None if price is None else price - fee, state="proposed", changed_at=now, changed_by=who)
    session.add(row)
    session.flush()
    _event(session, row, "proposed", who, why, now)
    return row.id or 0


def propose(store: Store, order: OrderRow, item: str, lot: str, bin_name: str, quantity: int, unit: str, why: str,
            terms: ReturnTerms, who: str, now: datetime, opened: bool = False, agreed: bool = False) -> int:
    """Propose that something that an order brought goes back; its number.

    The window counts from the day on which it came. Raises WrongUse if the order never brought it, or not as much;
    StoreRefuses if it was opened, or the supplier said that it takes none back, unless they `agreed` to it.
    """
    if order.from_site:
        raise WrongUse(f"Order {order.id} came from {order.from_site}, which is no supplier: kitbuilder stock move "
                       f"--site {order.site} --to-site {order.from_site} takes it back.")
    line = next((one for one in order.lines if one.item == item), None)
    if not agreed:
        if line is not None and not line.returnable:
            raise StoreRefuses(f"{order.source} said with its price that it doesn't take {item} back. If they agreed "
                               "to it, say so: --agreed.")
        if opened:
            raise StoreRefuses(f"{item} was opened: opened seals and electrical parts aren't taken back as a rule. If "
                               f"{order.source} agreed to it, say so: --agreed.")
    with store.writing() as session:
        came, at = session.execute(
            select(func.sum(Delivery.quantity), func.max(Delivery.at)).where(
                Delivery.order == order.id, Delivery.item == item)).one()
        if came is None:
            raise WrongUse(f"Order {order.id} brought no {item}. What came is in `kitbuilder order show {order.id}`.")
        gone = session.execute(select(func.coalesce(func.sum(SupplierReturn.quantity), 0)).where(
            SupplierReturn.order == order.id, SupplierReturn.item == item,
            SupplierReturn.state.not_in(("dropped", "refused")))).scalar() or 0
        if line is not None and line.unit == unit and quantity + int(gone) > int(came):
            raise WrongUse(f"Order {order.id} brought {show(int(came))} {unit} of {item}, of which {show(int(gone))} "
                           f"go back already; {show(quantity)} more can't.")
        price = _paid(order, item, quantity, unit)
        number = propose_in(session, order.site, order.source, order.id, item, lot, bin_name, quantity, unit, why,
                            order.currency, price, terms, who, now)
        if terms.days is not None:
            row = session.get(SupplierReturn, number)
            assert row is not None
            row.until = at.date() + timedelta(days=terms.days)
            session.add(row)
        return number


def _paid(order: OrderRow, item: str, quantity: int, unit: str) -> int | None:
    line = next((one for one in order.lines if one.item == item and one.unit == unit), None)
    if line is None:
        return None
    if line.confirmed and line.confirmed_minor is not None:
        return line.confirmed_minor * quantity // line.confirmed
    return line.minor * quantity // line.quantity


def step(store: Store, number: int, state: ReturnState, who: str, now: datetime, text: str = "",
         agreed: bool = False) -> SupplierReturnRow:
    """Bring a return to its next state. What is sent leaves its bin. Raises StoreRefuses if the state can't follow, if
    the supplier's window is over and they didn't agree, or if it isn't free in its bin."""
    with store.writing() as session:
        row = session.get(SupplierReturn, number)
        if row is None:
            raise WrongUse(f"There is no return {number}. `kitbuilder order returns` shows all.")
        if state not in _FOLLOWS[row.state]:
            raise StoreRefuses(f"Return {number} is {row.state}; it can't become {state}.")
        if state == "sent":
            if row.until is not None and now.date() > row.until and not agreed:
                raise StoreRefuses(f"{row.source} took it back until {row.until}. If they agreed to take it all the "
                                   "same, say so: --agreed.")
            take_out_in(session, row.site, row.item, row.lot, row.bin, row.quantity, "send back", who,
                        f"return {number} to {row.source}", now)
        if state == "refused":
            row.credit = 0 if row.credit is not None else None
        row.state, row.said, row.changed_at, row.changed_by = state, text, now, who
        session.add(row)
        _event(session, row, state, who, text, now)
        return _value(row)


def returns(store: Store, site: str | None = None, states: Iterable[str] = OPEN_RETURNS) -> list[SupplierReturnRow]:
    """Returns by supplier and number."""
    query = select(SupplierReturn).where(SupplierReturn.state.in_(list(states)))
    if site is not None:
        query = query.where(SupplierReturn.site == site)
    with store.reading() as session:
        found = [_value(row) for row in session.execute(query).scalars()]
    return sorted(found, key=lambda one: (one.source, one.id))


def owe(store: Store, exchange_of: Callable[[str], Exchange | None], currency: str, now: datetime) -> int:
    """Note the old units that are owed for exchange units that were issued, and aren't noted yet; how many were new.

    They are noted when they are signed for; this makes good what was issued otherwise, or by an earlier kitbuilder.
    `exchange_of` tells what the catalogue asks of the old unit of an item. The term counts from the day of issue.
    """
    with store.reading() as session:
        issued = session.execute(
            select(Hold.id, Lot.item).join(Lot, Lot.id == Hold.lot)
            .outerjoin(ExchangeReturn, ExchangeReturn.hold == Hold.id)
            .where(Hold.state == "issued", ExchangeReturn.id.is_(None)).order_by(Hold.id)).all()
    owed = [number for number, item in issued if exchange_of(item) is not None]
    if not owed:
        return 0
    with store.writing() as session:
        return len(owe_in(session, owed, exchange_of, currency))


def owe_in(session: Session, holds: Iterable[int], exchange_of: Callable[[str], Exchange | None],
           currency: str) -> list[ExchangeReturnRow]:
    """Note the old units that are owed for holds that were issued, inside a transaction that does more: the new ones.
    What is noted already stays as it is."""
    issued = session.execute(
        select(Hold.id, Hold.booking, Hold.quantity, Hold.changed_at, Hold.changed_by, Lot.item)
        .join(Lot, Lot.id == Hold.lot).outerjoin(ExchangeReturn, ExchangeReturn.hold == Hold.id)
        .where(Hold.id.in_(list(holds)), Hold.state == "issued", ExchangeReturn.id.is_(None)).order_by(Hold.id)).all()
    found = []
    for one in issued:
        exchange = exchange_of(one.item)
        if exchange is None:
            continue
        row = ExchangeReturn(
            hold=one.id, booking=one.booking, item=one.item, quantity=one.quantity,
            due=one.changed_at.date() + timedelta(days=exchange.days) if exchange.days else None,
            currency=currency, deposit=exchange.deposit * one.quantity // 1000, wanted=", ".join(exchange.state),
            state="due", changed_at=one.changed_at, changed_by=one.changed_by)
        session.add(row)
        session.flush()
        _event(session, row, "due", one.changed_by, f"booking {one.booking} used one", one.changed_at)
        found.append(_unit_value(row))
    return found


def unit_step(store: Store, number: int, state: ExchangeState, who: str, now: datetime,
              text: str = "") -> ExchangeReturnRow:
    """Bring an old unit to its next state. Raises StoreRefuses if that can't follow."""
    with store.writing() as session:
        row = session.get(ExchangeReturn, number)
        if row is None:
            raise WrongUse(f"There is no old unit {number}. `kitbuilder order units` shows all.")
        if state not in _UNIT_FOLLOWS[row.state]:
            raise StoreRefuses(f"Old unit {number} is {row.state}; it can't become {state}.")
        row.state, row.said, row.changed_at, row.changed_by = state, text, now, who
        session.add(row)
        _event(session, row, state, who, text, now)
        return _unit_value(row)


def units(store: Store, site: str | None = None, states: Iterable[str] = OPEN_UNITS) -> list[ExchangeReturnRow]:
    """Old units that are owed, by the day they are due (none last)."""
    query = select(ExchangeReturn).where(ExchangeReturn.state.in_(list(states)))
    if site is not None:
        query = (query.join(Hold, Hold.id == ExchangeReturn.hold).join(Lot, Lot.id == Hold.lot).where(Lot.site == site))
    with store.reading() as session:
        found = [_unit_value(row) for row in session.execute(query).scalars()]
    return sorted(found, key=lambda one: (one.due or date.max, one.id))


def _event(session: Session, row: SupplierReturn | ExchangeReturn, state: str, who: str, text: str,
           now: datetime) -> None:
    of = {"supplier_return": row.id} if isinstance(row, SupplierReturn) else {"exchange_return": row.id}
    session.add(ReturnEvent(at=now, state=state, who=who, text=text, **of))
    session.flush()


def _value(row: SupplierReturn) -> SupplierReturnRow:
    return SupplierReturnRow(
        id=row.id or 0, site=row.site, source=row.source, order=row.order, item=row.item, lot=row.lot, bin=row.bin,
        quantity=row.quantity, unit=row.unit, why=row.why, until=row.until, currency=row.currency, fee=row.fee,
        credit=row.credit, state=row.state, said=row.said, changed_at=row.changed_at,
        changed_by=row.changed_by)


def _unit_value(row: ExchangeReturn) -> ExchangeReturnRow:
    return ExchangeReturnRow(
        id=row.id or 0, booking=row.booking, item=row.item, quantity=row.quantity, due=row.due, currency=row.currency,
        deposit=row.deposit, wanted=row.wanted, state=row.state, said=row.said,
        changed_at=row.changed_at, changed_by=row.changed_by)
