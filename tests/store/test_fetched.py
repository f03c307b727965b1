"""What was booked in from one source, between two moments."""

from datetime import timedelta

from kitbuilder.model.stock_elsewhere import Fetched
from kitbuilder.store import orders, settling
from kitbuilder.store.fetched import fetched
from kitbuilder.store.view import StoreShelf
from tests.store.shelf import LATER, NOW, SITE, book
from tests.store.test_deliveries import came, ordered  # noqa: F401 - a fixture
from tests.store.test_orders_and_runs import order

LONG = timedelta(days=30)


def test_each_delivery_under_an_order_of_the_source_is_told_once(ordered):  # noqa: F811
    came(ordered, 2000)
    came(ordered, 2000)  # the same line of the same note
    came(ordered, 1000, note="N-2")
    assert fetched(ordered, "supplier", NOW - LONG, NOW + LONG) == [
        Fetched("XX-1", "each", 2000), Fetched("XX-1", "each", 1000)]
    assert fetched(ordered, "wholesaler", NOW - LONG, NOW + LONG) == []


def test_only_what_came_after_the_count_and_up_to_now_is_told(ordered):  # noqa: F811
    came(ordered, 2000)
    assert fetched(ordered, "supplier", NOW + LONG, NOW + 2 * LONG) == []
    assert fetched(ordered, "supplier", NOW - 2 * LONG, NOW - LONG) == []


def test_what_is_ordered_and_not_here_yet_is_coming(ordered):  # noqa: F811
    shelf = StoreShelf(ordered, "elsewhere")  # orders of all sites count
    assert {(one.item, one.quantity) for one in shelf.coming("supplier")} == {("XX-1", 4000), ("OIL", 20_000)}
    came(ordered, 1000)
    came(ordered, 1000, note="N-2")
    assert {(one.item, one.quantity) for one in shelf.coming("supplier")} == {("XX-1", 2000), ("OIL", 20_000)}
    assert shelf.coming("wholesaler") == []
    came(ordered, 9000, note="N-3")
    settling.drop_rest(ordered, 1, "Ada", LATER)
    assert shelf.coming("supplier") == []


def test_a_proposal_is_no_order(store):
    book(store)
    with store.writing() as session:
        orders.propose_in(session, SITE, [order()])
    assert StoreShelf(store, None).coming("supplier") == []
