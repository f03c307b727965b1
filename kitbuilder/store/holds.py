"""Holds: stock promised to bookings. A hold is one short transaction; from picking on only a person moves it."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from sqlalchemy import bindparam, insert, select, update
from sqlmodel import Session

from kitbuilder.amount import show
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import HoldRow, HoldState, Promise
from kitbuilder.model.transfer import MARK
from kitbuilder.store.columns import Moment
from kitbuilder.store.database import MetAnother, Store
from kitbuilder.store.ledger import change, must_change
from kitbuilder.store.prepared import Hand, Prepared, hand_of
from kitbuilder.store.tables import Bin, Hold, Lot, ShortPick, Stock

#: Which state may follow which.
FOLLOWS: dict[str, tuple[str, ...]] = {
    "planned": ("picking", "released"),
    "picking": ("picked", "planned", "released"),
    "picked": ("issued", "released"),
    "issued": (),
    "released": (),
}

_PARTS = Prepared(
    select(Hold.id, Hold.part, Hold.quantity, Hold.state, Hold.booking, Hold.need, Lot.item, Lot.number, Lot.site,
           Bin.name, Lot.unit, Lot.use_by)
    .join(Lot, Lot.id == Hold.lot).join(Bin, Bin.id == Hold.bin)
    .where(Hold.promise == bindparam("promise")).order_by(Hold.part))
_PLACES = Prepared(
    select(Stock.lot, Stock.bin, Stock.on_hand - Stock.held, Bin.name, Lot.unit, Lot.use_by)
    .join(Lot, Lot.id == Stock.lot).join(Bin, Bin.id == Stock.bin)
    .where(Lot.site == bindparam("site"), Lot.item == bindparam("item"), Lot.number == bindparam("lot"),
           Lot.quarantine == "", Stock.on_hand > Stock.held)
    .order_by(Bin.name))
_PART = Prepared(
    insert(Hold).returning(Hold.id), "promise", "part", "booking", "need", "lot", "bin", "quantity", "state",
    "changed_at", "changed_by")
_ONE = Prepared(
    select(Hold.state, Hold.quantity, Hold.booking, Hold.need, Hold.lot, Hold.bin, Lot.item, Lot.number, Lot.quarantine)
    .join(Lot, Lot.id == Hold.lot).where(Hold.id == bindparam("number")).with_for_update(of=Hold))
_STATE = Prepared(
    update(Hold).where(Hold.id == bindparam("number"))
    .values(state=bindparam("state_"), quantity=bindparam("quantity_"), changed_at=bindparam("now", type_=Moment()),
            changed_by=bindparam("who")))


class NotThere(StoreRefuses):
    """What was to be held isn't there any more: somebody else was first. `item` says of what."""

    def __init__(self, item: str, wanted: int, free: int) -> None:
        self.item = item
        super().__init__(f"{show(wanted)} of {item} were to be held, but only {show(free)} are free. Nothing was held.")


class TakenOver(NotThere):
    """What was planned, and was to be let go, is being picked by now: only a person moves it."""

    def __init__(self, item: str, state: str) -> None:
        self.item = item
        StoreRefuses.__init__(self, f"What was planned of {item} is {state} by now, and only a person moves it. "
                              "Nothing was changed.")


def hold(store: Store, site: str, promises: Sequence[Promise], who: str, now: datetime,
         release: Iterable[int] = ()) -> list[HoldRow]:
    """Hold all of the promises or none; `release` (ids of planned holds) is let go first, in the same transaction.

    What of a key is held already counts: the holds of all keys come back, as they then are. Raises NotThere if
    anything isn't free, TakenOver if what is to be let go isn't only planned any more, WrongUse if a key was given to
    another need, item or lot before.
    """
    let_go = tuple(release)
    found = store.at_hand(lambda hand: _hold(hand, site, promises, who, now, let_go))
    return sorted(found, key=_order)


def hold_in(session: Session, site: str, promises: Sequence[Promise], who: str, now: datetime,
            release: Iterable[int] = ()) -> None:
    """As `hold`, inside a transaction that does more."""
    _hold(hand_of(session), site, promises, who, now, release)
    session.expire_all()


