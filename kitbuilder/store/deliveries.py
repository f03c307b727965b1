"""Goods-in against orders: part deliveries, wrong parts, more than was ordered, something in its place.

What comes is booked in, noted by its delivery note and held for the bookings it was ordered for, in one transaction.
"""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlmodel import Session

from kitbuilder import amount
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.booking import EditRow
from kitbuilder.model.order import BookedIn, Delivered, Goods, ReturnTerms
from kitbuilder.model.shelf import Promise, Receipt
from kitbuilder.model.transfer import from_site
from kitbuilder.store.bookings import add_edit_in
from kitbuilder.store.database import Store
from kitbuilder.store.holds import hold_in
from kitbuilder.store.issues import queue_in
from kitbuilder.store.orders import change, order_row
from kitbuilder.store.outbox import in_turn
from kitbuilder.store.returns import propose_in
from kitbuilder.store.shelves import receive_in, set_aside_in
from kitbuilder.store.tables import Booking, Delivery, Hold, Lot, Order, OrderLine
from kitbuilder.store.transfers import bring_in, still_to_come


def receive(store: Store, number: int, goods: Goods, who: str, now: datetime,
            terms: ReturnTerms | None = None, tell: bool = False, edits: Sequence[EditRow] = ()) -> BookedIn:
    """Book in what came under an order.

    What was asked for is held for its bookings, the first start first. What wasn't is put into quarantine under a lot
    of its own, and its return is proposed, as it is for what is more than was ordered. A line of a delivery note counts
    once. `tell`: it was taken from where the stock is kept, and is to be issued there. `edits` put what is taken in an
    item's place into the kits of the bookings that get it. Raises WrongUse for an unknown order or item, StoreRefuses
    for an order nobody approved, for a note whose line was booked in with another amount, and for what the shelf
    refuses.
    """
    with store.writing() as session:
        came = against_in(session, number, goods, who, now, terms, tell)
        for edit in edits if came.takes == "instead" and not came.again else ():
            add_edit_in(session, edit)
        return came


def against_in(session: Session, number: int, goods: Goods, who: str, now: datetime, terms: ReturnTerms | None = None,
               tell: bool = False) -> BookedIn:
    """As `receive`, inside a transaction that does more."""
    if goods.quantity <= 0:
        raise WrongUse(f"{amount.show(goods.quantity)} of {goods.item} can't be received. Expected more than zero.")
    if not goods.note.strip():
        raise WrongUse("Goods against an order need the number of the delivery note: --note NUMBER.")
    row = order_row(session, number)
    if row.state == "proposed":
        raise StoreRefuses(f"Order {number} is only proposed. If it was ordered all the same, approve it first.")
    known = _noted(session, number, goods)
    if known is not None:
        return _again(row, known, goods)
    line = _line(session, row, goods)
    if from_site(row.key):
        return _brought(session, row, line, goods, who, now)
    if line is None:
        came = _wrong(session, row, goods, who, now, terms or ReturnTerms())
    else:
        came = _right(session, row, line, goods, who, now, terms or ReturnTerms())
    delivery = _noted(session, number, goods) if tell else None
    if delivery is not None:
        queue_in(session, delivery, f"{row.key}|{row.sequence}", who, now)
    return came


def _noted(session: Session, number: int, goods: Goods) -> Delivery | None:
    row: Delivery | None = session.execute(select(Delivery).where(
        Delivery.order == number, Delivery.note == goods.note, Delivery.item == goods.item,
        Delivery.lot == goods.lot)).scalar_one_or_none()
    return row


def receive_all(store: Store, number: int, bin_name: str, who: str, now: datetime) -> list[BookedIn]:
    """Book in all that is still to come of a transfer, into one bin. Raises WrongUse if it is none, and as `receive`
    does; what was booked in before it raised stays."""
    left = still_to_come(store, number)
    return [receive(store, number, Goods(note=f"{now:%Y-%m-%d %H:%M}, all of it", item=item, quantity=quantity,
                                         unit=unit, bin=bin_name), who, now) for item, quantity, unit in left]


