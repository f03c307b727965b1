"""Stock in the store: goods in, counts, moves, quarantine, and the audit that proves every balance."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlalchemy import func, select, update
from sqlmodel import Session

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import AuditFault, LedgerRow, Receipt, ShelfLot
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Bin, Hold, Ledger, Lot, Site, Stock

_PROMISED = ("planned", "picking", "picked")


def receive(store: Store, receipt: Receipt, who: str, now: datetime) -> None:
    """Book goods in. Raises StoreRefuses if the lot is known with another unit or use-by."""
    with store.writing() as session:
        lot = _lot(session, receipt, now)
        bin_ = _bin(session, receipt.site, receipt.bin, receipt.waits)
        _change(session, lot, bin_, receipt.quantity, 0, "receive", who, "", now)


def _lot(session: Session, receipt: Receipt, now: datetime) -> int:
    if session.get(Site, receipt.site) is None:
        session.add(Site(name=receipt.site))
        session.flush()
    found = session.execute(select(Lot).where(
        Lot.site == receipt.site, Lot.item == receipt.item, Lot.number == receipt.lot)).scalar_one_or_none()
    if found is None:
        found = Lot(site=receipt.site, item=receipt.item, number=receipt.lot, unit=receipt.unit,
                    use_by=receipt.use_by, received_at=now)
        session.add(found)
        session.flush()
    elif found.unit != receipt.unit or found.use_by != receipt.use_by:
        use_by = found.use_by.isoformat() if found.use_by else "none"
        raise StoreRefuses(
            f"Lot {receipt.lot!r} of {receipt.item} is known in {found.unit} with use-by {use_by}. "
            "Receive it so, or under another lot number.")
    assert found.id is not None
    return found.id


def _bin(session: Session, site: str, name: str, waits: str) -> int:
    found = session.execute(select(Bin).where(Bin.site == site, Bin.name == name)).scalar_one_or_none()
    if found is None:
        found = Bin(site=site, name=name, waits=waits)
        session.add(found)
        session.flush()
    assert found.id is not None
    return found.id


def _change(session: Session, lot: int, bin_: int, on_hand: int, held: int, action: str, who: str, why: str,
            now: datetime, booking: int | None = None, hold: int | None = None) -> None:
    """Change a balance and write the row of the ledger that proves it; the database refuses one below zero."""
    if session.get(Stock, (lot, bin_)) is None:
        session.add(Stock(lot=lot, bin=bin_, on_hand=0, held=0))
        session.flush()
    session.execute(
        update(Stock).where(Stock.lot == lot, Stock.bin == bin_)
        .values(on_hand=Stock.on_hand + on_hand, held=Stock.held + held))
    session.expire_all()
    session.add(Ledger(at=now, action=action, lot=lot, bin=bin_, on_hand=on_hand, held=held, booking=booking,
                       hold=hold, who=who, why=why))


def lots(store: Store, site: str | None = None, items: Iterable[str] | None = None) -> list[ShelfLot]:
    """What lies where, by item, use-by (none last), lot and bin."""
    wanted = None if items is None else list(items)
    query = select(Lot, Bin, Stock).join(Stock, Stock.lot == Lot.id).join(Bin, Bin.id == Stock.bin)
    if site is not None:
        query = query.where(Lot.site == site)
    if wanted is not None:
        query = query.where(Lot.item.in_(wanted))
    with store.reading() as session:
        found = [
            ShelfLot(lot.site, lot.item, lot.number, bin_.name, stock.on_hand, stock.held, lot.unit, lot.use_by,
                     lot.quarantine)
            for lot, bin_, stock in session.execute(query)
        ]
    return sorted(found, key=lambda one: (
        one.site, one.item, one.use_by is None, one.use_by.isoformat() if one.use_by else "", one.lot, one.bin))


def count(store: Store, site: str, item: str, lot: str, bin_name: str, quantity: int, who: str, why: str,
          now: datetime) -> int:
    """Set what a count found; the difference goes to the ledger and is returned.

    Raises StoreRefuses if less was found than is promised: release or pick short first.
    """
    with store.writing() as session:
        stock = _stock(session, site, item, lot, bin_name)
        if quantity < stock.held:
            raise StoreRefuses(
                f"{show(quantity)} of {item} counted in {bin_name}, but {show(stock.held)} are promised. "
                "Release what can't be kept, then count again.")
        difference = quantity - stock.on_hand
        _change(session, stock.lot, stock.bin, difference, 0, "count", who, why, now)
    return difference


def move(store: Store, site: str, item: str, lot: str, from_bin: str, to_bin: str, quantity: int, who: str,
         now: datetime) -> None:
    """Move what isn't promised from one bin to another. Raises StoreRefuses if there isn't as much."""
    with store.writing() as session:
        stock = _stock(session, site, item, lot, from_bin)
        if quantity > stock.on_hand - stock.held:
            raise StoreRefuses(
                f"{from_bin} has {show(stock.on_hand - stock.held)} of {item} that isn't promised, "
                f"not {show(quantity)}.")
        target = _bin(session, site, to_bin, "shelf")
        lot_id, bin_id = stock.lot, stock.bin
        _change(session, lot_id, bin_id, -quantity, 0, "move out", who, f"to {to_bin}", now)
        _change(session, lot_id, target, quantity, 0, "move in", who, f"from {from_bin}", now)


def quarantine(store: Store, site: str, item: str, lot: str, why: str, who: str, now: datetime) -> None:
    """Put a lot into quarantine for a reason, or out of it with an empty one."""
    with store.writing() as session:
        rows = session.execute(
            select(Lot, Stock).join(Stock, Stock.lot == Lot.id)
            .where(Lot.site == site, Lot.item == item, Lot.number == lot)).all()
        if not rows:
            raise WrongUse(f"{site} has no lot {lot!r} of {item}.")
        rows[0][0].quarantine = why
        for _, stock in rows:
            _change(session, stock.lot, stock.bin, 0, 0, "quarantine", who, why or "released", now)


def _stock(session: Session, site: str, item: str, lot: str, bin_name: str) -> Stock:
    found: Stock | None = session.execute(
        select(Stock).join(Lot, Lot.id == Stock.lot).join(Bin, Bin.id == Stock.bin)
        .where(Lot.site == site, Lot.item == item, Lot.number == lot, Bin.name == bin_name)
    ).scalar_one_or_none()
    if found is None:
        raise WrongUse(f"{site} has no {item}{f' of lot {lot}' if lot else ''} in {bin_name}.")
    return found


def ledger(store: Store, item: str | None = None) -> list[LedgerRow]:
    """The ledger, oldest first."""
    query = select(Ledger, Lot, Bin).join(Lot, Lot.id == Ledger.lot).join(Bin, Bin.id == Ledger.bin)
    if item is not None:
        query = query.where(Lot.item == item)
    with store.reading() as session:
        return [
            LedgerRow(row.id or 0, row.at, row.action, lot.item, lot.number, bin_.name, row.on_hand, row.held,
                      row.booking, row.who, row.why)
            for row, lot, bin_ in session.execute(query.order_by(Ledger.id))
        ]


def audit(store: Store) -> list[AuditFault]:
    """Prove every balance from the ledger and every promise from the holds; what isn't proved is returned."""
    faults: list[AuditFault] = []
    with store.reading() as session:
        balances = {(stock.lot, stock.bin): (stock.on_hand, stock.held) for stock in session.execute(select(Stock)).scalars()}
        promised: dict[tuple[int, int], int] = {
            (lot, bin_): int(total) for lot, bin_, total in session.execute(
                select(Hold.lot, Hold.bin, func.sum(Hold.quantity))
                .where(Hold.state.in_(_PROMISED)).group_by(Hold.lot, Hold.bin))
        }
        names = {
            (lot.id, bin_.id): (lot.item, lot.number, bin_.name)
            for lot, bin_ in session.execute(select(Lot, Bin).where(Lot.site == Bin.site))
        }
        sums: dict[tuple[int, int], tuple[int, int]] = {}
        for row in session.execute(select(Ledger).order_by(Ledger.id)).scalars():
            place = (row.lot, row.bin)
            on_hand, held = sums.get(place, (0, 0))
            sums[place] = on_hand, held = on_hand + row.on_hand, held + row.held
            if not 0 <= held <= on_hand:
                faults.append(AuditFault(*names[place], f"after this row {show(on_hand)} are there and {show(held)} "
                                         "promised, which can't be", row.id))
    for place in sorted(set(balances) | set(sums) | set(promised)):
        faults += _place_faults(names[place], balances.get(place, (0, 0)), sums.get(place, (0, 0)), promised.get(place, 0))
    return faults


def _place_faults(names: Sequence[str], balance: tuple[int, int], proved: tuple[int, int],
                  promised: int) -> list[AuditFault]:
    found = []
    for what, has, should in (("are there", balance[0], proved[0]), ("are promised", balance[1], proved[1])):
        if has != should:
            found.append(AuditFault(names[0], names[1], names[2],
                                    f"{show(has)} {what}, but the ledger proves {show(should)}", None))
    if balance[1] != promised:
        found.append(AuditFault(names[0], names[1], names[2],
                                f"{show(balance[1])} are promised, but the holds add up to {show(promised)}", None))
    return found
