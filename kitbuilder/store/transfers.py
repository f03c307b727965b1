"""Transfers between sites of one store: what a van brings is held where it lies, and moves when it is booked in."""

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import and_, select
from sqlmodel import Session, col

from kitbuilder import amount
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import UNDER_WAY, Goods
from kitbuilder.model.shelf import HoldRow, Promise
from kitbuilder.model.transfer import MARK, Carried, Load, from_site, goes_to, leaves_from
from kitbuilder.store.database import Store
from kitbuilder.store.holds import hold_in, let_go_of, step_in
from kitbuilder.store.ledger import must_change
from kitbuilder.store.prepared import Hand, hand_of
from kitbuilder.store.shelves import balance_in, free_in, set_aside_in
from kitbuilder.store.tables import PROMISED, Bin, Booking, Hold, Lot, Order, OrderFor, OrderLine, Site

#: Which holds an order of a state has: those that a run may still move, or those that a person took over.
_OF_PROPOSAL, _OF_DECIDED = ("planned",), ("picking", "picked")


def other_sites(store: Store, site: str) -> frozenset[str]:
    """The sites of the store but one."""
    with store.reading() as session:
        return frozenset(session.execute(select(Site.name).where(Site.name != site)).scalars())


def carried_to(store: Store, site: str) -> list[Carried]:
    """What is held at other sites for transfers to a site, by booking, need and bin."""
    query = select(Hold, Lot, Bin).join(Lot, Lot.id == Hold.lot).join(Bin, Bin.id == Hold.bin).where(
        Hold.state.in_(PROMISED), col(Hold.promise).startswith(MARK, autoescape=True))
    with store.reading() as session:
        found = [Carried(lot.site, _row(row, lot, bin_)) for row, lot, bin_ in session.execute(query)
                 if row.promise.startswith(goes_to(lot.site, site))]
    return sorted(found, key=lambda one: (one.hold.booking, one.hold.need, one.site, one.hold.bin, one.hold.id))


def loads_at(store: Store, site: str) -> list[Load]:
    """What is to be loaded at a site for others, or is on its way from there, by when it leaves."""
    query = select(Order).where(
        col(Order.key).startswith(leaves_from(site), autoescape=True), Order.state.in_(("proposed", *UNDER_WAY)))
    with store.reading() as session:
        found = []
        for row in session.execute(query.order_by(Order.id)).scalars().all():
            rows = sorted((_row(*one) for one in _held(session, row)), key=lambda one: (one.bin, one.item, one.lot))
            found.append(Load(
                order=row.id or 0, site=row.site, source=row.source, slot=row.slot, leaves=row.cut_off,
                ready=row.ready, state=row.state, said_by=row.decided_by, rows=tuple(rows)))
    return sorted(found, key=lambda one: (one.leaves or one.ready, one.order))


def _row(row: Hold, lot: Lot, bin_: Bin) -> HoldRow:
    return HoldRow(row.id or 0, row.promise, row.booking, row.need, lot.item, lot.number, bin_.name, row.quantity,
                   lot.unit, row.state, lot.use_by)


class _Held(NamedTuple):
    hold: Hold
    lot: Lot
    bin: Bin


def _held(session: Session, order: Order) -> list[_Held]:
    """What is held for a transfer. Where others of its key were decided before, they have what was held first."""
    states = _OF_PROPOSAL if order.state == "proposed" else _OF_DECIDED
    units = _units(session, order)
    found = []
    for wanted in session.execute(select(OrderFor).where(
            OrderFor.order == order.id, OrderFor.coming > 0).order_by(OrderFor.id)).scalars().all():
        skip, left = _before(session, order, wanted), wanted.coming
        query = (select(Hold, Lot, Bin).join(Lot, Lot.id == Hold.lot).join(Bin, Bin.id == Hold.bin).where(
            col(Hold.promise).startswith(f"{order.key}|{wanted.need}|{wanted.item}|", autoescape=True),
            Hold.state.in_(states), Hold.need == wanted.need, Hold.booking == wanted.booking,
            Lot.item == wanted.item).order_by(Hold.id))
        for row, lot, bin_ in session.execute(query):
            quantity = amount.convert(row.quantity, lot.unit, units[wanted.item])
            if skip > 0:
                skip -= quantity
            elif left > 0:
                left -= quantity
                found.append(_Held(row, lot, bin_))
    return found


