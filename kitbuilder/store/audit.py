"""The audit: proves every balance from the ledger, and every promise from the holds."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from sqlalchemy import case, func, select
from sqlmodel import Session

from kitbuilder.amount import show
from kitbuilder.model.shelf import AuditFault
from kitbuilder.store.database import Store
from kitbuilder.store.tables import PROMISED, Bin, Hold, Ledger, Lot, Reserve, Stock

_Where = tuple[int, int]


class _Balance(NamedTuple):
    """What a lot in a bin comes to after so many rows of the ledger."""

    on_hand: int = 0
    held: int = 0
    changes: int = 0


def audit(store: Store) -> list[AuditFault]:
    """Prove every balance from the ledger and every promise from the holds; what isn't proved is returned, with the
    first row of the ledger that is wrong where one is. Raises StoreRefuses if the store can't be read."""
    with store.reading() as session:
        names = _Names(session)
        balances = {
            (lot, bin_): _Balance(*rest) for lot, bin_, *rest in session.execute(
                select(Stock.lot, Stock.bin, Stock.on_hand, Stock.held, Stock.changes))}
        proved, faults = _chain(session, names)
        faults += _balances(balances, proved, names)
        faults += _promises(session, balances, names)
        faults += _holds(session, names)
        faults += _reserves(session, names)
    return faults


class _Names:
    """What to call lots and bins; also those that aren't there any more."""

    def __init__(self, session: Session) -> None:
        self._lots = {key: (item, lot) for key, item, lot in session.execute(select(Lot.id, Lot.item, Lot.number))}
        self._bins = {row.id: row.name for row in session.execute(select(Bin.id, Bin.name))}

    def fault(self, where: _Where, text: str, row: int | None = None) -> AuditFault:
        """A fault at a lot in a bin."""
        item, lot = self._lots.get(where[0], (f"lot no. {where[0]}, which is gone,", ""))
        return AuditFault(item, lot, self._bins.get(where[1], f"bin no. {where[1]}, which is gone"), text, row)


def _chain(session: Session, names: _Names) -> tuple[dict[_Where, _Balance], list[AuditFault]]:
    """Follow the rows of each lot in each bin: what they prove, and the first wrong one of each."""
    proved: dict[_Where, _Balance] = {}
    wrong: dict[_Where, AuditFault] = {}
    query = select(
        Ledger.id, Ledger.lot, Ledger.bin, Ledger.number, Ledger.on_hand, Ledger.held, Ledger.on_hand_after,
        Ledger.held_after).order_by(Ledger.lot, Ledger.bin, Ledger.number)
    for row, lot, bin_, number, on_hand, held, on_hand_after, held_after in session.execute(query):
        where = (lot, bin_)
        before = proved.get(where, _Balance())
        after = _Balance(before.on_hand + on_hand, before.held + held, before.changes + 1)
        proved[where] = _Balance(on_hand_after, held_after, number)
        if where in wrong:
            continue
        if number != after.changes:
            wrong[where] = names.fault(
                where, f"the ledger lacks {number - after.changes} of the rows before this one", row)
        elif (on_hand_after, held_after) != after[:2]:
            wrong[where] = names.fault(
                where, f"this row says that {show(on_hand_after)} are there then and {show(held_after)} promised, but "
                f"the rows up to it come to {show(after.on_hand)} and {show(after.held)}", row)
        elif not 0 <= held_after <= on_hand_after:
            wrong[where] = names.fault(
                where, f"after this row {show(on_hand_after)} are there and {show(held_after)} promised, which can't "
                "be", row)
    return proved, [wrong[where] for where in sorted(wrong)]


def _balances(balances: Mapping[_Where, _Balance], proved: Mapping[_Where, _Balance],
              names: _Names) -> Iterator[AuditFault]:
    for where in sorted(balances.keys() | proved.keys()):
        has, should = balances.get(where, _Balance()), proved.get(where, _Balance())
        if has.on_hand != should.on_hand:
            yield names.fault(where, f"{show(has.on_hand)} are there, but the ledger proves {show(should.on_hand)}")
        if has.held != should.held:
            yield names.fault(where, f"{show(has.held)} are promised, but the ledger proves {show(should.held)}")
        if has.changes != should.changes:
            yield names.fault(
                where, f"{has.changes} changes made this balance, but the ledger ends with number {should.changes}")


def _promises(session: Session, balances: Mapping[_Where, _Balance], names: _Names) -> Iterator[AuditFault]:
    promised: dict[_Where, int] = {}
    aside: set[_Where] = set()
    for of, standing in ((Hold, Hold.state.in_(PROMISED)), (Reserve, Reserve.state == "set aside")):
        for lot, bin_, total in session.execute(
                select(of.lot, of.bin, func.sum(of.quantity)).where(standing).group_by(of.lot, of.bin)):
            promised[lot, bin_] = promised.get((lot, bin_), 0) + int(total)
            aside |= {(lot, bin_)} if of is Reserve else set()
    for where in sorted(balances.keys() | promised.keys()):
        held, total = balances.get(where, _Balance()).held, promised.get(where, 0)
        if held != total:
            yield names.fault(where, f"{show(held)} are promised, but the holds"
                                     f"{' and what is set aside' if where in aside else ''} add up to {show(total)}")


def _reserves(session: Session, names: _Names) -> Iterator[AuditFault]:
    """Each reserve has in the ledger just what its state says: that it was set aside, or given back as well."""
    query = (
        select(Reserve.id, Reserve.lot, Reserve.bin, Reserve.quantity, Reserve.state,
               func.coalesce(func.sum(Ledger.held), 0))
        .outerjoin(Ledger, Ledger.reserve == Reserve.id).group_by(Reserve.id).order_by(Reserve.id))
    for number, lot, bin_, quantity, state, held in session.execute(query):
        if held != (quantity if state == "set aside" else 0):
            yield names.fault(
                (lot, bin_), f"reserve {number} is {state} with {show(quantity)}, but the ledger has {show(int(held))} "
                "promised for it")


def _holds(session: Session, names: _Names) -> Iterator[AuditFault]:
    """Each hold has in the ledger just what its state says: its promise, or that it was let go or issued."""
    of_hold = Ledger.action.in_(("hold", "release", "issue"))
    query = (
        select(Hold.id, Hold.lot, Hold.bin, Hold.quantity, Hold.state,
               func.coalesce(func.sum(case((of_hold, Ledger.held), else_=0)), 0),
               func.coalesce(func.sum(case((of_hold, Ledger.on_hand), else_=0)), 0))
        .outerjoin(Ledger, Ledger.hold == Hold.id).group_by(Hold.id).order_by(Hold.id))
    for number, lot, bin_, quantity, state, held, taken in session.execute(query):
        if held != (quantity if state in PROMISED else 0) or -taken != (quantity if state == "issued" else 0):
            yield names.fault(
                (lot, bin_), f"hold {number} is {state} with {show(quantity)}, but the ledger has {show(int(held))} "
                f"promised for it and {show(-int(taken))} issued")