def _brought(session: Session, row: Order, line: OrderLine | None, goods: Goods, who: str, now: datetime) -> BookedIn:
    """What a transfer brought moves here from the site it lies at in the books."""
    there = from_site(row.key)
    if line is None or goods.instead_of:
        raise StoreRefuses(f"Order {row.id} brings no {goods.item} from {there}. What came besides it moves with "
                           f"kitbuilder stock move --site {there} --to-site {row.site}.")
    if row.state in ("cancelled", "received"):
        raise StoreRefuses(f"Order {row.id} is {row.state}, so nothing is held for it at {there}. What came all the "
                           f"same moves with kitbuilder stock move --site {there} --to-site {row.site}.")
    quantity = amount.convert(goods.quantity, goods.unit, line.unit)
    held = bring_in(session, row, goods, who, now)
    _note(session, row, goods, line.item, quantity, line.unit, "ordered", who, now)
    text = f"note {goods.note}: {amount.show(goods.quantity)} {goods.unit} of {goods.item} from {there}"
    change(session, row, _state_now(session, row, quantity), who, text, now)
    return BookedIn("ordered", 0, held, goods.lot, row.state)


def _again(row: Order, known: Delivery, goods: Goods) -> BookedIn:
    if (known.quantity, known.unit) != (goods.quantity, goods.unit):
        raise StoreRefuses(
            f"Delivery note {goods.note} has {amount.show(known.quantity)} {known.unit} of {goods.item} already. Give "
            "another delivery its own note; a mistake is mended with `kitbuilder stock count`.")
    return BookedIn(known.takes, 0, {}, known.lot, row.state, again=True)


def _line(session: Session, row: Order, goods: Goods) -> OrderLine | None:
    """The line that goods are for, None if they are none of the order's."""
    wanted = goods.instead_of or goods.item
    line: OrderLine | None = session.execute(select(OrderLine).where(
        OrderLine.order == row.id, OrderLine.item == wanted)).scalar_one_or_none()
    if line is None and goods.instead_of:
        raise WrongUse(f"Order {row.id} has no {goods.instead_of} that something could come in place of.")
    if line is not None and amount.quantity(line.unit) != amount.quantity(goods.unit):
        raise StoreRefuses(f"Order {row.id} asks for {wanted} in {line.unit}; {goods.unit} can't be told against it.")
    return line


def _wrong(session: Session, row: Order, goods: Goods, who: str, now: datetime, terms: ReturnTerms) -> BookedIn:
    """What the order doesn't have: put aside under a lot of its own, so that no good stock goes with it."""
    lot = _own_lot(session, row, goods)
    why = f"wrong part with order {row.id}, note {goods.note}"
    into = receive_in(session, _receipt(row, goods, lot), who, f"order {row.id}, note {goods.note}", now)
    set_aside_in(session, into, why, who, now)
    _note(session, row, goods, "", goods.quantity, goods.unit, "wrong", who, now)
    back = propose_in(session, row.site, row.source, row.id, goods.item, lot, goods.bin, goods.quantity, goods.unit,
                      "wrong part", row.currency, None, _fault_free(terms), who, now)
    change(session, row, row.state, who, f"note {goods.note}: wrong part {goods.item}", now)
    return BookedIn("wrong", 0, {}, lot, row.state, back)


def _own_lot(session: Session, row: Order, goods: Goods) -> str:
    for count in range(1, 100):
        lot = f"{goods.lot or goods.note} (order {row.id}{f', {count}' if count > 1 else ''})"
        if session.execute(select(Lot.id).where(
                Lot.site == row.site, Lot.item == goods.item, Lot.number == lot)).first() is None:
            return lot
    raise StoreRefuses(f"{goods.item} came wrong with order {row.id} a hundred times; clear that up first.")


def _fault_free(terms: ReturnTerms) -> ReturnTerms:
    """The supplier's own mistake costs no fee (common practice, no source)."""
    return ReturnTerms(terms.days, 0)


