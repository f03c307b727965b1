"""Stock in the store: goods in, counts, moves, quarantine, and what lies where."""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import func, insert, select, update
from sqlmodel import Session, col

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import Receipt, ShelfLot
from kitbuilder.model.transfer import MARK
from kitbuilder.store.database import Store
from kitbuilder.store.holds import release_planned
from kitbuilder.store.ledger import must_change
from kitbuilder.store.prepared import hand_of
from kitbuilder.store.reserves import give_back
from kitbuilder.store.tables import Bin, Hold, Lot, Reserve, ShortPick, Site, Stock

#: So many parameters a query may surely have.
_MANY = 500


def receive(store: Store, receipt: Receipt, who: str, now: datetime) -> None:
    """Book goods in. Raises StoreRefuses if the lot is known with another unit or use-by, WrongUse if nothing comes in
    or it has no place to lie."""
    if receipt.quantity <= 0:
        raise WrongUse(f"{show(receipt.quantity)} of {receipt.item} can't be received. Expected more than zero.")
    with store.writing() as session:
        receive_in(session, receipt, who, "", now)


def receive_in(session: Session, receipt: Receipt, who: str, why: str, now: datetime) -> Lot:
    """As `receive`, inside a transaction that does more; the lot that it is of."""
    _site(session, receipt.site)
    lot = _lot(session, receipt, now)
    bin_ = _bin(session, receipt.site, receipt.bin, receipt.waits)
    _put(session, receipt.site, lot, bin_)
    must_change(hand_of(session), lot, bin_, receipt.quantity, 0, "receive", who, why, now)
    found = session.get(Lot, lot)
    assert found is not None
    return found


def set_aside_in(session: Session, lot: Lot, why: str, who: str, now: datetime) -> None:
    """Put a lot that was received just now into quarantine, inside a transaction that does more."""
    lot.quarantine = why
    session.add(lot)
    hand = hand_of(session)
    for bin_ in session.execute(select(Stock.bin).where(Stock.lot == lot.id).order_by(Stock.bin)).scalars().all():
        must_change(hand, lot.id or 0, bin_, 0, 0, "quarantine", who, why, now)


def take_out_in(session: Session, site: str, item: str, lot: str, bin_name: str, quantity: int, action: str, who: str,
                why: str, now: datetime) -> None:
    """Take what isn't promised out of a bin for good, inside a transaction that does more. Raises StoreRefuses if there
    isn't as much, WrongUse if it isn't there at all."""
    here = _here(session, site, item, lot, bin_name)
    if quantity > here.on_hand - here.held:
        raise StoreRefuses(
            f"{bin_name} has {show(here.on_hand - here.held)} {here.unit} of {item} that isn't promised, "
            f"not {show(quantity)}. Nothing was changed.")
    must_change(hand_of(session), here.lot, here.bin, -quantity, 0, action, who, why, now)


def _site(session: Session, name: str) -> None:
    if session.get(Site, name) is None:
        session.add(Site(name=name))
        session.flush()


def _lot(session: Session, receipt: Receipt, now: datetime) -> int:
    found = session.execute(select(Lot).where(
        Lot.site == receipt.site, Lot.item == receipt.item, Lot.number == receipt.lot)).scalar_one_or_none()
    if found is None:
        found = Lot(site=receipt.site, item=receipt.item, number=receipt.lot, unit=receipt.unit,
                    use_by=receipt.use_by, received_at=now)
        session.add(found)
        session.flush()
    elif found.unit != receipt.unit or found.use_by != receipt.use_by:
        use_by = found.use_by.isoformat() if found.use_by else "none"
        what = f"Lot {receipt.lot} of {receipt.item}" if receipt.lot else f"{receipt.item} without a lot number"
        raise StoreRefuses(
            f"{what} is known in {found.unit} with use-by {use_by}. Receive it so, or under another lot number.")
    assert found.id is not None
    return found.id


def _bin(session: Session, site: str, name: str, waits: str = "shelf") -> int:
    if not name.strip():
        raise WrongUse("A bin needs a name, as A-01-2-3.")
    found = session.execute(select(Bin).where(Bin.site == site, Bin.name == name)).scalar_one_or_none()
    if found is None:
        found = Bin(site=site, name=name, waits=waits)
        session.add(found)
        session.flush()
    assert found.id is not None
    return found.id


