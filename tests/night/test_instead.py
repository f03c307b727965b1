"""What is taken in an item's place goes into the kit: it is needed, held and checked, and nothing ordered twice."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.model.order import LineVerdict, Verdict
from kitbuilder.store import bookings, orders, outbox
from tests.cli.running import run
from tests.night.shop import NOW, Shop, row_of

UNIT = "U-1,9,each,2026-03-11T12:00:00+00:00,900,1"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """Two bookings wait for a unit each, of one order."""
    made = Shop(tmp_path / "shop")
    made.supplier(UNIT)
    made.book("unit-change", "2026-03-12T08:00")
    made.book("unit-change", "2026-03-12T09:00")
    made.run()
    yield made
    made.store.close()


def changed(shop: Shop, quantity: int, substitute: str = "W-2") -> None:
    """The supplier answers that another item comes in the unit's place."""
    shop.decide(1, "approved")
    outbox.begin(shop.store, 1, "night", NOW)
    outbox.answered(shop.store, 1, Verdict(state="changed", text=f"{substitute} in place of U-1", number="A-7", lines=(
        LineVerdict("U-1", quantity, 90000 * quantity // 1000, substitute),)), "night", NOW)


def test_a_substitute_that_is_taken_is_what_the_kits_ask_for_from_then_on(shop: Shop) -> None:
    changed(shop, 2000)
    taken = run(shop.folder, "order", "take", "1", "--by", "A. Person")
    assert (taken.code, taken.out, taken.err) == (0, (
        "Order 1 at supplier is confirmed, expected 2026-03-11 12:00. The kit of booking\n1, 2 takes W-2 in place of "
        "U-1 from now on.\n"), "")
    report = shop.run()
    assert shop.orders() == [], "nothing is ordered a second time"
    assert [row_of(report, number).state for number in (1, 2)] == ["ready by stage"] * 2
    assert not [text for text in report.attention if "doesn't need it" in text]
    [edit] = bookings.edits_of(shop.store, 1)
    assert (edit.action, edit.role, edit.item, edit.who, edit.why) == (
        "swap", "unit", "W-2", "A. Person", "order 1 at supplier brings it in place of U-1")
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows
    came = run(shop.folder, "stock", "receive", "W-2", "2", "--bin", "IN-1", "--order", "1", "--note", "4711")
    assert came.code == 0 and "Held: 1 for booking 1, 1 for booking 2." in " ".join(came.out.split())
    assert row_of(shop.run(), 1).state == "ready"
    check = run(shop.folder, "check", "1", typed="U-1\nW-2\n")
    assert "WRONG ITEM: Unit (U-1) does not belong to this job" in check.err
    assert "ok  Wipe, coarse (W-2): 1 of 1 each" in check.err and "START. All" in check.out


def test_one_that_comes_for_some_only_leaves_the_others_to_be_looked_for(shop: Shop) -> None:
    changed(shop, 1000)
    taken = run(shop.folder, "order", "take", "1", "--by", "A. Person")
    assert "is part" in taken.out and "The kit of booking 1 takes W-2 in place of U-1" in " ".join(taken.out.split())
    assert bookings.edits_of(shop.store, 2) == []
    shop.supplier("U-1,9,each,2026-03-11T14:00:00+00:00,900,1")
    report = shop.run()
    [rest] = shop.orders()
    assert [one.booking for one in rest.wanted_for] == [2] and row_of(report, 1).state == "ready by stage"


def test_what_is_taken_at_goods_in_goes_into_the_kit_too(shop: Shop) -> None:
    shop.decide(1, "ordered")
    came = run(shop.folder, "stock", "receive", "W-2", "1", "--bin", "IN-1", "--order", "1", "--note", "4711",
               "--instead-of", "U-1", "--by", "A. Person")
    assert came.code == 0 and came.out.replace("\n", " ").endswith(
        "Held: 1 for booking 1. The kit of booking 1 takes W-2 in place of U-1 from now on. ")
    report = shop.run()
    assert shop.orders() == [] and [row_of(report, number).state for number in (1, 2)] == ["ready", "ready by stage"]
    again = run(shop.folder, "stock", "receive", "W-2", "1", "--bin", "IN-1", "--order", "1", "--note", "4711",
                "--instead-of", "U-1", "--by", "A. Person")
    assert "was booked in before" in " ".join(again.out.split()) and len(bookings.edits_of(shop.store, 1)) == 1


def test_a_substitute_that_the_catalogue_doesnt_have_is_told(shop: Shop) -> None:
    changed(shop, 2000, "Z-99")
    taken = run(shop.folder, "order", "take", "1", "--by", "A. Person")
    assert taken.code == 0 and "The catalogue has no item Z-99, so no kit can take it" in " ".join(taken.err.split())
    assert bookings.edits_of(shop.store, 1) == [] and orders.get(shop.store, 1).state == "confirmed"


def test_where_it_covers_a_line_in_part_a_person_changes_the_kit(tmp_path: Path) -> None:
    """Two seals are needed; one lies on the shelf, and another kind comes for the other."""
    shop = Shop(tmp_path / "shop")
    shop.receive("S-5", "1")
    shop.receive("W-1", "2")
    shop.supplier("S-5,9,each,2026-03-11T12:00:00+00:00,3,1")
    shop.book("seal-change", "2026-03-12T08:00", facts={"emissions": "Euro V"})
    shop.run()
    shop.decide(1, "approved")
    outbox.begin(shop.store, 1, "night", NOW)
    outbox.answered(shop.store, 1, Verdict(
        state="changed", text="S-6 in place of S-5", lines=(LineVerdict("S-5", 1000, 300, "S-6"),)), "night", NOW)
    taken = run(shop.folder, "order", "take", "1", "--by", "A. Person")
    assert "The kit of booking 1 still asks for S-5: change it by hand" in " ".join(taken.err.split())
    assert bookings.edits_of(shop.store, 1) == []
    shop.store.close()
