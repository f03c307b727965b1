"""What is set aside at a site for what may turn out in a day's bookings: held on the shelf, for none of them alone.

What of it a booking needs for certain it gets by a hold like any other: the run gives back what was set aside, holds
what is certain, and sets aside anew what is left to spare, in one transaction.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from sqlalchemy import bindparam, insert, select, update
from sqlmodel import Session

from kitbuilder.errors import WrongUse
from kitbuilder.model.shelf import Aside, ReserveRow
from kitbuilder.store.columns import Moment
from kitbuilder.store.database import Store
from kitbuilder.store.holds import NotThere
from kitbuilder.store.ledger import change, must_change
from kitbuilder.store.prepared import Hand, Prepared, hand_of
from kitbuilder.store.tables import Bin, Lot, Reserve, Stock

_PLACE = Prepared(
    select(Stock.lot, Stock.bin, Stock.on_hand - Stock.held, Lot.quarantine)
    .join(Lot, Lot.id == Stock.lot).join(Bin, Bin.id == Stock.bin)
    .where(Lot.site == bindparam("site"), Lot.item == bindparam("item"), Lot.number == bindparam("lot"),
           Bin.name == bindparam("bin_name")))
_NEW = Prepared(
    insert(Reserve).returning(Reserve.id), "site", "day", "lot", "bin", "quantity", "state", "bookings", "changed_at",
    "changed_by")
_ONE = Prepared(
    select(Reserve.lot, Reserve.bin, Reserve.quantity, Reserve.state).where(Reserve.id == bindparam("number"))
    .with_for_update(of=Reserve))
_BACK = Prepared(
    update(Reserve).where(Reserve.id == bindparam("number"))
    .values(state="given back", changed_at=bindparam("now", type_=Moment()), changed_by=bindparam("who")))


def reserves(store: Store, site: str | None = None) -> list[ReserveRow]:
    """What is set aside, by site, day, item, lot and bin."""
    query = select(Reserve, Lot, Bin).join(Lot, Lot.id == Reserve.lot).join(Bin, Bin.id == Reserve.bin).where(
        Reserve.state == "set aside")
    if site is not None:
        query = query.where(Reserve.site == site)
    with store.reading() as session:
        found = [
            ReserveRow(row.id or 0, row.site, row.day, lot.item, lot.number, bin_.name, row.quantity, lot.unit,
                       tuple(json.loads(row.bookings)), lot.use_by)
            for row, lot, bin_ in session.execute(query)]
    return sorted(found, key=lambda one: (one.site, one.day, one.item, one.lot, one.bin))


def give_back_in(session: Session, numbers: Iterable[int], who: str, why: str, now: datetime) -> None:
    """Give back what is set aside, inside a transaction that does more; what is given back already stays so."""
    give_back(hand_of(session), numbers, who, why, now)
    session.expire_all()


def give_back(hand: Hand, numbers: Iterable[int], who: str, why: str, now: datetime) -> None:
    """As `give_back_in`."""
    for number in numbers:
        rows = _ONE.run(hand, number=number)
        if not rows:
            raise WrongUse(f"Nothing is set aside under the number {number}.")
        lot, bin_, quantity, state = rows[0]
        if state == "set aside":
            _BACK.run(hand, number=number, now=now, who=who)
            must_change(hand, lot, bin_, 0, -quantity, "give back", who, why, now, reserve=number)


def set_aside_in(session: Session, site: str, asides: Sequence[Aside], who: str, now: datetime) -> None:
    """Set aside, inside a transaction that does more. Raises NotThere if it isn't free (any more)."""
    hand = hand_of(session)
    # in one order, so that two transactions never wait for each other
    for one in sorted(asides, key=lambda one: (one.item, one.lot, one.bin, one.day)):
        rows = _PLACE.run(hand, site=site, item=one.item, lot=one.lot, bin_name=one.bin)
        free = 0 if not rows or rows[0][3] else rows[0][2]
        if free < one.quantity:
            raise NotThere(one.item, one.quantity, free)
        [[number]] = _NEW.run(
            hand, site=site, day=one.day, lot=rows[0][0], bin=rows[0][1], quantity=one.quantity, state="set aside",
            bookings=json.dumps(list(one.bookings)), changed_at=now, changed_by=who)
        if not change(hand, rows[0][0], rows[0][1], 0, one.quantity, "set aside", who, one.day.isoformat(), now,
                      reserve=number):
            raise NotThere(one.item, one.quantity, free)
    session.expire_all()


def let_go(store: Store, site: str, item: str, day: date | None, who: str, why: str, now: datetime) -> list[ReserveRow]:
    """Give back what is set aside of an item at a site, for a day or for any: a person may. What was given back is
    returned. Raises WrongUse if there is none."""
    numbers = [one for one in reserves(store, site) if one.item == item and day in (None, one.day)]
    if not numbers:
        told = f" for {day.isoformat()}" if day else ""
        raise WrongUse(f"Nothing of {item} is set aside at {site}{told}. `kitbuilder stock list` shows what is.")
    with store.writing() as session:
        give_back_in(session, [one.id for one in numbers], who, why, now)
    return numbers


def by_place(found: Iterable[ReserveRow]) -> Mapping[tuple[str, str, str, str], list[ReserveRow]]:
    """What is set aside by site, item, lot and bin."""
    places: dict[tuple[str, str, str, str], list[ReserveRow]] = {}
    for one in found:
        places.setdefault((one.site, one.item, one.lot, one.bin), []).append(one)
    return places
