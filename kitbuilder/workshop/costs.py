"""What the house pays: the lowest price of any source for a line, for the house's eyes only."""

from collections.abc import Sequence
from datetime import date

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.events import acceptable
from kitbuilder.model.catalogue import Key
from kitbuilder.model.offer import Offer
from kitbuilder.stock.quoting import Answer
from kitbuilder.stock.supersede import successors
from kitbuilder.workshop.charges import Price, PriceOf, priced, smallest


def source_prices(edition: Edition, answers: Sequence[Answer], day: date) -> PriceOf:
    """Prices by what sources ask, over all items that may fill a line and all arrivals, with the break that the whole
    amount reaches; packs and fees are left out. What lies on the own shelf costs what a source would ask for it."""
    offers: dict[str, list[Offer]] = {}
    for answer in answers:
        for offer in answer.quote.offers if answer.quote is not None else ():
            offers.setdefault(offer.item, []).append(offer)

    def price_of(key: Key) -> Price | None:
        found = []
        for item in successors(acceptable(edition, key), edition.supersessions, day):
            for offer in offers.get(item, ()):
                least = _lowest(offer, key.least or key.amount, key.unit)
                most = _lowest(offer, key.amount, key.unit)
                if least is not None and most is not None:
                    found.append(Price(min(least, most), most, item))
        return min(found, key=lambda one: (one.most, one.least, one.item), default=None)

    return price_of


def _lowest(offer: Offer, milli: int, unit: str) -> int | None:
    """The lowest price of an amount over an offer's arrivals; None where no price is told."""
    wanted = smallest(milli, unit)
    found = []
    for arrival in offer.arrivals:
        reached = [one for one in arrival.prices if smallest(one.least, offer.unit) <= wanted] or arrival.prices[:1]
        if reached:
            found.append(priced(reached[-1].minor, reached[-1].per, offer.unit, milli, unit))
    return min(found, default=None)
