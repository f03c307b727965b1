"""What a plan can choose from, in smallest units."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.model.plan import Need
from kitbuilder.stock.terms import (
    Key,
    Place,
    Terms,
    can_be_asked_for,
    check_needs,
    converts,
    delay_s,
    factor,
    keeps,
    smallest,
    step,
)

#: source and slot
Order = tuple[str, str]


class Column(msgspec.Struct, frozen=True):
    """One place from which one need may take: in whole `step`s, coming `delay` seconds after its stage. `use_by`,
    `lots` and `preference` are what one smallest unit of it adds to these fields of a plan's value; `held` is what the
    need has of it now; `trip`: the trip that brings it, if it is own stock elsewhere."""

    key: Key
    own: bool
    step: int
    delay: int
    use_by: int
    lots: int
    preference: int
    held: int
    trip: Order | None = None


class Row(msgspec.Struct, frozen=True):
    """One need: `quantity`, in smallest units, and where it may be taken from, in an order of their own. `lost` counts
    what is held in places from which nothing can be had any more. `sure`: whatever others take, it can be filled."""

    need: Need
    quantity: int
    columns: tuple[Column, ...]
    lost: int
    sure: bool = False

    @property
    def most(self) -> int:
        """The most that it may be given: rounded up to the coarsest step of its columns."""
        coarse = max([column.step for column in self.columns], default=1)
        return -(-self.quantity // coarse) * coarse

    @property
    def circuit(self) -> tuple[int, str] | None:
        """Booking and circuit, None without a circuit."""
        return (self.need.booking, self.need.circuit) if self.need.circuit else None


class Band(NamedTuple):
    """A price from one break to the next: order lines of `least` to `most` smallest units (None: no end) cost `minor`
    for `per` of them."""

    least: int
    most: int | None
    minor: int
    per: int


class Line(msgspec.Struct, frozen=True):
    """An order line that may be bought: `packs` (the least step where the offer names none), the most that can come."""

    order: Order
    packs: tuple[int, ...]
    loose: bool
    bands: tuple[Band, ...]
    most: int | None

    @property
    def linear(self) -> bool:
        """Whether each pack costs its own exact price, whatever else is bought in the line."""
        band = self.bands[0]
        return (len(self.bands) == 1 and band.least <= min(self.packs)
                and all(band.minor * pack % band.per == 0 for pack in self.packs))

    @property
    def plain(self) -> bool:
        """Whether each amount that is needed costs its own exact price, whatever else is bought in the line."""
        return self.loose and self.linear


class Problem(msgspec.Struct, frozen=True):
    """Needs (by name) and what they may choose from; the parts of a problem share all but the rows.

    `pools`: over all slots of an offer, `mosts`: of one place, where limited; `lines`: what may be bought, by place;
    `orders`: fee and minimum.
    """

    rows: tuple[Row, ...]
    pool_of: dict[Key, Key]
    pools: dict[Key, int]
    mosts: dict[Key, int]
    lines: dict[Key, Line]
    orders: dict[Order, tuple[int, int]]

    def part(self, rows: Iterable[Row]) -> "Problem":
        """The same with these rows only."""
        return msgspec.structs.replace(self, rows=tuple(sorted(rows, key=lambda row: row.need.name)))

    def limits(self) -> list[tuple[int, list[tuple[int, Column]]]]:
        """The pools and slots from which more could be taken than there is: how much there is, and who could take
        (number of the row, column). Of what is bought, the order lines are limited themselves, not here."""
        takers: dict[tuple[str, Key], list[tuple[int, Column]]] = {}
        for number, row in enumerate(self.rows):
            for column in row.columns:
                if column.own and self.pool_of[column.key] in self.pools:
                    takers.setdefault(("pool", self.pool_of[column.key]), []).append((number, column))
                if column.own and column.key in self.mosts:
                    takers.setdefault(("most", column.key), []).append((number, column))
        found = []
        most = [row.most for row in self.rows]
        for (kind, key), members in takers.items():
            limit = (self.pools if kind == "pool" else self.mosts)[key]
            if sum(most[number] for number in {number for number, _ in members}) > limit:
                found.append((limit, members))
        return found


def problem_of(terms: Terms, needs: Sequence[Need], now: datetime) -> Problem:
    """All that may be chosen for these needs at `now`, checked; the order in which they are given doesn't matter."""
    check_needs(needs, now)
    vor = {need.booking for need in needs if need.vor}
    by_item: dict[str, list[Key]] = {}
    for key in sorted(terms.places):
        by_item.setdefault(key[1], []).append(key)
    lines = {key: line for key in terms.bought.values() if (line := _line(terms, key, now)) is not None}
    rows = [_row(need if need.vor or need.booking not in vor else msgspec.structs.replace(need, vor=True),
                 terms, by_item, lines, now) for need in sorted(needs, key=lambda need: need.name)]
    pools, mosts = {}, {}
    for key, place in terms.places.items():
        if place.offer.pool is not None:
            pools[place.pool] = _whole(place.offer.pool, place)
        if place.arrival.most is not None:
            mosts[key] = _whole(place.arrival.most, place)
    orders = {order: (slot.fee, slot.minimum) for order, slot in terms.slots.items()}
    return Problem(tuple(rows), {key: place.pool for key, place in terms.places.items()}, pools, mosts, lines, orders)


