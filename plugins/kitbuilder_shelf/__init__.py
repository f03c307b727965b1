"""The workshop's own shelf as a stock source, through the public view of it.

[sources.shelf]
plugin = "shelf"
"""

from kitbuilder import Arrival, Context, Offer, Quote, QuoteRequest, Slot, SourceKind, StockSource, hookimpl

#: The one slot of a shelf: what lies there is there now.
NOW = "now"


class Shelf:
    """What is free on the shelf, lot by lot; what is promised or in quarantine isn't."""

    does = frozenset({"quote", "hold", "release", "issue"})

    def __init__(self, context: Context) -> None:
        if context.settings:
            raise ValueError(f"no key but plugin, not {', '.join(context.settings)}")
        self._view, self._currency = context.shelf, context.currency

    def quote(self, request: QuoteRequest) -> Quote:
        """All lots of the items asked for, an offer each."""
        if self._view is None:
            raise ValueError('a store: store = "…" in the settings')
        free: dict[tuple[str, str], Offer] = {}
        for lot in self._view.lots([one.item for one in request.wanted]):
            known = free.get((lot.item, lot.lot))
            pool = lot.free + (known.pool or 0 if known else 0)
            free[lot.item, lot.lot] = Offer(
                item=lot.item, unit=lot.unit, pool=pool, lot=lot.lot, use_by=lot.use_by,
                arrivals=(Arrival(slot=NOW, sureness="on the shelf"),))
        return Quote(
            as_of=request.now, currency=self._currency, slots=(Slot(name=NOW, ready=request.now),),
            offers=tuple(offer for offer in free.values() if offer.pool))


def make(context: Context) -> StockSource:
    """The shelf as a stock source."""
    return Shelf(context)


@hookimpl
def stock_sources() -> list[SourceKind]:
    """Registers the kind `shelf`, the workshop's own."""
    return [SourceKind("shelf", "the workshop's own shelf", make, own=True)]