def _put(session: Session, site: str, lot: int, bin_: int) -> None:
    """Have a balance for a lot in a bin, of nothing if there is none yet."""
    if session.execute(select(Stock.lot).where(Stock.lot == lot, Stock.bin == bin_)).first() is None:
        session.execute(insert(Stock).values(lot=lot, bin=bin_, site=site, on_hand=0, held=0, changes=0))


def balance_in(session: Session, site: str, lot: Lot, bin_name: str) -> tuple[Lot, int]:
    """Have a balance at a site for a lot that lies at another, with its number, use-by and day of receipt, inside a
    transaction that does more: the lot there, and its bin's id. Raises StoreRefuses if it is known there otherwise."""
    _site(session, site)
    number = _lot(session, Receipt(site=site, item=lot.item, bin=bin_name, quantity=0, unit=lot.unit, lot=lot.number,
                                   use_by=lot.use_by), lot.received_at)
    bin_ = _bin(session, site, bin_name)
    _put(session, site, number, bin_)
    found = session.get(Lot, number)
    assert found is not None
    return found, bin_


def lots(store: Store, site: str | None = None, items: Iterable[str] | None = None) -> list[ShelfLot]:
    """What lies where, by item, use-by (none last), lot and bin."""
    wanted = None if items is None else set(items)
    query = select(Lot, Bin, Stock).join(Stock, Stock.lot == Lot.id).join(Bin, Bin.id == Stock.bin)
    if site is not None:
        query = query.where(Lot.site == site)
    if wanted is not None and len(wanted) <= _MANY:
        query = query.where(Lot.item.in_(wanted))
    with store.reading() as session:
        found = [
            ShelfLot(lot.site, lot.item, lot.number, bin_.name, stock.on_hand, stock.held, lot.unit, lot.use_by,
                     lot.quarantine)
            for lot, bin_, stock in session.execute(query) if wanted is None or lot.item in wanted
        ]
    return sorted(found, key=lambda one: (
        one.site, one.item, one.use_by is None, one.use_by.isoformat() if one.use_by else "", one.lot, one.bin))


def count(store: Store, site: str, item: str, lot: str, bin_name: str, quantity: int, who: str, why: str,
          now: datetime) -> int:
    """Set what a count found in a bin, where what was picked for a booking lies no more; the difference goes to the
    ledger and is returned. Picks that were short there count as counted.

    What was set aside there for findings is given back if it is too much now. Raises StoreRefuses if less was found
    than is promised and not picked yet: release or pick short first.
    """
    if quantity < 0:
        raise WrongUse(f"{show(quantity)} can't be what a count found.")
    with store.writing() as session:
        here = _here(session, site, item, lot, bin_name)
        states: dict[str, int] = {state: int(total) for state, total in session.execute(
            select(Hold.state, func.sum(Hold.quantity))
            .where(Hold.lot == here.lot, Hold.bin == here.bin).group_by(Hold.state))}
        picked = states.get("picked", 0)
        if quantity < here.held - picked:
            # what is set aside is for nobody yet, and the next run sets aside anew
            give_back(hand_of(session), session.execute(select(Reserve.id).where(
                Reserve.lot == here.lot, Reserve.bin == here.bin)).scalars().all(), who, "count", now)
            here = _here(session, site, item, lot, bin_name)
        if quantity < here.held - picked:
            for_vans = session.execute(select(Hold.id).where(
                Hold.lot == here.lot, Hold.bin == here.bin, Hold.state.in_(("planned", "picking")),
                col(Hold.promise).like(f"{MARK}%"))).first() is not None
            van = " What is held for a van is sent or cancelled with kitbuilder order." if for_vans else ""
            raise StoreRefuses(
                f"{show(quantity)} {here.unit} of {item} counted in {bin_name}, but {show(here.held - picked)} are "
                "promised and not picked yet. Tell what was found of each (kitbuilder pick BOOKING --short), or that "
                f"it was picked (--done), then count again.{van}")
        difference = quantity + picked - here.on_hand
        must_change(hand_of(session), here.lot, here.bin, difference, 0, "count", who, why, now)
        session.execute(
            update(ShortPick).where(ShortPick.counted_at.is_(None), ShortPick.hold.in_(
                select(Hold.id).where(Hold.lot == here.lot, Hold.bin == here.bin)))
            .values(counted_at=now).execution_options(synchronize_session=False))
    return difference


