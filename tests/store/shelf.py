"""What the tests of the store share: a moment, bookings, goods, and the database behind kitbuilder's back."""

from datetime import UTC, datetime

from kitbuilder.model.booking import DiaryEntry
from kitbuilder.model.shelf import Promise, Receipt
from kitbuilder.store import bookings, shelves
from kitbuilder.store.database import Store
from tests.databases import dump, raw

__all__ = ["LATER", "NOW", "SITE", "balance", "book", "dump", "entry", "promise", "raw", "receive"]

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
LATER = datetime(2026, 3, 10, 16, tzinfo=UTC)
SITE = "Lauterfeld"


def entry(id_: str = "1", **told) -> DiaryEntry:
    return DiaryEntry(**{"id": id_, "start": datetime(2026, 3, 11, 8), "site": SITE, "job": "actuator"} | told)


def book(store: Store, id_: str = "1", diary: str = "desk", **told) -> int:
    number, _ = bookings.put(store, diary, entry(id_, **told), NOW, "Europe/Berlin", NOW)
    return number


def receive(store: Store, quantity: int = 5000, bin: str = "A-01", lot: str = "L1", item: str = "XX-1", **more) -> None:
    shelves.receive(store, Receipt(**{"site": SITE, "item": item, "bin": bin, "quantity": quantity, "unit": "each",
                                      "lot": lot} | more), "Ada", NOW)


def promise(quantity: int, key: str = "k", booking: int = 1, lot: str = "L1", item: str = "XX-1") -> Promise:
    return Promise(key, booking, f"{booking}/role:{item}", item, lot, quantity)


def balance(store: Store) -> dict[tuple[str, str, str], tuple[int, int]]:
    """On hand and held by item, lot and bin."""
    return {(one.item, one.lot, one.bin): (one.on_hand, one.held) for one in shelves.lots(store)}