def _before(session: Session, order: Order, wanted: OrderFor) -> int:
    """How much of what is held for a need, in the unit of the order's line, is that of transfers of the same key that
    were decided before; of a proposal only what is planned is looked at, which is all its own."""
    if order.state == "proposed":
        return 0
    query = (select(OrderFor.coming, OrderLine.unit)
             .join(Order, Order.id == OrderFor.order)
             .join(OrderLine, and_(OrderLine.order == OrderFor.order, OrderLine.item == OrderFor.item))
             .where(Order.key == order.key, Order.sequence < order.sequence, Order.state.in_(UNDER_WAY),
                    OrderFor.item == wanted.item, OrderFor.need == wanted.need, OrderFor.booking == wanted.booking))
    unit = _units(session, order)[wanted.item]
    return sum(amount.convert(coming, of, unit) for coming, of in session.execute(query))


def _units(session: Session, order: Order) -> dict[str, str]:
    """The items that an order brings, and the unit of each."""
    return {line.item: line.unit for line in session.execute(
        select(OrderLine).where(OrderLine.order == order.id)).scalars()}


def decided_in(session: Session, order: Order, state: str, who: str, now: datetime) -> None:
    """Have what is held for a transfer follow what a person decides, inside the transaction that decides: got together
    from `approved` on, on the van from `ordered` on, let go where it is cancelled.

    Raises StoreRefuses if it isn't held any more as it was proposed, or if it is said to be here and isn't booked in.
    """
    if not from_site(order.key):
        return
    held = _held(session, order)
    if state in ("approved", "ordered"):
        _must_be_whole(session, order, held)
        for following in ("picking", "picked") if state == "ordered" else ("picking",):
            step_in(session, [one.hold.id or 0 for one in held if one.hold.state != "picked"], following, who, now)
    elif state == "cancelled":
        step_in(session, [one.hold.id or 0 for one in held], "released", who, now)
    elif state == "received" and held:
        raise StoreRefuses(
            f"What order {order.id} brings from {from_site(order.key)} isn't booked in yet. Say where it is put: "
            f"kitbuilder order received {order.id} --bin BIN, or stock receive for part of it.")


def drop_rest_in(session: Session, order: Order, who: str, now: datetime) -> None:
    """Let go what is still held for a transfer of which the rest isn't coming: it is where it was."""
    if from_site(order.key):
        step_in(session, [one.hold.id or 0 for one in _held(session, order)], "released", who, now)


def _must_be_whole(session: Session, order: Order, held: Sequence[_Held]) -> None:
    for item, unit in _units(session, order).items():
        wanted = sum(session.execute(select(OrderFor.coming).where(
            OrderFor.order == order.id, OrderFor.item == item)).scalars())
        here = sum(amount.convert(one.hold.quantity, one.lot.unit, unit) for one in held if one.lot.item == item)
        if here < wanted:
            raise StoreRefuses(
                f"Order {order.id} is to bring {amount.show(wanted)} {unit} of {item}, but {from_site(order.key)} has "
                f"only {amount.show(here)} held for it now. Run the night again: it looks for another way.")
        aside = next((one for one in held if one.lot.item == item and one.lot.quarantine), None)
        if aside is not None:
            raise StoreRefuses(f"{item}{f' lot {aside.lot.number}' if aside.lot.number else ''} is in quarantine at "
                               f"{aside.lot.site}: {aside.lot.quarantine}. Cancel order {order.id}; the next run looks "
                               "for another way.")


def bring_in(session: Session, order: Order, goods: Goods, who: str, now: datetime) -> dict[int, int]:
    """Book in what a transfer brought: it moves from its bin there to a bin here, with its lot and its use-by, and is
    held for whom it was brought. How much for which booking, in the goods' unit.

    Without a lot told all that comes of the item is of one lot, or all of it comes. Raises StoreRefuses if more is told
    than is held for it there, or another lot.
    """
    there = from_site(order.key)
    held = [one for one in _held(session, order)
            if one.lot.item == goods.item and goods.lot in ("", one.lot.number)]
    total = sum(amount.convert(one.hold.quantity, one.lot.unit, goods.unit) for one in held)
    lots = sorted({one.lot.number for one in held})
    if goods.quantity > total:
        of = f" of lot {goods.lot}" if goods.lot else ""
        raise StoreRefuses(
            f"Order {order.id} brings {amount.show(total)} {goods.unit} of {goods.item}{of} from {there}, not "
            f"{amount.show(goods.quantity)}. Book in what was sent; what came besides it moves with kitbuilder stock "
            f"move --site {there} --to-site {order.site}.")
    if goods.quantity < total and len(lots) > 1:
        raise StoreRefuses(f"Order {order.id} brings {goods.item} of several lots: "
                           f"{', '.join(lot or 'one without a number' for lot in lots)}. Say which came: --lot.")
    hand = hand_of(session)
    left, brought = goods.quantity, []
    for one in held:
        taken = min(one.hold.quantity, amount.convert(left, goods.unit, one.lot.unit))
        if taken <= 0:
            continue
        left -= amount.convert(taken, one.lot.unit, goods.unit)
        let_go_of(hand, one.hold.id or 0, taken, who, f"order {order.id} is booked in at {order.site}", now)
        _move(session, hand, one.lot, one.bin, taken, order.site, goods.bin, who, f"order {order.id}", now)
        brought.append((one, taken))
    return _held_here(session, order, goods, brought, who, now)


