"""`kitbuilder order` and `kitbuilder night`, as processes: what they say, in text and JSON, and their exit codes."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import bookings, orders
from tests.cli.running import run
from tests.night.shop import NOW, Shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A workshop with a booking that needs a unit from outside."""
    made = Shop(tmp_path / "shop")
    made.supplier("U-1,1,each,2026-03-11T12:00:00+00:00,900,1")
    made.book("unit-change", "2026-03-12T08:00")
    yield made
    made.store.close()


def test_a_proposal_is_listed_approved_and_expected(shop: Shop) -> None:
    assert run(shop.folder, "order", "list").out == "No order is open.\n"
    assert run(shop.folder, "night", "run", "--for", "2026-03-11").code == 1
    text = run(shop.folder, "order", "list").out
    assert "Order 1 at supplier: proposed" in text and "1 each U-1 Unit: 900.00 EUR" in text and "for booking 1" in text
    listed = json.loads(run(shop.folder, "order", "list", "--json").out)
    [one] = listed["orders"]
    assert (listed["format"], listed["warnings"]) == ("kitbuilder.orders/1", [])
    assert one.items() >= {
        "id": 1, "source": "supplier", "state": "proposed", "ready": "2026-03-11T12:00:00+00:00", "cut_off": None,
        "expected": None, "currency": "EUR", "fee": "0.00", "total": "900.00", "bookings": [1], "decided_by": "",
        "supplier_number": "", "said": ""}.items()
    assert one["lines"][0].items() >= {
        "item": "U-1", "amount": "1", "unit": "each", "packs": 0, "price": "900.00", "confirmed": None,
        "substitute": "", "returnable": True}.items()
    papers = shop.folder / "documents" / "2026-03-11" / "marl"
    assert json.loads((papers / "orders.json").read_text("utf-8")) == listed
    unnamed = run(shop.folder, "order", "approve", "1")
    assert (unnamed.code, unnamed.said) == (2, "An order is approved by a named person: --by NAME.")
    done = run(shop.folder, "order", "approve", "1", "--by", "A. Person")
    assert (done.code, done.out) == (
        0, "Order 1 at supplier is approved. supplier takes no orders from here: ring them\n"
           "up, then: kitbuilder order sent 1 --by NAME\n")
    not_yet = run(shop.folder, "check", "1", "--gate")
    assert (not_yet.code, "1 waits for order 1 to be sent to supplier" in not_yet.out) == (1, True)
    done = run(shop.folder, "order", "sent", "1", "--by", "A. Person")
    assert (done.code, done.out) == (0, "Order 1 at supplier is ordered, expected 2026-03-11 12:00.\n")
    assert "ordered by A. Person" in run(shop.folder, "order", "list").out
    twice = run(shop.folder, "order", "approve", "1", "--by", "A. Person")
    assert (twice.code, twice.said) == (5, "Order 1 is ordered already.")
    ready = run(shop.folder, "night", "run", "--for", "2026-03-11")
    assert (ready.code, "READY BY STAGE: 1 booking" in ready.out) == (0, True)
    assert len(orders.orders(shop.store, None, ("proposed", "ordered", "cancelled", "received"))) == 1


def test_what_has_come_is_held_from_the_shelf_and_not_expected_any_more(shop: Shop) -> None:
    assert run(shop.folder, "night", "run", "--for", "2026-03-11").code == 1
    early = run(shop.folder, "order", "received", "1")
    assert (early.code, early.said) == (5, "Order 1 is proposed.")
    run(shop.folder, "order", "approve", "1", "--sent", "--by", "A. Person")
    assert run(shop.folder, "stock", "receive", "U-1", "1", "--bin", "IN-1").code == 0
    done = run(shop.folder, "order", "received", "1")
    assert (done.code, done.out) == (0, "Order 1 at supplier is received.\n")
    ready = run(shop.folder, "night", "run", "--for", "2026-03-11")
    assert (ready.code, "READY: 1 booking" in ready.out) == (0, True)
    assert [(one.item, one.quantity, one.bin) for one in shop.holds()] == [("U-1", 1000, "IN-1")]
    assert [one.decided_by for one in orders.orders(shop.store, None, ("received",))] == ["A. Person"]
    assert orders.orders(shop.store) == []


def test_a_person_may_say_another_time(shop: Shop) -> None:
    shop.run()
    wrong = run(shop.folder, "order", "approve", "1", "--sent", "--by", "A. Person", "--expected",
                "2026-03-11T12:00")
    assert (wrong.code, "no time with its zone" in wrong.said) == (2, True)
    early = run(shop.folder, "order", "approve", "1", "--by", "A. Person", "--expected", "2026-03-12T16:00+01:00")
    assert (early.code, early.said) == (2, "--expected is for what was ordered by telephone: say --sent too.")
    done = run(shop.folder, "order", "approve", "1", "--sent", "--by", "A. Person", "--json", "--expected",
               "2026-03-12T16:00+01:00")
    answer = json.loads(done.out)
    assert (answer["number"], answer["text"]) == (1, "Order 1 at supplier is ordered, expected 2026-03-12 15:00.")


