"""What was booked in from a source: for one whose stock is kept elsewhere, what should be issued there."""

from datetime import datetime

from sqlalchemy import case, select

from kitbuilder.model.stock_elsewhere import Fetched
from kitbuilder.store.database import Store
from kitbuilder.store.tables import Delivery, IssueElsewhere, Order


def fetched(store: Store, source: str, after: datetime, until: datetime) -> list[Fetched]:
    """Each delivery under an order of a source, after a moment and up to another, in the order of booking in.

    What is told to the source counts from when it is issued there: until then it still stands in its books.
    """
    issued_at = case((IssueElsewhere.id.is_(None), Delivery.at),
                     (IssueElsewhere.state == "issued", IssueElsewhere.changed_at))
    query = (select(Delivery.item, Delivery.unit, Delivery.quantity).join(Order, Order.id == Delivery.order)
             .outerjoin(IssueElsewhere, IssueElsewhere.delivery == Delivery.id)
             .where(Order.source == source, issued_at > after, issued_at <= until).order_by(Delivery.id))
    with store.reading() as session:
        return [Fetched(item, unit, quantity) for item, unit, quantity in session.execute(query)]