def _whole(milli: int, place: Place) -> int:
    """In smallest units, cut to what can be taken."""
    least = step(place.offer.unit)
    return smallest(milli // least * least, place.offer.unit)


def _row(
    need: Need, terms: Terms, by_item: dict[str, list[Key]], lines: dict[Key, Line], now: datetime,
) -> Row:
    held: dict[Key, int] = {}
    for one in need.held:
        key = (one.source, one.item, one.lot, one.slot)
        held[key] = held.get(key, 0) + one.quantity
    columns = []
    for rank, item in enumerate(need.acceptable):
        for key in by_item.get(item, ()) if item not in need.acceptable[:rank] else ():
            place = terms.places[key]
            usable = place.own or (need.may_order and key in lines)
            if not (usable and can_be_asked_for(place, now) and converts(need, place) and keeps(need, place, now)):
                continue
            unit = place.offer.unit
            day, lot = terms.ranks(key)
            columns.append(Column(key, place.own, smallest(step(unit), unit), delay_s(need, place, now), day, lot, rank,
                                  smallest(held.pop(key, 0), unit), (key[0], key[3]) if place.trip else None))
    return Row(need, smallest(need.quantity, need.unit), tuple(columns), sum(one > 0 for one in held.values()))


def _line(terms: Terms, key: Key, now: datetime) -> Line | None:
    """The order line of a place, None where nothing can be bought: no price, or the cut-off has passed."""
    place = terms.places[key]
    if not place.arrival.prices or not can_be_asked_for(place, now):
        return None
    times, offer = factor(place.offer.unit), place.offer
    least = step(offer.unit)
    prices = sorted(place.arrival.prices, key=lambda price: price.least)
    bands = []
    for number, price in enumerate(prices):
        end = prices[number + 1].least - 1 if number + 1 < len(prices) else None
        begin = max(price.least, offer.least, 1)
        if end is None or begin <= end:
            bands.append(Band(begin * times, None if end is None else end * times, price.minor, price.per * times))
    packs = sorted({pack for pack in offer.packs if pack % least == 0}, reverse=True) if offer.packs else [least]
    if not packs:
        return None  # a pack of half a counted unit can't be bought
    most = [_whole(one, place) for one in (offer.pool, place.arrival.most) if one is not None]
    return Line((key[0], key[3]), tuple(pack * times for pack in packs), not offer.packs, tuple(bands),
                min(most) if most else None)
