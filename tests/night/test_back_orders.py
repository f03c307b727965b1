"""What a supplier confirms for a later day changes the gate and the report of just those bookings that wait for it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.offer import AnsweredLine, OrderAnswer
from kitbuilder.stock.sending import verdict_of
from kitbuilder.store import orders, outbox, settling
from tests.cli.running import run
from tests.night.shop import NOW, Shop, row_of

FRIDAY = NOW.replace(day=13, hour=8)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """One order brings seals and wipes for booking 1 and a unit for booking 2, both on the 12th."""
    made = Shop(tmp_path / "shop")
    made.supplier("U-1,9,each,2026-03-11T12:00:00+00:00,900,1", "S-5,9,each,2026-03-11T12:00:00+00:00,3,1",
                  "W-1,9,each,2026-03-11T12:00:00+00:00,1,1")
    made.book("seal-change", "2026-03-12T08:00", facts={"emissions": "Euro V"})
    made.book("unit-change", "2026-03-12T08:00")
    made.run()
    [order] = made.orders()
    made.decide(order.id, "approved")
    outbox.begin(made.store, 1, "night", NOW)
    yield made
    made.store.close()


def answered(shop: Shop) -> None:
    """The supplier has the unit on Friday only."""
    order = orders.get(shop.store, 1)
    outbox.answered(shop.store, 1, verdict_of(order, OrderAnswer(state="accepted", number="A-7", lines=tuple(
        AnsweredLine(item=line.item, quantity=line.quantity, ready=FRIDAY if line.item == "U-1" else None)
        for line in order.lines)), "Europe/London"), "night", NOW)


def test_one_line_that_comes_later_is_for_a_person_and_then_late_for_its_booking_only(shop: Shop) -> None:
    answered(shop)
    report = shop.run()
    assert [row_of(report, number).state for number in (1, 2)] == ["not ready", "not ready"]
    assert ("Order 1 at supplier was changed by the supplier (U-1 comes 2026-03-13 08:00 instead of 2026-03-11 12:00): "
            "kitbuilder order take 1 --by NAME, or order cancel 1") in report.attention
    taken = run(shop.folder, "order", "take", "1", "--by", "A. Person")
    assert taken.out == "Order 1 at supplier is confirmed, expected 2026-03-11 12:00.\n"
    report = shop.run()
    assert row_of(report, 1).state == "ready by stage"
    assert (row_of(report, 2).state, row_of(report, 2).why) == (
        "not ready", ("1 each Unit (U-1) from supplier, promised for 2026-03-13 08:00: too late for stage fit",))
    assert shop.orders() == [], "what was ordered isn't ordered again, however late it comes"
    gate = run(shop.folder, "check", "2", "--gate")
    assert gate.code == 1 and "promised for 2026-03-13 08:00" in gate.out
    listed = run(shop.folder, "order", "list").out
    assert "  - 1 each U-1 Unit: 900.00 EUR; comes 2026-03-13 08:00\n" in listed and "  for 2026-03-11 12:00" in listed
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows


def test_each_is_asked_after_from_its_own_time(shop: Shop) -> None:
    answered(shop)
    settling.take(shop.store, 1, "A. Person", NOW)
    shop.now = NOW.replace(day=12, hour=5)
    late = [text for text in shop.run().attention if "isn't booked in" in text]
    assert late == [
        "Order 1 at supplier (S-5, W-1) was expected at 2026-03-11 12:00 and isn't booked in: ask after it."]
    for item, quantity in (("S-5", "2"), ("W-1", "2")):
        run(shop.folder, "stock", "receive", item, quantity, "--bin", "A", "--order", "1", "--note", "4711")
    assert not [text for text in shop.run().attention if "isn't booked in" in text]
    shop.now = FRIDAY.replace(hour=9)
    late = [text for text in shop.run(shop.now.date()).attention if "isn't booked in" in text]
    assert late == ["Order 1 at supplier was expected at 2026-03-13 08:00 and isn't booked in: ask after it."]


def test_a_back_order_that_is_told_by_telephone_changes_one_item_or_all(shop: Shop) -> None:
    order = orders.get(shop.store, 1)
    outbox.answered(shop.store, 1, verdict_of(order, OrderAnswer(state="accepted", lines=tuple(
        AnsweredLine(item=line.item, quantity=line.quantity) for line in order.lines))), "night", NOW)
    assert [row_of(shop.run(), number).state for number in (1, 2)] == ["ready by stage", "ready by stage"]
    ran = run(shop.folder, "order", "rest", "1", "--item", "U-1", "--expected", "2026-03-13T08:00+00:00", "--by", "Ben")
    assert (ran.code, ran.out) == (0, "Order 1 at supplier is confirmed, U-1 expected 2026-03-13 08:00.\n")
    assert [row_of(shop.run(), number).state for number in (1, 2)] == ["ready by stage", "not ready"]
    run(shop.folder, "order", "rest", "1", "--expected", "2026-03-11T16:00+00:00", "--by", "Ben")
    assert [row_of(shop.run(), number).state for number in (1, 2)] == ["ready by stage", "ready by stage"]
    assert {one.expected_at for one in orders.get(shop.store, 1).lines} == {None}
    with pytest.raises(WrongUse, match="Order 1 has no ZZ"):
        settling.expect(shop.store, 1, FRIDAY, "Ben", NOW, "ZZ")
    shop.decide(1, "cancelled")
    with pytest.raises(StoreRefuses, match="nothing of it is expected"):
        settling.expect(shop.store, 1, FRIDAY, "Ben", NOW, "U-1")


def test_what_is_let_go_is_looked_for_elsewhere(shop: Shop) -> None:
    answered(shop)
    settling.take(shop.store, 1, "A. Person", NOW)
    run(shop.folder, "stock", "receive", "S-5", "2", "--bin", "A", "--order", "1", "--note", "4711")
    shop.supplier("U-1,9,each,2026-03-11T14:00:00+00:00,950,1", "W-1,9,each,2026-03-11T14:00:00+00:00,1,1")
    ran = run(shop.folder, "order", "rest", "1", "--cancel", "--by", "Ben")
    assert ran.out == "Order 1 at supplier is received as far as it came; the next run looks for the\nrest.\n"
    shop.run()
    [other] = shop.orders()
    assert sorted(line.item for line in other.lines) == ["U-1", "W-1"]
