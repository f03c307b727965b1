"""`kitbuilder stock scan` against orders: read first, then booked in, held and noted; all or nothing."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.model.delivery_note import AgainstOrder, Scanned
from kitbuilder.store import orders, returns, settling, shelves
from tests.cli.running import Ran, run
from tests.night.shop import NOW, Shop

SEAL, UNIT = "02000000000015", "02000000000022"
#: A box's number: the GS1 company prefix 0614141 of the examples of GS1's documents, with its check digit.
BOX = "006141411234567890"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """Six seals are ordered, three bookings take two each; order 2 is of two units."""
    made = Shop(tmp_path / "shop")
    items = made.folder / "catalogue" / "items.csv"
    items.write_text(items.read_text("utf-8").replace("U-1;Unit;each;;;;", "U-1;Unit;each;;;;2000000000022"), "utf-8")
    made.receive("W-1", "6")
    made.supplier("S-5,9,each,2026-03-11T12:00:00+00:00,3,1")
    for hour in ("10", "08", "09"):
        made.book("seal-change", f"2026-03-12T{hour}:00", facts={"emissions": "Euro V"})
    made.run()
    made.decide(1, "ordered")
    yield made
    made.store.close()


def second(shop: Shop) -> None:
    """Another order, of two units."""
    shop.supplier("U-1,9,each,2026-03-11T12:00:00+00:00,900,1")
    shop.book("unit-change", "2026-03-12T12:00")
    shop.book("unit-change", "2026-03-12T13:00")
    shop.run()
    shop.decide(2, "ordered")


def scan(shop: Shop, text: str, *words: str) -> Ran:
    (shop.folder / "scans.txt").write_text(text)
    ran = run(shop.folder, "stock", "scan", "scans.txt", *words)
    assert max(map(len, ran.out.splitlines()), default=0) <= (80 if "--json" not in words else 10**6)
    return ran


def there(shop: Shop) -> list[tuple[str, str, int]]:
    return [(lot.item, lot.lot, lot.on_hand) for lot in shelves.lots(shop.store, "marl") if lot.item != "W-1"]


def test_without_a_bin_it_says_what_would_come_of_it_and_changes_nothing(shop: Shop) -> None:
    before = shop.dump(())
    ran = scan(shop, f"(01){SEAL}(10)L7(37)4\n(01){UNIT}\n", "--order", "1", "--note", "4711")
    assert (ran.code, ran.err, ran.out) == (1, "", (
        "Read, and not booked in, for order 1, note 4711: 2 rows\n"
        "  - 4 each of S-5 (Seal, Euro V), lot L7: as ordered; to be held: 2 for booking\n    2, 2 for booking 3\n"
        "  - 1 each of U-1 (Unit): NOT ORDERED, goes into quarantine\n"))
    assert shop.dump(()) == before


def test_a_part_delivery_with_a_wrong_part_and_another_lot_is_booked_in_and_once_a_note(shop: Shop) -> None:
    text = f"(01){SEAL}(10)L7(37)3\n(01){SEAL}(10)L8\n(01){UNIT}\n"
    ran = scan(shop, text, "--order", "1", "--note", "4711", "--bin", "IN-1", "--by", "Ben")
    assert (ran.code, ran.err, ran.out) == (1, "", (
        "Booked into IN-1, for order 1, note 4711: 3 rows\n"
        "  - 3 each of S-5 (Seal, Euro V), lot L7: as ordered; held: 2 for booking 2, 1\n    for booking 3\n"
        "  - 1 each of S-5 (Seal, Euro V), lot L8: as ordered; held: 1 for booking 3\n"
        "  - 1 each of U-1 (Unit): NOT ORDERED, in quarantine as lot 4711 (order 1),\n    return 1 is proposed\n"
        "Order 1 is ordered.\n"))
    assert there(shop) == [("S-5", "L7", 3000), ("S-5", "L8", 1000), ("U-1", "4711 (order 1)", 1000)]
    assert {(one.booking, one.lot, one.quantity) for one in shop.holds() if one.item == "S-5"} == {
        (2, "L7", 2000), (3, "L7", 1000), (3, "L8", 1000)}
    assert [one.item for one in returns.returns(shop.store)] == ["U-1"]
    rows = shop.dump(())
    again = scan(shop, text, "--order", "1", "--note", "4711", "--bin", "IN-1", "--by", "Ben")
    said = " ".join(again.out.split())
    assert again.code == 0 and said.count("booked in before with this note; nothing was done") == 3
    assert shop.dump(()) == rows
    shop.sound()


def test_more_than_was_ordered_is_told_and_the_order_is_received(shop: Shop) -> None:
    ran = scan(shop, f"(01){SEAL}(37)8\n", "--order", "1", "--note", "4711", "--bin", "IN-1", "--json")
    told = json.loads(ran.out)
    [one] = told["against"]
    assert (ran.code, one["takes"], one["beyond"], one["held"], one["state"], one["proposed_return"]) == (
        1, "ordered", "2", {"1": "2", "2": "2", "3": "2"}, "received", 1)
    assert set(one) == set(AgainstOrder.__struct_fields__) and set(told) == set(Scanned.__struct_fields__)


def test_nothing_is_booked_in_while_a_line_cant_be_taken(shop: Shop) -> None:
    """The lot was booked in before with another day of use; and a code is of no item."""
    scan(shop, f"(01){SEAL}(10)L7(17)270630\n", "--order", "1", "--note", "1", "--bin", "IN-1")
    rows = shop.dump(())
    ran = scan(shop, f"(01){UNIT}\n(01){SEAL}(10)L7(17)280630\n(01)09780471117094\n", "--order", "1", "--note", "2",
               "--bin", "IN-1")
    assert ran.code == 1 and "2 lines to look at; nothing was booked in" in ran.out
    assert "  - line 2, 1 each of S-5: " in ran.out and "  - line 3, (01)09780471117094: no item" in ran.out
    assert "Read, and not booked in, for order 1" in ran.out and shop.dump(()) == rows


def test_our_order_s_number_on_a_label_picks_the_order_and_the_box_stands_for_the_note(shop: Shop) -> None:
    ran = scan(shop, f"(00){BOX}(400)1\n(02){SEAL}(37)6\n", "--bin", "IN-1")
    assert ran.code == 0
    assert ran.out.startswith(f"Booked into IN-1, for order 1, note {BOX}: 1 row\n")
    assert orders.get(shop.store, 1).state == "received"
    again = scan(shop, f"(00){BOX}(400)1\n(02){SEAL}(37)6\n", "--bin", "IN-1")
    assert "booked in before" in " ".join(again.out.split())


def test_the_order_s_key_picks_it_too_and_a_shipment_stands_before_a_box(shop: Shop) -> None:
    key = orders.get(shop.store, 1).outbox_key
    shipment = "06141411234567890"
    ran = scan(shop, f"(00){BOX}\n(402){shipment}\n(01){SEAL}(400)1\n", "--json")
    told = json.loads(ran.out)
    assert (told["note_number"], told["against"][0]["order"]) == (shipment, 1)
    assert key.count("|") == 4, "a key like this has signs that no GS1 field has, so the number is what is printed"


def test_a_delivery_for_two_orders_goes_to_each_by_its_labels(shop: Shop) -> None:
    second(shop)
    text = f"(01){SEAL}(37)6(400)1\n(01){UNIT}(37)2(400)2\n"
    ran = scan(shop, text, "--bin", "IN-1", "--note", "4711")
    assert ran.code == 0 and ran.out.endswith("Order 1 is received.\nOrder 2 is received.\n")
    ran = scan(shop, f"{text}(01){SEAL}\n", "--bin", "IN-1", "--note", "4712")
    assert ran.code == 1 and "line 3, 1 each of S-5: is it for order 1 or 2? Book it in by hand" in ran.out
    ran = scan(shop, text, "--bin", "IN-1", "--note", "4713", "--order", "2")
    assert "line 1, 6 each of S-5: its label is of order 1, not of order 2" in " ".join(ran.out.split())


def test_a_number_that_is_no_order_of_ours_is_told_and_the_goods_are_plain_goods_in(shop: Shop) -> None:
    ran = scan(shop, f"(01){SEAL}(400)PO-77\n", "--bin", "IN-1")
    assert (ran.code, ran.out) == (0, "Booked into IN-1: 1 row\n  - 1 each of S-5 (Seal, Euro V)\n")
    assert "PO-77 on the labels is no order of ours that is under way" in " ".join(ran.err.split())
    assert there(shop) == [("S-5", "", 1000)] and orders.get(shop.store, 1).state == "ordered"


@pytest.mark.parametrize("words,said", [
    (("--order", "1"), "Goods against an order need the number of the delivery note: --note NUMBER."),
    (("--note", "4711"), "--note goes with an order"), (("--order", "9", "--note", "1"), "There is no order 9")])
def test_what_is_lacking_is_said(shop: Shop, words: tuple[str, ...], said: str) -> None:
    ran = scan(shop, f"(01){SEAL}\n", "--bin", "IN-1", *words)
    assert ran.code == 2 and said in " ".join(ran.err.split())


def test_a_proposal_that_comes_all_the_same_is_to_be_approved_first(shop: Shop) -> None:
    shop.supplier("U-1,9,each,2026-03-11T12:00:00+00:00,900,1")
    shop.book("unit-change", "2026-03-12T12:00")
    shop.run()
    ran = scan(shop, f"(01){UNIT}\n", "--order", "2", "--note", "1", "--bin", "IN-1")
    assert ran.code == 1 and "Order 2 is only proposed" in ran.out and there(shop) == []


def test_what_was_unclear_is_cleared_up_by_what_comes(shop: Shop) -> None:
    second(shop)
    with shop.store.writing() as session:
        row = orders.order_row(session, 2)
        row.state, row.sent_at = "unclear", NOW
        session.add(row)
    ran = scan(shop, f"(01){UNIT}(400)2\n", "--note", "1", "--bin", "IN-1")
    assert ran.code == 0 and ran.out.endswith("Order 2 is confirmed.\n")
    assert settling.expect(shop.store, 2, NOW.replace(day=12), "Ben", NOW).state == "confirmed"
