"""`kitbuilder book` and `kitbuilder edit`, as processes."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import bookings
from tests.cli.running import run
from tests.night.shop import Shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A workshop without bookings."""
    made = Shop(tmp_path / "shop")
    yield made
    made.store.close()


def test_a_booking_is_made_listed_moved_cancelled_and_authorised(shop: Shop) -> None:
    made = run(shop.folder, "book", "add", "seal-change", "--start", "2026-03-12T08:00", "--vehicle", "DEMO 5",
               "--enquiry")
    assert (made.code, made.out) == (0, "Booking 1: seal-change, 2026-03-12 08:00.\n")
    listed = json.loads(run(shop.folder, "book", "list", "--json").out)
    assert (listed["format"], listed["warnings"]) == ("kitbuilder.bookings/1", [])
    [one] = listed["bookings"]
    assert {key: one[key] for key in ("id", "start", "job", "vehicle", "site", "state")} == {
        "id": 1, "start": "2026-03-12T08:00:00+00:00", "job": "seal-change", "vehicle": "DEMO 5", "site": "marl",
        "state": "enquiry"}
    assert run(shop.folder, "book", "authorise", "1").out == "Booking 1 is authorised.\n"
    moved = run(shop.folder, "book", "move", "1", "--start", "2026-06-12T09:30")
    assert moved.out == "Booking 1 starts 2026-06-12 09:30.\n"
    [one] = json.loads(run(shop.folder, "book", "list", "--json").out)["bookings"]
    assert (one["start"], one["state"]) == ("2026-06-12T09:30:00+01:00", "authorised")
    assert run(shop.folder, "book", "cancel", "1").out == "Booking 1 is cancelled.\n"
    again = run(shop.folder, "book", "cancel", "1")
    assert (again.code, again.out) == (0, "Booking 1 is cancelled already.\n")
    assert run(shop.folder, "book", "list").out == "No booking is known.\n"
    assert "cancelled" in run(shop.folder, "book", "list", "--all").out
    refused = run(shop.folder, "book", "move", "1", "--start", "2026-03-13T08:00")
    assert (refused.code, refused.said) == (5, "Booking 1 is cancelled. Authorise it first.")
    assert run(shop.folder, "book", "authorise", "1").code == 0


def test_facts_visit_bay_and_priority_are_kept(shop: Shop) -> None:
    run(shop.folder, "book", "add", "seal-change", "--start", "2026-03-12T08:00", "--fact", "emissions=Euro V", "--vor",
        "--visit", "v", "--bay", "3", "--technician", "A. Person")
    one = bookings.get(shop.store, 1)
    assert (one.facts, one.priority, one.visit, one.bay, one.technician, one.diary) == (
        {"emissions": "Euro V"}, "VOR", "v", "3", "A. Person", "desk")


@pytest.mark.parametrize(("words", "code", "said"), [
    (("add", "seal-chang", "--start", "2026-03-12T08:00"), 2, "There is no job 'seal-chang'"),
    (("add", "seal-change", "--start", "tomorrow"), 2, "is no day and time"),
    (("add", "seal-change", "--start", "2026-03-12"), 2, "is no day and time"),
    (("add", "seal-change", "--start", "2026-03-12T08:00+01:00"), 2, "leave the zone out"),
    (("add", "seal-change", "--start", "2026-03-12T08:00", "--fact", "emissions=Euro 9"), 2, "Euro 9"),
    (("add", "seal-change", "--start", "2026-03-12T08:00", "--site", "marle"), 2, "Did you mean 'marl'?"),
    (("cancel", "9"), 2, "There is no booking 9. `kitbuilder book list` shows all."),
])
def test_wrong_use_says_what_was_expected(shop: Shop, words: tuple[str, ...], code: int, said: str) -> None:
    ran = run(shop.folder, "book", *words)
    assert (ran.code, ran.out) == (code, "")
    assert said in ran.said
    assert bookings.every(shop.store) == []


def test_contradicting_facts_are_refused(shop: Shop) -> None:
    ran = run(shop.folder, "book", "add", "seal-change", "--start", "2026-03-12T08:00", "--fact", "emissions=Euro V",
              "--fact", "emissions=Euro VI")
    assert ran.code == 3
    assert bookings.every(shop.store) == []


