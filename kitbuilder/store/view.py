"""The public, read-only view of the own shelf that plug-ins get."""

from collections.abc import Collection, Sequence

from sqlalchemy import and_, func, select

from kitbuilder.errors import WrongUse, offered
from kitbuilder.model.order import UNDER_WAY
from kitbuilder.model.shelf import Coming, ShelfLot
from kitbuilder.model.transfer import MARK
from kitbuilder.store.database import Store, open_store
from kitbuilder.store.shelves import lots
from kitbuilder.store.tables import Delivery, Order, OrderLine, Site


class StoreShelf:
    """A site's shelf in a store, which is opened when it is first looked at; `site` None: all sites. `strange`: the
    store is another workshop's, and stays as it is. `known`: sites that there are, also where nothing lies yet."""

    def __init__(self, where: str | Store, site: str | None, strange: bool = False,
                 known: Collection[str] = ()) -> None:
        self._where, self.site, self._strange, self._known = where, site, strange, known

    def lots(self, items: Sequence[str]) -> Sequence[ShelfLot]:
        """All lots of some items in all bins of the site."""
        if not items:
            return []
        if isinstance(self._where, Store):
            return lots(self._where, self.site, items)
        store = self._opened(self._where)
        try:
            return lots(store, self.site, items)
        finally:
            store.close()

    def at(self, site: str) -> "StoreShelf":
        """Another site's shelf in the same store. Raises WrongUse, naming the nearest, for one that isn't there: its
        shelf would read as empty."""
        store = self._where if isinstance(self._where, Store) else self._opened(self._where)
        try:
            with store.reading() as session:
                names = list(session.execute(select(Site.name).order_by(Site.name)).scalars())
        finally:
            if store is not self._where:
                store.close()
        if site not in {*names, *self._known}:
            raise WrongUse(f"The store has no site {site!r}. {offered(site, sorted({*names, *self._known}))}")
        return StoreShelf(self._where, site, self._strange, self._known)

    def coming(self, source: str) -> Sequence[Coming]:
        """What any site has ordered from a source that isn't here yet."""
        store = self._where if isinstance(self._where, Store) else self._opened(self._where)
        try:
            return _coming(store, source)
        finally:
            if store is not self._where:
                store.close()

    def _opened(self, where: str) -> Store:
        return open_store(where, migrate=not self._strange)


def _coming(store: Store, source: str) -> list[Coming]:
    # what came in the place of a line has its number; what was wrong has none, and fills nothing
    came = (select(Delivery.order, Delivery.line, func.sum(Delivery.quantity).label("quantity"))
            .where(Delivery.line != "").group_by(Delivery.order, Delivery.line).subquery())
    lines = (select(OrderLine.item, OrderLine.unit, OrderLine.quantity, OrderLine.confirmed, came.c.quantity)
             .join(Order, Order.id == OrderLine.order)
             .outerjoin(came, and_(came.c.order == Order.id, came.c.line == OrderLine.item))
             .where(Order.source == source, Order.state.in_(UNDER_WAY),
                    # what a van brings is held where it lies
                    Order.key.not_like(f"{MARK}%")).order_by(OrderLine.id))
    with store.reading() as session:
        found = [Coming(item, unit, int((quantity if confirmed is None else confirmed) - (here or 0)))
                 for item, unit, quantity, confirmed, here in session.execute(lines)]
    return [one for one in found if one.quantity > 0]


def shelf_of(store: str, site: str) -> StoreShelf:
    """A site's shelf in another workshop's store (the path of its file, or a database URL), to read only: the store is
    neither made nor changed. Raises StoreRefuses if it isn't there or of another revision, WrongUse for a site that it
    doesn't have."""
    return StoreShelf(store, None, strange=True).at(site)
