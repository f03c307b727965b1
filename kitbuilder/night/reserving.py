"""What a run sets aside for the findings of its day: held in the store for the site and the day, for no booking alone.

A run gives back what was set aside for days that are past, and for its own day, so that what is certain by now is held
from it first; then it sets aside what still is to spare. What stands for other days stays, but for items that a booking
of that day needs for certain by now, such as those of a finding that has turned out: these are given back, and what
they leave is set aside again. Run again, it finds all as it should be and changes nothing.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime

import msgspec
from sqlmodel import Session

from kitbuilder import amount
from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.conditions import Conditions
from kitbuilder.model.along import SetAside
from kitbuilder.model.offer import Quote
from kitbuilder.model.shelf import Aside, HoldRow, Promise, ReserveRow, ShelfLot
from kitbuilder.night.aside import set_aside
from kitbuilder.store.database import Store
from kitbuilder.store.reserves import give_back_in, reserves, set_aside_in
from kitbuilder.store.shelves import lots
from kitbuilder.workshop.work import Work

#: The booking of what is set aside where it is counted with holds: none has this number.
NOBODY = 0


class Kept(msgspec.Struct, frozen=True):
    """What is to be given back (by number) and set aside, and the reserve of the day in the report's words."""

    give_back: tuple[int, ...]
    asides: tuple[Aside, ...]
    told: tuple[SetAside, ...]

    def give_back_in(self, session: Session, who: str, now: datetime) -> None:
        """Give back, inside the transaction that holds, before it does."""
        give_back_in(session, self.give_back, who, "a new run", now)

    def set_aside_in(self, session: Session, site: str, who: str, now: datetime) -> None:
        """Set aside, inside the transaction that holds, after all certain needs. Raises NotThere."""
        set_aside_in(session, site, self.asides, who, now)


