"""The ledger: the one place that changes a balance, and the rows that prove every one."""

from datetime import datetime

from sqlalchemy import bindparam, insert, select, update

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.shelf import LedgerRow
from kitbuilder.store.database import Store
from kitbuilder.store.prepared import Hand, Prepared
from kitbuilder.store.tables import Bin, Ledger, Lot, Stock

_CHANGE = Prepared(
    update(Stock)
    .where(Stock.lot == bindparam("lot_"), Stock.bin == bindparam("bin_"),
           Stock.on_hand - Stock.held + bindparam("on_hand_") - bindparam("held_") >= 0)
    .values(on_hand=Stock.on_hand + bindparam("on_hand_"), held=Stock.held + bindparam("held_"),
            changes=Stock.changes + 1)
    .returning(Stock.on_hand, Stock.held, Stock.changes))
_ROW = Prepared(
    insert(Ledger), "at", "action", "lot", "bin", "number", "on_hand", "held", "on_hand_after", "held_after", "booking",
    "hold", "who", "why", "reserve")


def change(hand: Hand, lot: int, bin_: int, on_hand: int, held: int, action: str, who: str, why: str, now: datetime,
           booking: int | None = None, hold: int | None = None, reserve: int | None = None) -> bool:
    """Change a balance, and write the row that proves it; False, and nothing done, if more would be promised than is
    there. The condition decides, not what was read before: another session may have been quicker."""
    after = _CHANGE.run(hand, lot_=lot, bin_=bin_, on_hand_=on_hand, held_=held)
    if not after:
        return False
    _ROW.run(hand, at=now, action=action, lot=lot, bin=bin_, number=after[0][2], on_hand=on_hand, held=held,
             on_hand_after=after[0][0], held_after=after[0][1], booking=booking, hold=hold, who=who, why=why,
             reserve=reserve)
    return True


def must_change(hand: Hand, lot: int, bin_: int, on_hand: int, held: int, action: str, who: str, why: str,
                now: datetime, booking: int | None = None, hold: int | None = None,
                reserve: int | None = None) -> None:
    """As `change`. Raises StoreRefuses if there isn't as much."""
    if not change(hand, lot, bin_, on_hand, held, action, who, why, now, booking, hold, reserve):
        raise StoreRefuses("More would be promised than is there. Nothing was changed; `kitbuilder stock audit` looks "
                           "whether the store is sound.")


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
