"""The report says why a booking is late or short, and how far from proof its plan is."""

from __future__ import annotations

import json

import msgspec
import pytest

from kitbuilder.model.plan import Gap
from kitbuilder.night import holding, run
from kitbuilder.night.lost import why_lost
from kitbuilder.show.paper import Paper
from kitbuilder.show.workshop import report_text
from kitbuilder.stock.plan import plan
from tests.night.shop import NOW, Shop, row_of
from tests.stock.test_plan_rules import lies, need, sells, shelf, supplier

LATER = "U-1,1,each,2026-03-11T14:00:00+00:00,900,1"


def test_a_booking_that_lost_the_only_part_to_one_off_the_road_says_so(shop: Shop) -> None:
    """The unit is wanted at 10:00, two hours after each job's start; another comes at 14:00."""
    shop.receive("U-1", "1")
    shop.supplier(LATER)
    first = shop.book("unit-change", "2026-03-11T08:00")
    second = shop.book("unit-change", "2026-03-11T08:00", priority="VOR")
    report = shop.run()
    assert row_of(report, first).why[-2:] == (
        f"It is 4 h late for want of 1 each Unit (U-1), which went to booking {second} (VOR).",
        "Were it on time, 1 VOR booking would be late or short instead of none: booking "
        f"{second} (VOR) would be 4 h late.")
    assert not any("want of" in text for text in row_of(report, second).why)


def test_the_sentences_are_as_they_were_where_nothing_has_changed(shop: Shop) -> None:
    shop.receive("U-1", "1")
    shop.supplier(LATER)
    number = shop.book("unit-change", "2026-03-11T08:00")
    shop.book("unit-change", "2026-03-11T08:00", priority="VOR")
    before = row_of(shop.run(), number).why
    assert row_of(shop.run(), number).why == before


def test_a_booking_for_which_one_is_too_few_lost_to_two_that_would_be_late(shop: Shop) -> None:
    shop.receive("S-5", "2")
    shop.supplier("S-5,4,each,2026-03-11T14:00:00+00:00,3.10,1")
    shop.receive("W-1", "9")
    numbers = [shop.book("seal-change", f"2026-03-11T08:0{minute}", facts={"emissions": "Euro V"})
               for minute in range(3)]
    report = shop.run()
    late = [row for row in report.bookings if any("want of" in text for text in row.why)]
    assert {row.booking for row in late} < set(numbers) and len(late) == 2
    assert all("which went to booking" in " ".join(row.why) for row in late)


def test_what_nothing_brings_is_not_said_to_have_gone_to_somebody(shop: Shop) -> None:
    number = shop.book("unit-change")
    assert row_of(shop.run(), number).why[-1] == (
        "Nothing that was offered brings 1 each Unit (U-1), whatever other bookings go without.")


def test_nothing_is_said_of_bookings_that_are_on_time(shop: Shop) -> None:
    shop.receive("U-1", "1")
    number = shop.book("unit-change")
    report = shop.run()
    assert row_of(report, number).why == ()
    assert report.gap == ""


def test_without_time_it_says_that_it_was_not_worked_out(shop: Shop) -> None:
    needs = [need("valve", 1, booking=1, wanted=2), need("valve", 1, booking=2, wanted=4, vor=True)]
    supplies = [shelf(lies("valve", 1)), supplier("north", sells("valve", 900))]
    made = plan(needs, supplies, NOW)
    assert why_lost(made, needs, supplies, NOW, {}, "EUR", seconds=0) == {
        1: ("Why it is 16 h late was not worked out in time.",)}


def test_a_plan_that_is_not_proven_says_by_how_much_it_may_be_off(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The solver gets no time: each of the three that would share a delivery's fee is planned by a rule of thumb."""
    monkeypatch.setattr(holding, "make_plan", lambda *given, **more: plan(*given, **{**more, "seconds": 0}))
    shop.receive("U-1", "1")
    shop.supplier(LATER)
    shop.book("unit-change", "2026-03-11T08:00")
    shop.book("unit-change", "2026-03-11T08:00")
    report = shop.run()
    assert not report.proven
    assert report.gap == "up to 1 of 1 booking may not have to be late or short"
    text = report_text(report, Paper())
    assert " ".join(text.split()).endswith(
        "The plan behind this is good, but not proven to be the best there is: up to 1 of 1 booking may not have to be "
        "late or short.")
    assert max(map(len, text.splitlines())) <= 80
    outcome = msgspec.json.decode(run.runs.last_done(shop.store, "marl").steps["hold"], type=holding.Outcome)
    assert outcome.gap == Gap("not_on_time", 1, 0)


def test_a_run_before_these_were_told_can_still_be_read() -> None:
    old = {"failed": [], "attention": [], "again": [], "proven": True, "changed": 0, "asked": "", "left": ""}
    read = msgspec.json.decode(json.dumps(old), type=holding.Outcome)
    assert (read.gap, read.lost) == (None, {})
