"""Holds: stock promised to bookings. A hold is one short transaction; from picking on only a person moves it."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import select, update
from sqlmodel import Session

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import HoldRow, HoldState, Promise
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Bin, Hold, Ledger, Lot, Stock

#: Which state may follow which.
FOLLOWS: dict[str, tuple[str, ...]] = {
    "planned": ("picking", "released"),
    "picking": ("picked", "planned", "released"),
    "picked": ("issued", "released"),
    "issued": (),
    "released": (),
}


class NotThere(StoreRefuses):
    """What was to be held isn't there any more: somebody else was first. `item` says of what."""

    def __init__(self, item: str, wanted: int, free: int) -> None:
        self.item = item
        super().__init__(f"{show(wanted)} of {item} were to be held, but only {show(free)} are free. Nothing was held.")


def hold(store: Store, site: str, promises: Sequence[Promise], who: str, now: datetime,
         release: Iterable[int] = ()) -> list[HoldRow]:
    """Hold all of the promises or none; `release` (ids of planned holds) is let go first, in the same transaction.

    What of a key is held already counts. Raises NotThere if anything isn't free.
    """
    with store.writing() as session:
        hold_in(session, site, promises, who, now, release)
    return holds(store, keys=[promise.key for promise in promises])


def hold_in(session: Session, site: str, promises: Sequence[Promise], who: str, now: datetime,
            release: Iterable[int] = ()) -> None:
    """As `hold`, inside a transaction that does more."""
    for number in release:
        _step(session, number, "released", who, now)
    for promise in promises:
        _promise(session, site, promise, who, now)


def _promise(session: Session, site: str, promise: Promise, who: str, now: datetime) -> None:
    """Take what a promise still lacks from the bins of its lot, in the order of their names."""
    parts = session.execute(select(Hold).where(Hold.promise == promise.key)).scalars().all()
    left = promise.quantity - sum(row.quantity for row in parts if row.state != "released")
    if left <= 0:
        return
    part = max((row.part for row in parts), default=-1)
    places = session.execute(
        select(Stock, Bin.name).join(Lot, Lot.id == Stock.lot).join(Bin, Bin.id == Stock.bin)
        .where(Lot.site == site, Lot.item == promise.item, Lot.number == promise.lot,
               Lot.quarantine == "", Stock.on_hand > Stock.held)
        .order_by(Bin.name)).all()
    free = sum(stock.on_hand - stock.held for stock, _ in places)
    if free < left:
        raise NotThere(promise.item, left, free)
    for stock, _ in places:
        taken = min(left, stock.on_hand - stock.held)
        if not taken:
            break
        lot, bin_ = stock.lot, stock.bin
        # the condition decides, not what was read: another session may have been quicker
        done = session.execute(
            update(Stock).where(Stock.lot == lot, Stock.bin == bin_, Stock.on_hand - Stock.held >= taken)
            .values(held=Stock.held + taken).execution_options(synchronize_session=False))
        if done.rowcount != 1:
            raise NotThere(promise.item, left, 0)
        part += 1
        row = Hold(promise=promise.key, part=part, booking=promise.booking, need=promise.need, item=promise.item,
                   lot=lot, bin=bin_, quantity=taken, state="planned", changed_at=now, changed_by=who)
        session.add(row)
        session.flush()
        session.add(Ledger(at=now, action="hold", lot=lot, bin=bin_, on_hand=0, held=taken, booking=promise.booking,
                           hold=row.id, who=who, why=promise.need))
        left -= taken


def step(store: Store, ids: Iterable[int], state: HoldState, who: str, now: datetime) -> None:
    """Take holds to their next state: all or none. Raises StoreRefuses where it can't follow."""
    with store.writing() as session:
        for number in ids:
            _step(session, number, state, who, now)


def _step(session: Session, number: int, state: str, who: str, now: datetime) -> None:
    row = session.get(Hold, number, with_for_update=True)
    if row is None:
        raise WrongUse(f"There is no hold {number}.")
    if row.state == state:
        return
    if state not in FOLLOWS[row.state]:
        raise StoreRefuses(f"Hold {number} of {row.item} is {row.state}; it can't become {state}.")
    before, row.state, row.changed_at, row.changed_by = row.state, state, now, who
    if state == "released":
        _settle(session, row, 0, -row.quantity, "release", who, f"was {before}", now)
    elif state == "issued":
        _settle(session, row, -row.quantity, -row.quantity, "issue", who, row.need, now)
    session.add(row)
    session.flush()


def _settle(session: Session, row: Hold, on_hand: int, held: int, action: str, who: str, why: str,
            now: datetime) -> None:
    session.execute(
        update(Stock).where(Stock.lot == row.lot, Stock.bin == row.bin)
        .values(on_hand=Stock.on_hand + on_hand, held=Stock.held + held).execution_options(synchronize_session=False))
    session.add(Ledger(at=now, action=action, lot=row.lot, bin=row.bin, on_hand=on_hand, held=held,
                       booking=row.booking, hold=row.id, who=who, why=why))


def short_pick(store: Store, number: int, found: int, who: str, now: datetime) -> None:
    """Of what was promised only `found` (milli-units) is there: the rest of the hold is let go, the bin is to be counted."""
    from kitbuilder.store.tables import ShortPick

    with store.writing() as session:
        row = session.get(Hold, number, with_for_update=True)
        if row is None or row.state not in ("planned", "picking"):
            raise StoreRefuses(f"Hold {number} is not being picked.")
        missing = row.quantity - found
        if missing <= 0 or found < 0:
            raise WrongUse(f"{show(found)} found is not short of the {show(row.quantity)} promised.")
        session.add(ShortPick(booking=row.booking, hold=number, missing=missing, who=who, at=now))
        if found == 0:
            _step(session, number, "released", who, now)
            return
        row.quantity, row.changed_at, row.changed_by = found, now, who
        session.add(row)
        session.flush()
        _settle(session, row, 0, -missing, "release", who, "short pick", now)


def holds(store: Store, booking: int | None = None, keys: Iterable[str] | None = None,
          site: str | None = None) -> list[HoldRow]:
    """Holds that aren't released, by booking, need and bin."""
    query = select(Hold, Lot, Bin).join(Lot, Lot.id == Hold.lot).join(Bin, Bin.id == Hold.bin).where(
        Hold.state != "released")
    if booking is not None:
        query = query.where(Hold.booking == booking)
    if site is not None:
        query = query.where(Lot.site == site)
    wanted = None if keys is None else set(keys)
    with store.reading() as session:
        found = [
            HoldRow(row.id or 0, row.promise, row.booking, row.need, row.item, lot.number, bin_.name, row.quantity,
                    lot.unit, row.state, lot.use_by)
            for row, lot, bin_ in session.execute(query)
        ]
    kept = [one for one in found if wanted is None or one.key in wanted]
    return sorted(kept, key=lambda one: (one.booking, one.need, one.bin, one.id))
