"""What was issued to bookings, less what came back: what past jobs really used."""

import json

import msgspec
from sqlalchemy import select

from kitbuilder.store.database import Store
from kitbuilder.store.tables import Booking, Ledger, Lot, StoredKit


class Issued(msgspec.Struct, frozen=True):
    """So much of an item that a booking used, in milli-units of the lot's unit; `facts` are what was known of the
    vehicle and the job, as cells."""

    booking: int
    job: str
    item: str
    amount: int
    unit: str
    facts: dict[str, str]


def issued_lines(store: Store) -> list[Issued]:
    """The lines that were used, by booking, item and unit. A line that came back whole isn't among them."""
    query = (select(Ledger.booking, Ledger.on_hand, Lot.item, Lot.unit, Booking.job, Booking.facts, StoredKit.kit)
             .join(Lot, Lot.id == Ledger.lot).join(Booking, Booking.number == Ledger.booking)
             .outerjoin(StoredKit, StoredKit.booking == Ledger.booking)
             .where(Ledger.action.in_(("issue", "return"))))
    used: dict[tuple[int, str, str], int] = {}
    about: dict[int, tuple[str, dict[str, str]]] = {}
    with store.reading() as session:
        for booking, on_hand, item, unit, job, facts, kit in session.execute(query):
            used[booking, item, unit] = used.get((booking, item, unit), 0) - on_hand
            if booking not in about:
                about[booking] = job, {**_settled(kit), **json.loads(facts)}
    return [Issued(booking, about[booking][0], item, milli, unit, about[booking][1])
            for (booking, item, unit), milli in sorted(used.items()) if milli > 0]


def _settled(kit: str | None) -> dict[str, str]:
    """The facts that had one value in the kit as it was built."""
    told = json.loads(kit)["facts"] if kit else ()
    return {one["fact"]: one["values"][0] for one in told if len(one["values"]) == 1 and " to " not in one["values"][0]}
