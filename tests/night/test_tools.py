"""Special tools come back: each is had for a stage's window; the report says who wants one at the same time."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import holds as holding
from kitbuilder.store import shelves
from tests.night.shop import NOW, Shop

#: A unit change wants the crane for its first stage, of two hours.
JOB = "unit-change"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path / "shop", {"marl": "Europe/London", "north": "Europe/London"})
    made.settings(("[registers.fleet]", """\
[sources.north]
plugin = "sister-site"
site = "north"
leaves = ["07:30", "16:00"]
takes_min = 60
zone = "Europe/London"

[registers.fleet]"""))
    made.receive("U-1", "9")
    yield made
    made.store.close()


def told(shop: Shop) -> list[str]:
    return [text for text in shop.run().attention if "T-1" in text]


def test_wanted_twice_at_once_is_told_unless_there_are_enough(shop: Shop) -> None:
    for start in ("2026-03-11T08:00", "2026-03-11T09:00", "2026-03-11T14:00"):
        shop.book(JOB, start)
    assert told(shop) == ["Crane (T-1) is wanted by bookings 1, 2 at the same time, from 2026-03-11 09:00 to 10:00: 2 "
                          "in all, and there is 1."]
    shop.receive("T-1", "2")
    assert told(shop) == []
    assert not any("T-1" in need for need in shop.held())


def test_one_that_comes_back_when_the_next_job_wants_it_is_enough(shop: Shop) -> None:
    for start in ("2026-03-11T08:00", "2026-03-11T10:00"):
        shop.book(JOB, start)
    assert told(shop) == []


def test_jobs_that_overlap_one_after_the_other_are_one_thing_to_decide(shop: Shop) -> None:
    for start in ("2026-03-11T08:00", "2026-03-11T09:00", "2026-03-11T09:30"):
        shop.book(JOB, start)
    assert told(shop) == ["Crane (T-1) is wanted by bookings 1, 2, 3 at the same time, from 2026-03-11 09:00 to 11:00: "
                          "3 in all, and there is 1."]


def test_one_in_quarantine_is_not_there(shop: Shop) -> None:
    shop.receive("T-1", "1", lot="K1")
    shop.book(JOB, "2026-03-11T08:00")
    assert told(shop) == []
    shelves.quarantine(shop.store, "marl", "T-1", "K1", "its test is overdue", "A. Person", NOW)
    assert told(shop) == ["Crane (T-1) is wanted by booking 1, from 2026-03-11 08:00 to 10:00: 1 in all, and there is "
                          "0."]


def test_another_sites_tool_is_told_with_the_van_that_brings_it_in_time(shop: Shop) -> None:
    shop.receive("T-1", "1", site="north")
    shop.receive("T-1", "1")
    shop.book(JOB, "2026-03-11T08:30")
    shop.book(JOB, "2026-03-11T09:00")
    assert told(shop) == [
        "Crane (T-1) is wanted by bookings 1, 2 at the same time, from 2026-03-11 09:00 to 10:30: 2 in all, and there "
        "is 1. north has 1, if it isn't needed there then: a van brings it by 2026-03-11 08:30."]


def test_another_sites_van_that_is_too_late_is_said_to_be(shop: Shop) -> None:
    shop.receive("T-1", "1", site="north")
    shop.settings(('leaves = ["07:30", "16:00"]', 'leaves = "12:00"'))
    shop.book(JOB, "2026-03-11T08:30")
    shop.book(JOB, "2026-03-11T09:00")
    assert told(shop) == [
        "Crane (T-1) is wanted by bookings 1, 2 at the same time, from 2026-03-11 09:00 to 10:30: 2 in all, and there "
        "is 1. north has 1, if it isn't needed there then: the next van is here at 2026-03-11 13:00, too late for "
        "that."]


def test_what_one_lends_is_free_again_when_it_is_back(shop: Shop) -> None:
    """Nothing is held of a tool: what is lent is at the other site until it moves back."""
    from kitbuilder.store import transfers

    shop.receive("T-1", "1", site="north", bin_name="N-9")
    shop.receive("T-1", "1")
    for start in ("2026-03-11T08:30", "2026-03-11T09:00"):
        shop.book(JOB, start)
    transfers.move(shop.store, "north", "marl", "T-1", "", "N-9", "A-1", 1000, "A. Person", NOW)
    assert told(shop) == []
    transfers.move(shop.store, "marl", "north", "T-1", "", "A-1", "N-9", 1000, "A. Person", NOW)
    assert len(told(shop)) == 1
    assert holding.holds(shop.store, site="north") == []
    shop.sound()