def _hold(hand: Hand, site: str, promises: Sequence[Promise], who: str, now: datetime,
          release: Iterable[int]) -> list[HoldRow]:
    wanted: dict[_Place, list[Promise]] = {}
    for promise in sorted(promises, key=lambda one: one.key):
        wanted.setdefault((promise.item, promise.lot), []).append(promise)
    let_go: dict[_Place, list[_Change]] = {}
    for number in sorted({*release}):
        for place, owed in _stepped(hand, number, "released", who, now, of_a_person=False):
            let_go.setdefault(place, []).append(owed)
    found = []
    # in one order of lots, so that two transactions never wait for each other
    for place in sorted(let_go.keys() | wanted.keys()):
        for owed in let_go.get(place, ()):
            must_change(hand, *owed)
        for promise in wanted.get(place, ()):
            found += _promise(hand, site, promise, who, now)
    return found


def _promise(hand: Hand, site: str, promise: Promise, who: str, now: datetime) -> list[HoldRow]:
    """Take what a promise still lacks from the bins of its lot, in the order of their names."""
    if promise.quantity <= 0:
        raise WrongUse(f"{show(promise.quantity)} of {promise.item} can't be held.")
    found, left, part = [], promise.quantity, -1
    known = []
    for number, last, quantity, state, booking, need, item, lot, where, bin_name, unit, use_by in _PARTS.run(
            hand, promise=promise.key):
        part = last
        known.append(number)
        if state == "released" or where != site:
            continue  # what a booking that went to another site had is let go by the run of the old one
        if (booking, need, item, lot) != (promise.booking, promise.need, promise.item, promise.lot):
            raise WrongUse(
                f"The promise {promise.key!r} is of {item} for booking {booking} already; another needs its own key.")
        left -= quantity
        found.append(HoldRow(number, promise.key, booking, need, item, lot, bin_name, quantity, unit, state, use_by))
    if left <= 0:
        return found
    wanted = left
    places = _PLACES.run(hand, site=site, item=promise.item, lot=promise.lot)
    free = sum(place[2] for place in places)
    if free < wanted:
        if [row[0] for row in _PARTS.run(hand, promise=promise.key)] != known:
            # somebody has made this very promise since it was looked at
            raise MetAnother(f"Others hold {promise.item} for the same need. Nothing was held; try again.")
        raise NotThere(promise.item, wanted, free)
    for lot_id, bin_id, here, bin_name, unit, use_by in places:
        if not left:
            break
        taken, part = min(left, here), part + 1
        [[number]] = _PART.run(
            hand, promise=promise.key, part=part, booking=promise.booking, need=promise.need, lot=lot_id, bin=bin_id,
            quantity=taken, state="planned", changed_at=now, changed_by=who)
        if not change(hand, lot_id, bin_id, 0, taken, "hold", who, promise.need, now, promise.booking, number):
            # taken since it was looked at; another bin may have it
            raise MetAnother(f"{promise.item} was taken by others each time. Nothing was held; try again.")
        left -= taken
        found.append(HoldRow(number, promise.key, promise.booking, promise.need, promise.item, promise.lot, bin_name,
                             taken, unit, "planned", use_by))
    return found


def step(store: Store, ids: Iterable[int], state: HoldState, who: str, now: datetime) -> None:
    """Take holds to their next state: all or none. Raises StoreRefuses where it can't follow, or where the lot is in
    quarantine by now and is to be used; WrongUse for an unknown hold."""
    numbers = tuple(ids)

    def all_of_them(hand: Hand) -> None:
        owed = [one for number in sorted({*numbers}) for one in _stepped(hand, number, state, who, now)]
        for _, change_ in sorted(owed, key=lambda one: one[0]):
            must_change(hand, *change_)

    store.at_hand(all_of_them)


def _step(hand: Hand, number: int, state: str, who: str, now: datetime) -> None:
    for _, owed in _stepped(hand, number, state, who, now):
        must_change(hand, *owed)


#: Item and lot.
_Place = tuple[str, str]
#: What a balance is to be changed by, as `must_change` takes it.
_Change = tuple[int, int, int, int, str, str, str, datetime, int, int]


