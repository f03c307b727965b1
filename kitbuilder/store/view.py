"""The public, read-only view of the own shelf that plug-ins get."""

from collections.abc import Sequence

from kitbuilder.model.shelf import ShelfLot
from kitbuilder.store.database import Store, open_store
from kitbuilder.store.shelves import lots


class StoreShelf:
    """A site's shelf in a store, which is opened when it is first looked at; `site` None: all sites."""

    def __init__(self, where: str | Store, site: str | None) -> None:
        self._where, self._site = where, site

    def lots(self, items: Sequence[str]) -> Sequence[ShelfLot]:
        """All lots of some items in all bins of the site."""
        if not items:
            return []
        if isinstance(self._where, Store):
            return lots(self._where, self._site, items)
        store = open_store(self._where)
        try:
            return lots(store, self._site, items)
        finally:
            store.close()
