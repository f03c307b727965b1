"""A night in which items take others' place together: what is held and ordered goes together, and stays so."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import holds
from tests.databases import KINDS
from tests.night.shop import Shop, row_of

FACTS = {"emissions": "Euro V"}
TOLD = """\
old,new,from,rule,set,old_amount,new_amount,group,note
U-1,P-1,,used up first,unit-in-two,,,,The unit comes in two now
U-1,W-2,,used up first,unit-in-two,,2,,
"""


@pytest.fixture(params=KINDS)
def shop(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Shop]:
    """The shop on each database; the unit is a pipe and two coarse wipes by now."""
    server = request.getfixturevalue("postgres") if request.param == "postgresql" else None
    address = server.fresh() if server else None
    made = Shop(tmp_path / "shop", store=address)
    (made.folder / "catalogue" / "supersession.csv").write_text(TOLD, "utf-8")
    yield made
    made.store.close()
    if server:
        server.drop(address)


def held(shop: Shop, booking: int) -> dict[str, int]:
    return {row.item: row.quantity // 1000 for row in shop.holds(booking)}


def test_the_old_one_is_held_where_it_lies(shop: Shop) -> None:
    shop.receive("U-1", "1")
    shop.receive("P-1", "1")
    shop.receive("W-2", "2")
    number = shop.book("unit-change", facts=FACTS)
    report = shop.run()
    assert held(shop, number) == {"U-1": 1}
    assert row_of(report, number).why == ()


def test_all_parts_of_the_new_are_held_together(shop: Shop) -> None:
    shop.receive("P-1", "1")
    shop.receive("W-2", "5")
    number = shop.book("unit-change", facts=FACTS)
    report = shop.run()
    assert held(shop, number) == {"P-1": 1, "W-2": 2}
    row = row_of(report, number)
    assert (row.state, row.why) == ("ready", ("U-1 is superseded by P-1 and 2 W-2: The unit comes in two now",))
    paper = " ".join(shop.documents()[f"2026-03-11/marl/pick-{number}.txt"].decode().split())
    assert "U-1 is superseded by P-1 and 2 W-2: The unit comes in two now" in paper
    assert "NEEDED, BUT NOT HELD" not in paper


def test_what_lacks_of_the_new_is_ordered_and_the_order_says_why(shop: Shop) -> None:
    shop.receive("P-1", "1")
    shop.receive("W-2", "1")
    shop.supplier("W-2,4,each,2026-03-11T07:00:00+00:00,0.50,1", "U-1,4,each,2026-03-11T07:00:00+00:00,900.00,1")
    number = shop.book("unit-change", "2026-03-11T09:00", facts=FACTS)
    shop.run()
    assert held(shop, number) == {"P-1": 1, "W-2": 1}
    [order] = shop.orders()
    assert [(line.item, line.quantity) for line in order.lines] == [("W-2", 1000)]
    paper = " ".join(shop.documents()["2026-03-11/marl/orders.txt"].decode().split())
    assert "1 each W-2 Wipe, coarse: 0.50 EUR U-1 is superseded by P-1 and 2 W-2" in paper


def test_a_run_again_changes_nothing_and_what_comes_in_changes_the_way(shop: Shop) -> None:
    shop.receive("P-1", "1")
    shop.receive("W-2", "5")
    number = shop.book("unit-change", facts=FACTS)
    shop.run()
    before = shop.holds(number)
    shop.run()
    assert shop.holds(number) == before
    shop.receive("U-1", "1")
    shop.run()
    # what is held stays: a change counts before the order of old and new
    assert held(shop, number) == {"P-1": 1, "W-2": 2}
    shop.sound()


def test_what_is_picked_of_one_way_settles_it(shop: Shop) -> None:
    shop.receive("P-1", "1")
    number = shop.book("unit-change", "2026-03-11T09:00", facts=FACTS)
    shop.supplier("W-2,4,each,2026-03-11T07:00:00+00:00,0.50,1")
    shop.run()
    [hold] = shop.holds(number)
    for state in ("picking", "picked"):
        holds.step(shop.store, [hold.id], state, "A. Person", shop.now)  # type: ignore[arg-type]
    shop.receive("U-1", "1")
    report = shop.run()
    assert held(shop, number) == {"P-1": 1}
    [order] = shop.orders()
    assert [(line.item, line.quantity) for line in order.lines] == [("W-2", 2000)]
    assert not any("put it back" in text for text in report.attention)
    shop.sound()


def test_two_bookings_choose_each_for_itself(shop: Shop) -> None:
    shop.receive("U-1", "1")
    shop.receive("P-1", "1")
    shop.receive("W-2", "2")
    first = shop.book("unit-change", "2026-03-11T08:00", facts=FACTS)
    second = shop.book("unit-change", "2026-03-11T09:00", facts=FACTS)
    report = shop.run()
    found = [held(shop, one) for one in (first, second)]
    assert sorted(found, key=len) == [{"U-1": 1}, {"P-1": 1, "W-2": 2}]
    assert {row_of(report, one).state for one in (first, second)} == {"ready"}
    assert report.proven
