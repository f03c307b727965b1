"""What was booked in from a source: for one whose stock is kept elsewhere, what should be issued there."""

from datetime import datetime

from sqlalchemy import select

from kitbuilder.model.stock_elsewhere import Fetched
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Delivery, Order


def fetched(store: Store, source: str, after: datetime, until: datetime) -> list[Fetched]:
    """Each delivery under an order of a source, after a moment and up to another, in the order of booking in."""
    query = (select(Delivery.item, Delivery.unit, Delivery.quantity).join(Order, Order.id == Delivery.order)
             .where(Order.source == source, Delivery.at > after, Delivery.at <= until).order_by(Delivery.id))
    with store.reading() as session:
        return [Fetched(item, unit, quantity) for item, unit, quantity in session.execute(query)]
