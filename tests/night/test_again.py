"""A run again, with the same diary, catalogue, stock and quotes, changes nothing but its own record."""

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.night.lock import only_one
from kitbuilder.store import holds
from tests.night.shop import DAY, Shop, row_of
from tests.night.test_killed import busy


def test_changes_no_table_but_its_record(tmp_path: Path) -> None:
    shop = busy(tmp_path / "shop")
    first = shop.run()
    rows, papers = shop.dump(), shop.documents()
    assert shop.orders() and shop.held()
    assert shop.run() == first
    assert shop.dump() == rows
    assert shop.documents() == papers
    shop.sound()


def test_plans_only_where_something_is_other_than_it_was(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A solver may find another plan as good, or run out of time where it didn't before; it isn't asked for nothing."""
    from kitbuilder.night import holding

    made: list[int] = []
    really = holding.make_plan

    def counted(needs: Any, *rest: Any, **more: Any) -> Any:
        made.append(len(needs))
        return really(needs, *rest, **more)

    monkeypatch.setattr(holding, "make_plan", counted)
    shop.receive("W-1", "9")
    shop.receive("O-1", "5", "L")
    shop.supplier("U-1,1,each,2026-03-11T07:00:00+00:00,900,1")
    number = shop.book("oil-change")
    shop.book("unit-change")

    def plans() -> bool:
        made.clear()
        shop.run()
        return bool(made)

    assert plans()
    assert not plans()
    shop.now += timedelta(minutes=5)
    assert not plans()
    # a hold that a person let go is made again
    [oil] = [row.id for row in shop.holds(number) if "?" in row.need]
    holds.step(shop.store, [oil], "released", "A. Person", shop.now)
    assert plans() and any("?" in row.need for row in shop.holds(number))
    assert not plans()
    for change in (
            lambda: shop.receive("O-1", "1", "L"),
            lambda: shop.supplier("U-1,1,each,2026-03-11T07:00:00+00:00,901,1"),
            lambda: shop.book("yard-wipe"),
            lambda: shop.edit(number, "amount", "wipes", filler="W-1", amount=2000, unit="each"),
            lambda: shop.decide(shop.orders()[0].id, "ordered")):
        change()
        assert plans()
        assert not plans()


def test_what_comes_newly_leaves_the_rest_as_it_was(shop: Shop) -> None:
    """Two lots, two slots at one price: what was chosen first stays, though the other would be as good."""
    shop.receive("W-1", "30")
    shop.receive("O-1", "9", "L", bin_name="A-1")
    shop.receive("O-1", "9", "L", bin_name="B-1")
    shop.supplier("U-1,9,each,2026-03-11T07:00:00+00:00,900,1", "U-1,9,each,2026-03-11T08:00:00+00:00,900,1")
    shop.book("oil-change", facts={"emissions": "Euro V"})
    shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    held = shop.held()
    for hour in (9, 10, 11):
        shop.book("oil-change", f"2026-03-11T{hour:02}:00", facts={"emissions": "Euro V"})
        shop.run()
        assert held.items() <= shop.held().items()
        assert len(shop.orders()) == 1 and shop.orders()[0].id == 1


def test_changes_nothing_an_hour_later_either(tmp_path: Path) -> None:
    shop = busy(tmp_path / "shop")
    shop.run()
    rows = shop.dump()
    shop.now += timedelta(hours=1)
    shop.run()
    assert shop.dump() == rows


def test_keeps_a_proposals_number_from_day_to_day(shop: Shop) -> None:
    shop.supplier("U-1,1,each,2026-03-12T12:00:00+00:00,900,1")
    shop.book("unit-change", "2026-03-13T08:00")
    shop.run()
    [before] = shop.orders()
    shop.run(date(2026, 3, 12))
    assert shop.orders() == [before]


def test_takes_back_nothing_that_an_earlier_day_needs(shop: Shop) -> None:
    """A run for a later day, started by hand, leaves holds and proposals of today's and tomorrow's bookings."""
    shop.receive("W-1", "2")
    shop.supplier("S-5,2,each,2026-03-11T07:00:00+00:00,3.10,1")
    number = shop.book("seal-change", "2026-03-11T08:00", facts={"emissions": "Euro V"})
    shop.run()
    rows = shop.dump()
    assert len(shop.orders()) == 1 and shop.held(number)
    report = shop.run(date(2026, 3, 16))
    assert shop.dump() == rows
    assert report.bookings == ()


def test_a_job_of_several_days_keeps_its_later_stages_parts(shop: Shop) -> None:
    shop.supplier("U-1,1,each,2026-03-12T06:30:00+00:00,900,1")
    number = shop.book("unit-change", "2026-03-11T16:30")
    shop.run()
    [order] = shop.orders()
    shop.now = datetime.fromisoformat("2026-03-12T04:00:00+00:00")
    report = shop.run(date(2026, 3, 12))
    # by now the supplier's price is stale, which is noted; all else stands
    assert shop.orders() == [msgspec.structs.replace(order, said="the price is of 2026-03-10 14:00")]
    assert row_of(report, number).state == "not ready"


def test_before_a_weekend_monday_is_looked_at(shop: Shop) -> None:
    monday = shop.book("seal-change", "2026-03-16T08:00", facts={"emissions": "Euro V"})
    tuesday = shop.book("seal-change", "2026-03-17T08:00", facts={"emissions": "Euro V"})
    wednesday = shop.book("seal-change", "2026-03-18T08:00", facts={"emissions": "Euro V"})
    assert [row.booking for row in shop.run(date(2026, 3, 13)).bookings] == [monday, tuesday]
    assert wednesday not in {row.booking for row in shop.run(date(2026, 3, 13)).bookings}


def test_one_run_at_a_time(shop: Shop) -> None:
    with (only_one(shop.folder / ".kitbuilder-run.lock", "Another run goes on in this workshop"),
          pytest.raises(StoreRefuses, match=r"Another run goes on in this workshop already \(process \d+\)")):
        shop.run()
    shop.run()


def test_a_night_on_which_the_clock_changes(shop: Shop) -> None:
    """02:00 to 03:00 doesn't exist on 29 March in Berlin, and starts then mean the first moment after it."""
    shop.settings(('zone = "Europe/London"', 'zone = "Europe/Berlin"'), (
        'friday = ["06:00 to 18:00"]', 'friday = ["06:00 to 18:00"]\nsunday = ["00:00 to 06:00"]'))
    shop.receive("W-1", "2")
    shop.receive("S-5", "2")
    shop.diary("a,,0,,2026-03-29T02:30,marl,seal-change,,authorised,normal,Euro V")
    report = shop.run(date(2026, 3, 29))
    [row] = report.bookings
    assert (row.state, row.start) == ("ready", "2026-03-29T02:30:00")
    assert shop.booking(row.booking).start.isoformat() == "2026-03-29T01:00:00+00:00"
    rows = shop.dump()
    shop.run(date(2026, 3, 29))
    assert shop.dump() == rows


def test_sites_have_their_own_shelves_runs_and_papers(tmp_path: Path) -> None:
    shop = Shop(tmp_path / "shop", {"marl": "Europe/London", "tarn": "Europe/Berlin"})
    shop.receive("W-1", "2", site="marl")
    shop.receive("S-5", "2", site="tarn")
    shop.diary("a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,",
               "b,,0,,2026-03-11T08:00,tarn,seal-change,DEMO 5,authorised,normal,")
    here, there = shop.run(site="marl"), shop.run(site="tarn")
    assert [len(one.bookings) for one in (here, there)] == [1, 1]
    assert shop.held() == {"1/wipes:W-1 W-1": 2000, "2/seal:S-5 S-5": 2000}
    assert shop.booking(1).start - shop.booking(2).start == timedelta(hours=1)
    assert {f"{DAY}/marl/pick-1.txt", f"{DAY}/tarn/pick-2.txt"} <= set(shop.documents())
    rows = shop.dump()
    shop.run(site="marl")
    shop.run(site="tarn")
    assert shop.dump() == rows


def test_a_booking_that_goes_to_another_site_takes_nothing_with_it(tmp_path: Path) -> None:
    shop = Shop(tmp_path / "shop", {"marl": "Europe/London", "tarn": "Europe/Berlin"})
    shop.receive("W-1", "2", site="marl")
    shop.diary("a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,")
    shop.run(site="marl")
    assert shop.held() == {"1/wipes:W-1 W-1": 2000}
    shop.diary("a,,1,,2026-03-11T08:00,tarn,seal-change,DEMO 5,authorised,normal,")
    report = shop.run(site="marl")
    assert (shop.held(), report.bookings) == ({}, ())
    assert [row.booking for row in shop.run(site="tarn").bookings] == [1]
    assert not shop.booking(1).missing
