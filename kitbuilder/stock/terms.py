"""What quotes mean for sourcing: which offer an allocation speaks of, units, prices, arrivals, use-by days."""

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

from kitbuilder.amount import COUNTED, MEASURED, quantity
from kitbuilder.model.offer import Arrival, Offer, Slot
from kitbuilder.model.plan import Need, Supply

#: source, item, lot, slot
Key = tuple[str, str, str, str]


class Place(NamedTuple):
    """One offer in one slot of one source. `pool` is the same for all slots of the offer, and for no other's. `trip`:
    it is own stock that must be brought from another place."""

    own: bool
    offer: Offer
    arrival: Arrival
    slot: Slot
    pool: Key
    trip: bool


def factor(unit: str) -> int:
    """How many smallest units one unit is: 1000 for L, 1 for mL and for counted units."""
    return MEASURED[unit][1] if unit in MEASURED else 1


def step(unit: str) -> int:
    """The least milli-units of a unit that can be taken: one whole where it is counted, else one thousandth."""
    return 1 if unit in MEASURED else 1000


class Terms:
    """All places of the supplies, by what an allocation says (`places`) and, of what is bought, by what an order line
    says: source, slot, item (`bought`); the slots' own terms by source and slot; ranks of use-by days and lots.

    What a source can't read is left out. Raises ValueError for supplies that can't be told apart or added up: a source
    twice, an item and lot twice in one slot (an item, where things are bought), two prices for one break, currencies
    that differ, a slot that isn't there.
    """

    def __init__(self, supplies: Iterable[Supply]) -> None:
        self.places: dict[Key, Place] = {}
        self.bought: dict[tuple[str, str, str], Key] = {}
        self.slots: dict[tuple[str, str], Slot] = {}
        currencies: dict[str, str] = {}
        seen: set[str] = set()
        for supply in sorted(supplies, key=lambda supply: supply.source):
            if supply.source in seen:
                raise ValueError(f"the source {supply.source!r} twice; expected each once")
            seen.add(supply.source)
            for slot in supply.quote.slots:
                if (supply.source, slot.name) in self.slots:
                    raise ValueError(f"{supply.source}: the slot {slot.name!r} twice; expected each once")
                self.slots[supply.source, slot.name] = slot
            for offer in supply.quote.offers:
                if offer.item not in supply.quote.unreadable:
                    self._add(supply, offer)
            if not supply.own and supply.quote.offers:
                currencies[supply.quote.currency] = supply.source
        if len(currencies) > 1:
            told = " and ".join(f"{currency} ({source})" for currency, source in sorted(currencies.items()))
            raise ValueError(f"prices in {told}; expected one currency")
        self._rank()

    def _add(self, supply: Supply, offer: Offer) -> None:
        pool = (supply.source, offer.item, offer.lot, min((arrival.slot for arrival in offer.arrivals), default=""))
        for arrival in offer.arrivals:
            key = (supply.source, offer.item, offer.lot, arrival.slot)
            line = (supply.source, arrival.slot, offer.item)
            if (supply.source, arrival.slot) not in self.slots:
                raise ValueError(f"{supply.source}: {offer.item} in a slot {arrival.slot!r} that isn't there")
            if key in self.places or (not supply.own and line in self.bought):
                raise ValueError(f"{supply.source}: {offer.item} twice in the slot {arrival.slot!r}; expected it once")
            if len({price.least for price in arrival.prices}) < len(arrival.prices):
                raise ValueError(f"{supply.source}: {offer.item} has two prices for one break")
            self.places[key] = Place(supply.own, offer, arrival, self.slots[supply.source, arrival.slot], pool,
                                     supply.own and supply.transfer)
            if not supply.own:
                self.bought[line] = key

    def _rank(self) -> None:
        days: dict[str, set[tuple[bool, str]]] = {}
        lots: dict[str, set[str]] = {}
        for (_, item, lot, _), place in self.places.items():
            if place.own:
                # what lies here before what a trip brings, however old that is
                days.setdefault(item, set()).add((place.trip, _day(place.offer)))
                lots.setdefault(item, set()).add(lot)
        self._days = {item: {day: rank for rank, day in enumerate(sorted(found))} for item, found in days.items()}
        self._lots = {
            item: {lot: rank for rank, lot in enumerate(sorted(found, key=_natural))} for item, found in lots.items()}
        self._after = max(map(len, days.values()), default=0)

    def ranks(self, key: Key) -> tuple[int, int]:
        """How many earlier use-by days, and how many earlier lots, own stock of the item has; days of what a trip
        brings come after those of what lies here. What is bought comes after all of them: after as many days as any
        item has in own stock, and no lots."""
        place = self.places[key]
        if not place.own:
            return self._after, 0
        return self._days[key[1]][place.trip, _day(place.offer)], self._lots[key[1]][key[2]]