def _held_here(session: Session, order: Order, goods: Goods, brought: Sequence[tuple[_Held, int]], who: str,
               now: datetime) -> dict[int, int]:
    unit = _units(session, order)[goods.item]
    quantities: dict[str, Promise] = {}
    held: dict[int, int] = {}
    for (hold, lot, _), taken in brought:
        wanted = session.execute(select(OrderFor).where(
            OrderFor.order == order.id, OrderFor.item == lot.item, OrderFor.booking == hold.booking,
            OrderFor.need == hold.need)).scalar_one()
        wanted.coming = max(0, wanted.coming - amount.convert(taken, lot.unit, unit))
        session.add(wanted)
        booking = session.get(Booking, hold.booking)
        usable = not lot.quarantine and (lot.use_by is None or lot.use_by >= now.date())
        if booking is None or booking.state == "cancelled" or booking.site != order.site or not usable:
            continue
        key = f"{hold.need}|{lot.item}|{lot.number}"
        before = quantities[key].quantity if key in quantities else sum(session.execute(
            select(Hold.quantity).join(Lot, Lot.id == Hold.lot).where(
                Hold.promise == key, Hold.state != "released", Lot.site == order.site)).scalars())
        quantities[key] = Promise(key, hold.booking, hold.need, lot.item, lot.number, before + taken)
        held[hold.booking] = held.get(hold.booking, 0) + amount.convert(taken, lot.unit, goods.unit)
    session.flush()
    hold_in(session, order.site, list(quantities.values()), who, now)
    return held


def still_to_come(store: Store, number: int) -> list[tuple[str, int, str]]:
    """What a transfer still brings: item, milli-units, unit. Raises WrongUse if the order is none."""
    with store.reading() as session:
        order = session.get(Order, number)
        if order is None or not from_site(order.key):
            raise WrongUse(f"Order {number} brings nothing from another site, so --bin is not for it.")
        held = _held(session, order)
        left = [(item, sum(amount.convert(one.hold.quantity, one.lot.unit, unit) for one in held
                           if one.lot.item == item), unit) for item, unit in _units(session, order).items()]
    return [one for one in left if one[1]]


def move(store: Store, site: str, to_site: str, item: str, lot: str, from_bin: str, to_bin: str, quantity: int,
         who: str, now: datetime) -> None:
    """Move what isn't promised from a bin of one site to a bin of another, with its lot and use-by. For what somebody
    takes along: a van's stock in the morning. Raises StoreRefuses if there isn't as much, WrongUse if it would go
    nowhere or isn't there."""
    if quantity <= 0:
        raise WrongUse(f"{amount.show(quantity)} can't be moved. Expected more than zero.")
    if site == to_site:
        raise WrongUse(f"It is at {site} already. Without --to-site it moves from bin to bin there.")
    with store.writing() as session:
        here = free_in(session, site, item, lot, from_bin, quantity)
        row, bin_ = session.get(Lot, here.lot), session.get(Bin, here.bin)
        assert row is not None
        assert bin_ is not None
        _move(session, hand_of(session), row, bin_, quantity, to_site, to_bin, who, "", now)


def _move(session: Session, hand: Hand, lot: Lot, bin_: Bin, quantity: int, to_site: str, to_bin: str, who: str,
          what: str, now: datetime) -> None:
    """Take something that isn't promised to another site: number, use-by, day of receipt and quarantine go with it."""
    said = f", {what}" if what else ""
    must_change(hand, lot.id or 0, bin_.id or 0, -quantity, 0, "move out", who, f"to {to_site}, {to_bin}{said}", now)
    here, place = balance_in(session, to_site, lot, to_bin)
    must_change(hand, here.id or 0, place, quantity, 0, "move in", who, f"from {lot.site}, {bin_.name}{said}", now)
    if lot.quarantine and not here.quarantine:
        set_aside_in(session, here, lot.quarantine, who, now)