class Reserving:
    """What is set aside at a site, by the run of a day. `conditions` None, or without what an hour of waiting costs:
    nothing is."""

    def __init__(self, store: Store, site: Site, day: date, now: datetime, edition: Edition,
                 conditions: Conditions | None) -> None:
        self._store, self._site, self._day, self._edition = store, site, day, edition
        self._conditions = conditions if conditions is not None and conditions.hour is not None else None
        self._today = to_wall(now, site.zone).date()

    def back(self, works: Collection[Work], rows: Sequence[HoldRow]) -> list[ReserveRow]:
        """What of the reserves may be planned with: `rows` are the holds, which settle what bookings need."""
        needed = self._needed(works, rows)
        return [one for one in reserves(self._store, self._site.name)
                if one.day < self._today or one.day == self._day or one.item in needed.get(one.day, ())]

    def as_holds(self, works: Collection[Work], rows: Sequence[HoldRow]) -> list[HoldRow]:
        """The same as planned holds of nobody, which a plan may move."""
        return [
            HoldRow(one.id, f"reserve {one.id}", NOBODY, "", one.item, one.lot, one.bin, one.quantity, one.unit,
                    "planned", one.use_by) for one in self.back(works, rows)]

    def _needed(self, works: Collection[Work], rows: Sequence[HoldRow]) -> Mapping[date, set[str]]:
        """The items that bookings of each day need for certain and have no hold for."""
        held = {row.need for row in rows}
        found: dict[date, set[str]] = {}
        for work in works:
            if work.booking.state == "authorised":
                of_day = found.setdefault(to_wall(work.booking.start, self._site.zone).date(), set())
                for line in (*work.lines.must_be_there, *work.lines.instead):
                    if f"{work.booking.number}/{line.need}" not in held:
                        of_day.update(line.acceptable)
        return found

    def kept(self, works: Sequence[Work], rows: Sequence[HoldRow], release: Collection[int],
             promises: Sequence[Promise], outside: Sequence[Quote], silent: bool) -> Kept:
        """What is to be changed beside a plan's `release` (ids of `rows`) and `promises`. `outside`: what suppliers
        answered; `silent`: the shelf can't be asked, so that what is set aside stays."""
        back = self.back(works, rows)
        items = {number for work in works for line in work.lines.lines if line.waits for number in line.acceptable}
        shelf = _Shelf(lots(self._store, self._site.name, sorted(items | {one.item for one in back})))
        for one in back:
            shelf.put(one.item, one.lot, one.bin, one.quantity)
        let_go = set(release)
        for row in rows:
            if row.id in let_go:
                shelf.put(row.item, row.lot, row.bin, row.quantity)
        has: dict[str, int] = {}
        for row in rows:
            has[row.key] = has.get(row.key, 0) + (row.quantity if row.id not in let_go else 0)
        for promise in promises:
            shelf.take(promise.item, promise.lot, promise.quantity - has.get(promise.key, 0))
        asides = []
        for one in back:
            if one.day >= self._today and one.day != self._day:
                left = shelf.take(one.item, one.lot, one.quantity, one.bin)
                asides += [Aside(one.day, one.item, one.lot, one.bin, left, one.bookings)] if left else []
        told: tuple[SetAside, ...] = ()
        if self._conditions is not None and self._day >= self._today:
            told = set_aside(self._site, self._day, works, self._edition, self._conditions, shelf.lots(), outside)
            asides += [aside for one in told for aside in self._asides(one, shelf)]
        if silent:
            return Kept((), (), told)
        same = {_content(one): one.id for one in back}
        wanted = {_content(one) for one in asides}
        return Kept(
            tuple(sorted(number for content, number in same.items() if content not in wanted)),
            tuple(one for one in asides if _content(one) not in same), told)

    def _asides(self, one: SetAside, shelf: "_Shelf") -> list[Aside]:
        """From which lots it is taken: what goes off first, first."""
        if one.amount == "0":
            return []
        left = amount.parse(one.amount, one.unit, one.unit) * _size(one.unit)
        found = []
        for lot in shelf.lots():
            if lot.item != one.item or lot.free <= 0 or (lot.use_by is not None and lot.use_by < self._day):
                continue
            taken = shelf.take(lot.item, lot.lot, min(lot.free, -(-left // _size(lot.unit))), lot.bin)
            if taken:
                found.append(Aside(self._day, lot.item, lot.lot, lot.bin, taken, one.bookings))
                left -= taken * _size(lot.unit)
            if left <= 0:
                break
        return found


def _content(one: Aside | ReserveRow) -> tuple[object, ...]:
    return one.day, one.item, one.lot, one.bin, one.quantity, one.bookings


class _Shelf:
    """What is free in each bin, as a plan will leave it."""

    def __init__(self, lots: Sequence[ShelfLot]) -> None:
        self._lots = list(lots)  # by item, use-by (none last), lot and bin
        self._free = {(one.item, one.lot, one.bin): one.free for one in self._lots}
        self._shut = {(one.item, one.lot, one.bin) for one in self._lots if one.quarantine}

    def put(self, item: str, lot: str, bin_name: str, quantity: int) -> None:
        """Count something as free again."""
        place = (item, lot, bin_name)
        if place in self._free and place not in self._shut:
            self._free[place] += quantity

    def take(self, item: str, lot: str, quantity: int, bin_name: str = "") -> int:
        """Take so much of a lot, from a bin or from its bins in the order of their names, as holds do; how much there
        was."""
        left = max(quantity, 0)
        for place in sorted(self._free):
            if place[:2] == (item, lot) and bin_name in ("", place[2]) and left:
                taken = min(left, max(self._free[place], 0))
                self._free[place] -= taken
                left -= taken
        return max(quantity, 0) - left

    def lots(self) -> list[ShelfLot]:
        """The lots with what is free of them now."""
        return [msgspec.structs.replace(one, held=one.on_hand - self._free[one.item, one.lot, one.bin])
                for one in self._lots]


def _size(unit: str) -> int:
    """How many of its quantity's smallest unit a unit is."""
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1