def test_a_cancelled_one_is_listed_with_all_only(shop: Shop) -> None:
    shop.run()
    assert run(shop.folder, "order", "cancel", "1").code == 2
    assert run(shop.folder, "order", "cancel", "1", "--by", "B. Person").out == "Order 1 at supplier is cancelled.\n"
    assert run(shop.folder, "order", "list").out == "No order is open.\n"
    assert "Order 1 at supplier: cancelled" in run(shop.folder, "order", "list", "--all").out
    assert run(shop.folder, "order", "cancel", "8", "--by", "B. Person").said == (
        "There is no order 8. `kitbuilder order list` shows all.")


def test_an_approver_has_a_limit_of_their_own_and_it_is_said_who_may(shop: Shop) -> None:
    shop.run()
    shop.settings(("[registers.fleet]", '[orders.approvers]\n"A. Person" = "500.00"\n"B. Person" = "900.00"\n\n'
                   "[registers.fleet]"))
    over = run(shop.folder, "order", "approve", "1", "--by", "A. Person")
    assert (over.code, over.err) == (2, (
        "Order 1 comes to 900.00 EUR; A. Person may approve up to 500.00 EUR. Who may\napprove it: B. Person.\n"))
    assert run(shop.folder, "order", "approve", "1", "--sent", "--by", "C. Person").code == 2
    assert [one.id for one in shop.orders()] == [1]
    assert run(shop.folder, "order", "approve", "1", "--by", "B. Person").code == 0


def test_an_order_for_nobody_any_more_is_refused(shop: Shop) -> None:
    shop.run()
    bookings.change(shop.store, 1, NOW, state="cancelled")
    ran = run(shop.folder, "order", "approve", "1", "--by", "A. Person")
    assert (ran.code, "for no booking that is authorised any more" in ran.said) == (5, True)
    assert [one.state for one in orders.orders(shop.store)] == ["proposed"]


def test_a_run_says_how_it_went_in_its_exit_code(shop: Shop) -> None:
    assert run(shop.folder, "night", "report").code == 2
    short = run(shop.folder, "night", "run", "--for", "2026-03-11", "--json")
    report = json.loads(short.out)
    assert (short.code, report["format"], report["warnings"]) == (1, "kitbuilder.report/1", [])
    assert [row["state"] for row in report["bookings"]] == ["not ready"]
    assert json.loads(run(shop.folder, "night", "report", "--json").out) == report
    shop.receive("U-1", "1")
    ready = run(shop.folder, "night", "run", "--for", "2026-03-11", "--json")
    assert (ready.code, ready.err) == (0, "")
    assert [row["state"] for row in json.loads(ready.out)["bookings"]] == ["ready"]
    (shop.folder / "supplier.csv").unlink()
    failed = run(shop.folder, "night", "run", "--for", "2026-03-11", "--json")
    assert failed.code == 4
    [warning] = json.loads(failed.out)["warnings"]
    assert warning.startswith("The source supplier failed: ")
    assert failed.said.startswith("warning: The source supplier failed: ")
    assert run(shop.folder, "night", "run", "--for", "soon").code == 2
    quiet = run(shop.folder, "night", "run", "--for", "2026-03-11", "--quiet")
    assert (quiet.code, quiet.out) == (4, "")
    assert "The source supplier failed" in quiet.said


def test_without_a_day_it_is_tomorrow_at_the_site(shop: Shop) -> None:
    assert json.loads(run(shop.folder, "night", "run", "--json").out)["day"] == "2026-03-11"


def test_several_sites_answer_with_one_object(tmp_path: Path) -> None:
    shop = Shop(tmp_path / "two", {"marl": "Europe/London", "tarn": "Europe/Berlin"})
    shop.book("unit-change", "2026-03-11T08:00")
    ran = run(shop.folder, "night", "run", "--json")
    answer = json.loads(ran.out)
    assert (ran.code, answer["format"], [one["site"] for one in answer["reports"]]) == (
        1, "kitbuilder.reports/1", ["marl", "tarn"])
    assert json.loads(run(shop.folder, "night", "report", "--json").out) == answer
    assert json.loads(run(shop.folder, "night", "run", "--site", "tarn", "--json").out)["site"] == "tarn"
    assert run(shop.folder, "order", "list").out == "marl:\nNo order is open.\ntarn:\nNo order is open.\n"
    shop.store.close()
