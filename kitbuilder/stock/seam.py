"""Judges a quote where it comes in from a plug-in: whole, or refused with what is wrong with it."""

import re

import msgspec

from kitbuilder import amount
from kitbuilder.errors import SourceFailed
from kitbuilder.model.offer import Offer, Quote, QuoteRequest, Wanted


def checked(answer: object, request: QuoteRequest) -> Quote:
    """The quote as it crosses the seam. Refuses rubbish: another type, wrong types inside, times without a zone,
    amounts below zero, items that weren't asked for, slots that aren't there."""
    if not isinstance(answer, Quote):
        raise SourceFailed(f"it answered {type(answer).__name__}, expected a Quote")
    try:
        # what is converted counts, not what was answered: a day may have come as text, a tuple as a list
        quote = msgspec.convert(msgspec.to_builtins(answer), Quote)
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered a Quote that is not one: {error}") from None
    if not re.fullmatch("[A-Z]{3}", quote.currency):
        raise SourceFailed(f"it answered the currency {quote.currency!r}, expected one of ISO 4217, such as EUR")
    whens = [quote.as_of]
    slots: set[str] = set()
    for slot in quote.slots:
        if slot.name in slots:
            raise SourceFailed(f"it named the slot {slot.name!r} twice")
        slots.add(slot.name)
        whens += [slot.ready] if slot.cut_off is None else [slot.ready, slot.cut_off]
        if slot.fee < 0 or slot.minimum < 0:
            raise SourceFailed(f"it answered a fee or minimum below zero for the slot {slot.name!r}")
    for when in whens:
        if when.tzinfo is None:
            raise SourceFailed(f"it answered a time without a zone: {when.isoformat()}")
    wanted = {one.item: one for one in request.wanted}
    places: set[tuple[str, str, str]] = set()
    for offer in quote.offers:
        _check_offer(offer, wanted, slots)
        for arrival in offer.arrivals:
            place = (offer.item, offer.lot, arrival.slot)
            if place in places:
                lot = f", lot {offer.lot}," if offer.lot else ""
                raise SourceFailed(f"it offered {offer.item}{lot} twice in the slot {arrival.slot!r}")
            places.add(place)
    return quote


def _check_offer(offer: Offer, wanted: dict[str, Wanted], slots: set[str]) -> None:
    if offer.item not in wanted:
        raise SourceFailed(f"it answered for {offer.item!r}, which it was not asked for")
    unit = wanted[offer.item].unit
    if offer.unit not in amount.UNITS or (
            offer.unit != unit and amount.quantity(offer.unit) != amount.quantity(unit)):
        raise SourceFailed(f"it answered {offer.item} in {offer.unit!r}, expected a unit that converts to {unit}")
    if not offer.arrivals:
        raise SourceFailed(f"it answered {offer.item} without an arrival; what isn't there has no offer")
    cant_be = (offer.pool or 0) < 0 or offer.least < 0 or offer.deposit < 0 or (
        bool(offer.packs) and min(offer.packs) < 1)
    used: set[str] = set()
    for arrival in offer.arrivals:
        if arrival.slot not in slots:
            raise SourceFailed(f"it answered {offer.item} for a slot {arrival.slot!r} that it didn't name")
        if arrival.slot in used:
            raise SourceFailed(f"it answered {offer.item} for the slot {arrival.slot!r} twice in one offer")
        used.add(arrival.slot)
        cant_be = cant_be or (arrival.most or 0) < 0
        least = -1
        for price in arrival.prices:
            cant_be = cant_be or price.minor < 0 or price.per < 1 or price.least < 0
            if price.least <= least and not cant_be:
                raise SourceFailed(f"it answered price breaks for {offer.item} that don't go from the smallest up")
            least = price.least
    if cant_be:
        raise SourceFailed(f"it answered an amount or price for {offer.item} that can't be, such as one below zero")