def move(store: Store, site: str, item: str, lot: str, from_bin: str, to_bin: str, quantity: int, who: str,
         now: datetime) -> None:
    """Move what isn't promised from one bin to another. Raises StoreRefuses if there isn't as much, WrongUse if it
    would go nowhere."""
    if quantity <= 0:
        raise WrongUse(f"{show(quantity)} can't be moved. Expected more than zero.")
    if from_bin == to_bin:
        raise WrongUse(f"It is in {from_bin} already. Name another bin.")
    with store.writing() as session:
        here = free_in(session, site, item, lot, from_bin, quantity)
        target = _bin(session, site, to_bin)
        _put(session, site, here.lot, target)
        hand = hand_of(session)
        must_change(hand, here.lot, here.bin, -quantity, 0, "move out", who, f"to {to_bin}", now)
        must_change(hand, here.lot, target, quantity, 0, "move in", who, f"from {from_bin}", now)


def free_in(session: Session, site: str, item: str, lot: str, bin_name: str, quantity: int) -> "_Here":
    """What lies in a bin, of which so much is to be moved. Raises StoreRefuses if there isn't as much that isn't
    promised, WrongUse if it isn't there at all."""
    here = _here(session, site, item, lot, bin_name)
    if quantity > here.on_hand - here.held:
        raise StoreRefuses(
            f"{bin_name} has {show(here.on_hand - here.held)} {here.unit} of {item} that isn't promised, "
            f"not {show(quantity)}. Nothing was moved.")
    return here


class Quarantined(NamedTuple):
    """What a quarantine came to: the bookings whose planned holds were let go, and those that have it in work."""

    let_go: tuple[int, ...]
    in_work: tuple[int, ...]


def quarantine(store: Store, site: str, item: str, lot: str, why: str, who: str, now: datetime) -> Quarantined:
    """Put a lot into quarantine for a reason, or out of it with an empty one.

    What was planned from it is let go: it can't be used. What is being picked or was picked stays until a person
    moves it. Raises WrongUse if there is no such lot.
    """
    with store.writing() as session:
        row = session.execute(
            select(Lot).where(Lot.site == site, Lot.item == item, Lot.number == lot)).scalar_one_or_none()
        if row is None:
            raise WrongUse(_none(session, site, item, lot))
        row.quarantine = why
        hand = hand_of(session)
        for bin_ in session.execute(select(Stock.bin).where(Stock.lot == row.id).order_by(Stock.bin)).scalars().all():
            must_change(hand, row.id, bin_, 0, 0, "quarantine", who, why or "released", now)
        if not why:
            return Quarantined((), ())
        of_lot = session.execute(
            select(Hold.id, Hold.booking, Hold.state).where(Hold.lot == row.id).order_by(Hold.id)).all()
        release_planned(hand, [number for number, _, state in of_lot if state == "planned"], who, now)
        give_back(hand, session.execute(select(Reserve.id).where(Reserve.lot == row.id)).scalars().all(), who, why, now)
    return Quarantined(
        tuple(sorted({booking for _, booking, state in of_lot if state == "planned"})),
        tuple(sorted({booking for _, booking, state in of_lot if state in ("picking", "picked")})))


class _Here(NamedTuple):
    lot: int
    bin: int
    on_hand: int
    held: int
    unit: str


def _here(session: Session, site: str, item: str, lot: str, bin_name: str) -> _Here:
    row = session.execute(
        select(Stock.lot, Stock.bin, Stock.on_hand, Stock.held, Lot.unit)
        .join(Lot, Lot.id == Stock.lot).join(Bin, Bin.id == Stock.bin)
        .where(Lot.site == site, Lot.item == item, Lot.number == lot, Bin.name == bin_name)
        .with_for_update(of=Stock)).one_or_none()
    if row is None:
        raise WrongUse(_none(session, site, item, lot, bin_name))
    return _Here(*row)


def _none(session: Session, site: str, item: str, lot: str, bin_name: str = "") -> str:
    """That something isn't there, and what is there of the item."""
    where = f" in {bin_name}" if bin_name else ""
    known = session.execute(
        select(Lot.number, Bin.name).join(Stock, Stock.lot == Lot.id).join(Bin, Bin.id == Stock.bin)
        .where(Lot.site == site, Lot.item == item).order_by(Bin.name, Lot.number)).all()
    there = ", ".join(f"{name}{f' (lot {number})' if number else ' (no lot)'}" for number, name in known[:8])
    hint = f"It has been in {there}." if there else "It was never received there: kitbuilder stock receive."
    return f"{site} has no {item}{f' of lot {lot}' if lot else ' without a lot number'}{where}. {hint}"