def _right(session: Session, row: Order, line: OrderLine, goods: Goods, who: str, now: datetime,
           terms: ReturnTerms) -> BookedIn:
    quantity = amount.convert(goods.quantity, goods.unit, line.unit)
    due = line.quantity if line.confirmed is None else line.confirmed
    if row.state in ("cancelled", "refused"):
        due = 0
    within = min(quantity, max(0, due - _came(session, row, line)))
    beyond = quantity - within
    into = receive_in(session, _receipt(row, goods, goods.lot), who, f"order {row.id}, note {goods.note}", now)
    held = _hold(session, row, line, goods, into, within, who, now)
    takes: Delivered = "beyond" if not within else "instead" if goods.instead_of else "ordered"
    _note(session, row, goods, line.item, quantity, line.unit, takes, who, now)
    back = 0
    if beyond:
        why = f"order {row.id} was {row.state}" if row.state in ("cancelled", "refused") else "more than was ordered"
        price = line.minor if line.confirmed_minor is None else line.confirmed_minor
        per = line.quantity if line.confirmed is None or line.confirmed_minor is None else line.confirmed
        extra = amount.convert(beyond, line.unit, goods.unit)
        back = propose_in(session, row.site, row.source, row.id, goods.item, goods.lot, goods.bin, extra, goods.unit,
                          why, row.currency, price * beyond // per if per else None, _fault_free(terms), who, now)
    text = f"note {goods.note}: {amount.show(goods.quantity)} {goods.unit} of {goods.item}"
    text += f" in place of {goods.instead_of}" if goods.instead_of else ""
    change(session, row, _state_now(session, row, within), who, text, now)
    return BookedIn(takes, amount.convert(beyond, line.unit, goods.unit), held, goods.lot, row.state, back)


def _came(session: Session, row: Order, line: OrderLine) -> int:
    """How much of a line has come, in its unit."""
    return int(session.execute(select(func.coalesce(func.sum(Delivery.quantity), 0)).where(
        Delivery.order == row.id, Delivery.line == line.item)).scalar() or 0)


def _state_now(session: Session, row: Order, within: int) -> str:
    """An order is received when all that was to come has come; one that nobody was sure of is when some of it comes."""
    if row.state in ("cancelled", "refused", "received"):
        return row.state
    lines = session.execute(select(OrderLine).where(OrderLine.order == row.id)).scalars().all()
    row.expected_at = row.expected_at or row.ready
    if all(_came(session, row, line) >= (line.quantity if line.confirmed is None else line.confirmed)
           for line in lines):
        return "received"
    if within and row.state == "unclear":
        return "confirmed"  # who delivers has it
    return "ordered" if within and row.state == "approved" else row.state


def _hold(session: Session, row: Order, line: OrderLine, goods: Goods, lot: Lot, within: int, who: str,
          now: datetime) -> dict[int, int]:
    """Hold what came for whom it was ordered; nothing of a lot that can't be used, and nothing for a booking that is
    cancelled. How much for which booking, in the goods' unit."""
    usable = not lot.quarantine and (lot.use_by is None or lot.use_by >= now.date())
    promises: list[Promise] = []
    held: dict[int, int] = {}
    left = within
    for one in in_turn(session, row.id or 0, line.item):
        taken = min(one.coming, left)
        left -= taken
        one.coming -= taken
        session.add(one)
        quantity = amount.convert(taken, line.unit, goods.unit)
        booking = session.get(Booking, one.booking)
        if not quantity or not usable or booking is None or booking.state == "cancelled" or booking.site != row.site:
            continue
        key = f"{one.need}|{goods.item}|{goods.lot}"
        has = int(session.execute(select(func.coalesce(func.sum(Hold.quantity), 0)).where(
            Hold.promise == key, Hold.state != "released")).scalar() or 0)
        promises.append(Promise(key, one.booking, one.need, goods.item, goods.lot, has + quantity))
        held[one.booking] = held.get(one.booking, 0) + quantity
    session.flush()
    hold_in(session, row.site, promises, who, now)
    return held


def _receipt(row: Order, goods: Goods, lot: str) -> Receipt:
    return Receipt(site=row.site, item=goods.item, bin=goods.bin, quantity=goods.quantity, unit=goods.unit, lot=lot,
                   use_by=goods.use_by)


def _note(session: Session, row: Order, goods: Goods, line: str, quantity: int, unit: str, takes: Delivered, who: str,
          now: datetime) -> None:
    session.add(Delivery(order=row.id or 0, note=goods.note, item=goods.item, lot=goods.lot, line=line,
                         quantity=quantity, unit=unit, takes=takes, who=who, at=now))
    session.flush()


def came_of(store: Store, number: int) -> dict[str, int]:
    """How much of an order's lines has come, by the item that was asked for, in the line's unit."""
    with store.reading() as session:
        return {item: int(total) for item, total in session.execute(
            select(Delivery.line, func.sum(Delivery.quantity)).where(Delivery.order == number, Delivery.line != "")
            .group_by(Delivery.line).order_by(Delivery.line))}