def test_a_start_that_clocks_skip_says_what_it_means(shop: Shop) -> None:
    ran = run(shop.folder, "book", "add", "seal-change", "--start", "2026-03-29T01:30")
    assert ran.out == "Booking 1: seal-change, 2026-03-29 01:30 (clocks skip that: it means 02:00).\n"


def test_bookings_of_earlier_today_are_listed_and_of_yesterday_not(shop: Shop) -> None:
    shop.book("seal-change", "2026-03-09T23:00")
    today = shop.book("seal-change", "2026-03-10T00:00")
    assert [one["id"] for one in json.loads(run(shop.folder, "book", "list", "--json").out)["bookings"]] == [today]
    assert len(json.loads(run(shop.folder, "book", "list", "--all", "--json").out)["bookings"]) == 2


def test_cancelling_says_what_still_comes(shop: Shop) -> None:
    shop.supplier("U-1,1,each,2026-03-11T12:00:00+00:00,900,1")
    number = shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    shop.decide(shop.orders()[0].id, "ordered")
    assert run(shop.folder, "book", "cancel", str(number)).out == (
        f"Booking {number} is cancelled. What was ordered for it still comes: order 1.\n")


def test_an_edit_is_noted_with_who_and_why_and_taken_back(shop: Shop) -> None:
    number = str(shop.book("seal-change", facts={"emissions": "Euro V"}))
    early = run(shop.folder, "edit", number, "--amount", "seal", "--to", "3", "--why", "x")
    assert (early.code, "has no kit yet" in early.said) == (3, True)
    shop.run()
    done = run(shop.folder, "edit", number, "--amount", "seal", "--to", "3", "--why", "two sides", "--by", "A. Person",
               "--json")
    answer = json.loads(done.out)
    assert (done.code, answer["number"], answer["warnings"]) == (0, 1, [])
    [edit] = bookings.edits_of(shop.store, int(number))
    assert (edit.action, edit.role, edit.filler, edit.amount, edit.unit, edit.who, edit.why) == (
        "amount", "seal", "S-5", 3000, "each", "A. Person", "two sides")
    assert run(shop.folder, "edit", number, "--undo", "1").out == "Edit 1 is taken back.\n"
    assert bookings.edits_of(shop.store, int(number)) == []


@pytest.mark.parametrize(("words", "said"), [
    (("--amount", "seal", "--to", "3"), "An edit needs its reason"),
    (("--why", "x"), "Say one thing to do"),
    (("--add", "seal", "--strike", "seal", "--why", "x"), "Say one thing to do"),
    (("--strike", "sael", "--why", "x"), "has no line for the role 'sael'. Did you mean 'seal'?"),
    (("--add", "pip", "--item", "P-1", "--why", "x"), "The catalogue has no role 'pip'. Did you mean 'pipe'?"),
    (("--add", "pipe", "--item", "P-9", "--why", "x"), "The catalogue has no item 'P-9'"),
    (("--amount", "seal", "--to", "1.5", "--why", "x"), "'1.5' is no amount of each"),
    (("--swap", "seal", "--item", "O-1", "--why", "x"), "O-1 is counted in L, the line in each"),
    (("--undo", "7"), "no edit 7"),
])
def test_an_edit_that_can_not_be_says_why(shop: Shop, words: tuple[str, ...], said: str) -> None:
    number = shop.book("seal-change", facts={"emissions": "Euro V"})
    shop.run()
    ran = run(shop.folder, "edit", str(number), *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.said
    assert bookings.edits_of(shop.store, number) == []


def test_an_edit_of_another_booking_is_not_taken_back(shop: Shop) -> None:
    first, second = shop.book("seal-change"), shop.book("seal-change", "2026-03-11T09:00")
    edit = shop.edit(first, "strike", "wipes", filler="W-1")
    assert run(shop.folder, "edit", str(second), "--undo", str(edit)).code == 2
    assert len(bookings.edits_of(shop.store, first)) == 1