def _day(offer: Offer) -> str:
    return offer.use_by.isoformat() if offer.use_by else "without"  # letters sort after digits


def _natural(lot: str) -> tuple[bool, list[tuple[int, str]], str]:
    """Lot 9 before lot 10; no lot comes last; the text itself keeps 7 and 07 apart."""
    parts = re.split(r"([0-9]+)", lot)  # each second one is digits
    return lot == "", [(int(part), "") if number % 2 else (-1, part) for number, part in enumerate(parts)], lot


_SECOND: Final = timedelta(seconds=1)


def arrival_at(place: Place, now: datetime) -> datetime:
    """When it is to hand (UTC): what is bought, not before now."""
    ready = place.slot.ready.astimezone(UTC)
    return ready if place.own else max(ready, now.astimezone(UTC))


def delay_s(need: Need, place: Place, now: datetime) -> int:
    """By how much it comes after the need's stage, in seconds begun; what lies here now is in time, however late the
    stage already is."""
    ready = arrival_at(place, now)
    if place.own and ready <= now:
        return 0
    return max(0, -((need.wanted_at.astimezone(UTC) - ready) // _SECOND))


def keeps(need: Need, place: Place, now: datetime) -> bool:
    """Whether its use-by day isn't past when the need takes it: at the stage, or when it comes if that is later."""
    if place.offer.use_by is None:
        return True
    taken = max(need.wanted_at.astimezone(UTC), arrival_at(place, now), now.astimezone(UTC))
    return taken.astimezone(need.wanted_at.tzinfo).date() <= place.offer.use_by


def can_be_asked_for(place: Place, now: datetime) -> bool:
    """Whether the cut-off isn't past, of what must be ordered or brought."""
    return (place.own and not place.trip) or place.slot.cut_off is None or now < place.slot.cut_off


def converts(need: Need, place: Place) -> bool:
    """Whether the offer's unit measures what the need's unit does."""
    known = all(unit in MEASURED or unit in COUNTED for unit in (need.unit, place.offer.unit))
    return known and quantity(need.unit) == quantity(place.offer.unit)


def price_of(arrival: Arrival, milli: int) -> int | None:
    """Minor units for so much in one order line, by the largest break it reaches, rounded half up; None if no price
    is known for it."""
    reached = [price for price in arrival.prices if price.least <= milli]
    if not reached:
        return None
    price = max(reached, key=lambda price: price.least)
    return (2 * milli * price.minor + price.per) // (2 * price.per)


def smallest(milli: int, unit: str) -> int:
    """Milli-units of a unit in smallest units."""
    return milli * factor(unit)


def check_needs(needs: Sequence[Need], now: datetime) -> None:
    """Raise ValueError unless names differ, amounts are more than zero, times have zones, what is held is told once."""
    if now.tzinfo is None:
        raise ValueError(f"now without a zone: {now.isoformat()}")
    names: set[str] = set()
    for need in needs:
        if need.name in names:
            raise ValueError(f"the need {need.name!r} twice; expected each once")
        names.add(need.name)
        if need.quantity <= 0:
            raise ValueError(f"the need {need.name!r} for {need.quantity} milli-units; expected more than zero")
        if need.unit not in MEASURED and need.unit not in COUNTED:
            raise ValueError(f"the need {need.name!r} in {need.unit!r}; expected a unit")
        if need.wanted_at.tzinfo is None:
            raise ValueError(f"the need {need.name!r} at a time without a zone")
        if bool(need.binding) != bool(need.ways):
            raise ValueError(f"the need {need.name!r} has a binding without ways, or ways without a binding")
        if len({(held.source, held.item, held.lot, held.slot) for held in need.held}) < len(need.held):
            raise ValueError(f"the need {need.name!r} holds one thing in two entries; expected each once")
