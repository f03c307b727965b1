"""What was asked of a source that doesn't know it: taken off what it offers, so that nothing is promised twice."""

from collections.abc import Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.model.offer import Offer
from kitbuilder.model.shelf import Coming


def less_coming(offers: Sequence[Offer], coming: Sequence[Coming]) -> tuple[Offer, ...]:
    """Offers less what is still to come of earlier orders, in the order they stand in; one of which nothing is left is
    none any more. For sources whose numbers fall only when something is fetched. What lies between two thousandths of
    an offer's unit is taken off too: what is free is never made more."""
    owed: dict[str, int] = {}
    for one in coming:
        owed[one.item] = owed.get(one.item, 0) + one.quantity * _finest(one.unit)
    left: list[Offer] = []
    for offer in offers:
        if offer.pool is None or not owed.get(offer.item):
            left.append(offer)
            continue
        finest = _finest(offer.unit)
        taken = min(offer.pool, -(-owed[offer.item] // finest))
        owed[offer.item] = max(0, owed[offer.item] - taken * finest)
        if offer.pool > taken:
            left.append(msgspec.structs.replace(offer, pool=offer.pool - taken))
    return tuple(left)


def _finest(unit: str) -> int:
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1