def _stepped(hand: Hand, number: int, state: str, who: str, now: datetime,
             of_a_person: bool = True) -> Iterator[tuple[_Place, _Change]]:
    """Take one hold to its next state, and tell what its balance is owed for it, if anything.

    Where there are several, their rows are taken first, by number, and their balances after all of them.
    """
    rows = _ONE.run(hand, number=number)
    if not rows:
        raise WrongUse(f"There is no hold {number}.")
    before, quantity, booking, need, lot, bin_, item, lot_name, quarantine = rows[0]
    if before == state:
        return
    if not of_a_person and before != "planned":
        raise TakenOver(item, before)
    if state not in FOLLOWS[before]:
        raise StoreRefuses(f"Hold {number} of {item} is {before}; it can't become {state}.")
    if quarantine and state in ("picking", "picked", "issued"):
        raise StoreRefuses(
            f"Hold {number} is of {item}{f' lot {lot_name}' if lot_name else ''}, which is in quarantine: "
            f"{quarantine}. Put it aside; the next run looks for another.")
    _STATE.run(hand, number=number, state_=state, quantity_=quantity, now=now, who=who)
    on_hand, held, action, why = 0, 0, state, need
    if state == "released":
        held, action, why = -quantity, "release", f"was {before}"
    elif state == "issued":
        on_hand, held, action = -quantity, -quantity, "issue"
    yield (item, lot_name), (lot, bin_, on_hand, held, action, who, why, now, booking, number)


def step_in(session: Session, ids: Iterable[int], state: HoldState, who: str, now: datetime) -> None:
    """As `step`, inside a transaction that does more."""
    hand = hand_of(session)
    for number in ids:
        _step(hand, number, state, who, now)
    session.expire_all()


def let_go_of(hand: Hand, number: int, quantity: int, who: str, why: str, now: datetime) -> None:
    """Let go so much of a hold, inside a transaction that does more; what is left of it stays as it is."""
    state, held, booking, _, lot, bin_, *_ = _ONE.run(hand, number=number)[0]
    if quantity >= held:
        _step(hand, number, "released", who, now)
        return
    _STATE.run(hand, number=number, state_=state, quantity_=held - quantity, now=now, who=who)
    must_change(hand, lot, bin_, 0, -quantity, "release", who, why, now, booking, number)


def release_planned(hand: Hand, numbers: Iterable[int], who: str, now: datetime) -> None:
    """Let planned holds go, inside a transaction that does more."""
    for number in numbers:
        _step(hand, number, "released", who, now)


def short_pick(store: Store, number: int, found: int, who: str, now: datetime) -> None:
    """Of what was promised only `found` (milli-units) is there: the rest is let go, and the bin is to be counted.

    Raises StoreRefuses if it isn't to be picked, WrongUse if nothing is missing.
    """
    with store.writing() as session:
        hand = hand_of(session)
        rows = _ONE.run(hand, number=number)
        if not rows or rows[0][0] not in ("planned", "picking"):
            raise StoreRefuses(f"Hold {number} is not being picked.")
        state, quantity, booking, _, lot, bin_, *_ = rows[0]
        missing = quantity - found
        if missing <= 0 or found < 0:
            raise WrongUse(f"{show(found)} found is not short of the {show(quantity)} promised.")
        session.add(ShortPick(booking=booking, hold=number, missing=missing, who=who, at=now))
        if found == 0:
            _step(hand, number, "released", who, now)
            return
        _STATE.run(hand, number=number, state_=state, quantity_=found, now=now, who=who)
        must_change(hand, lot, bin_, 0, -missing, "release", who, "short pick", now, booking, number)


def holds(store: Store, booking: int | None = None, keys: Iterable[str] | None = None,
          site: str | None = None) -> list[HoldRow]:
    """Holds that aren't released, by booking, need and bin; not what is held for a van to another site."""
    query = select(Hold, Lot, Bin).join(Lot, Lot.id == Hold.lot).join(Bin, Bin.id == Hold.bin).where(
        Hold.state != "released", Hold.promise.not_like(f"{MARK}%"))
    if booking is not None:
        query = query.where(Hold.booking == booking)
    if site is not None:
        query = query.where(Lot.site == site)
    wanted = None if keys is None else set(keys)
    with store.reading() as session:
        found = [
            HoldRow(row.id or 0, row.promise, row.booking, row.need, lot.item, lot.number, bin_.name, row.quantity,
                    lot.unit, row.state, lot.use_by)
            for row, lot, bin_ in session.execute(query)
        ]
    return sorted((one for one in found if wanted is None or one.key in wanted), key=_order)


def _order(row: HoldRow) -> tuple[int, str, str, int]:
    return row.booking, row.need, row.bin, row.id
