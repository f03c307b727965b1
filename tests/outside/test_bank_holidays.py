"""The days a site opens, against published bank holidays; its hours, against published clock changes."""

from datetime import UTC, date, datetime, time, timedelta

import pytest

from kitbuilder.calendar.public_holidays import public_holidays
from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.site import is_open
from kitbuilder.calendar.wall import to_utc, to_wall
from kitbuilder.calendar.working import shifts_on, working_minutes
from tests.outside import bank_holidays

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def site(region, days=WEEKDAYS, shift="06:00 to 14:00"):
    table = {"zone": "Europe/London", "shifts": {day: [shift] for day in days}}
    if region:
        table["holidays"] = region
    return read_sites("kitbuilder.toml", {"marl": table})["marl"]


def year_of(year):
    return [date(year, 1, 1) + timedelta(days=number) for number in range(365)]


@pytest.mark.parametrize("year", [2026, 2027])
@pytest.mark.parametrize(("region", "published"), [
    ("GB-ENG", bank_holidays.ENGLAND_AND_WALES), ("GB-WLS", bank_holidays.ENGLAND_AND_WALES),
    ("GB-SCT", bank_holidays.SCOTLAND)])
def test_of_the_weekdays_exactly_the_published_ones_are_closed(region, published, year):
    one = site(region, WEEKDAYS[:5])
    closed = [day for day in year_of(year) if day.weekday() < 5 and not is_open(one, day)]
    assert closed == list(published[year])


@pytest.mark.parametrize("year", [2026, 2027])
@pytest.mark.parametrize("part", ["ENG", "SCT"])
def test_of_the_weekends_exactly_the_days_with_a_substitute_are_closed(part, year):
    one = site(f"GB-{part}")
    closed = [day for day in year_of(year) if day.weekday() >= 5 and not is_open(one, day)]
    assert closed == list(bank_holidays.ON_A_WEEKEND[part][year])


def test_a_site_without_holidays_works_on_all_of_them():
    one = site(None)
    assert all(is_open(one, day) for day in (*bank_holidays.ENGLAND_AND_WALES[2026], *bank_holidays.SCOTLAND[2026]))


def test_a_holiday_kept_in_the_year_before_belongs_to_that_year():
    kept = bank_holidays.US_NEW_YEAR_2022_KEPT
    assert kept in public_holidays("US", "NY", kept.year)
    assert {day.year for day in public_holidays("US", "NY", kept.year + 1)} == {kept.year + 1}


def test_clocks_of_london_change_at_the_published_times():
    forward = datetime.combine(bank_holidays.FORWARD_2026, time(1), UTC)
    assert to_wall(forward - timedelta(seconds=1), "Europe/London").time() == time(0, 59, 59)
    assert to_wall(forward, "Europe/London").time() == time(2)
    back = datetime.combine(bank_holidays.BACK_2026, time(1), UTC)
    assert to_wall(back - timedelta(seconds=1), "Europe/London").time() == time(1, 59, 59)
    assert to_wall(back, "Europe/London").time() == time(1)


def test_of_all_nights_of_the_year_only_those_of_the_clock_changes_are_not_eight_hours():
    one = site(None, shift="22:00 to 06:00")
    lengths = {}
    for day in year_of(2026):
        (shift,) = shifts_on(one, day)
        lengths[day] = working_minutes(one, shift.start, shift.end)
    odd = {day + timedelta(days=1): minutes for day, minutes in lengths.items() if minutes != 8 * 60}
    assert odd == {bank_holidays.FORWARD_2026: 7 * 60, bank_holidays.BACK_2026: 9 * 60}


def test_times_inside_the_changes_move_later_or_take_the_first():
    skipped = datetime.combine(bank_holidays.FORWARD_2026, time(1, 30))
    assert to_utc(skipped, "Europe/London") == datetime.combine(bank_holidays.FORWARD_2026, time(1), UTC)
    double = datetime.combine(bank_holidays.BACK_2026, time(1, 30))
    assert to_utc(double, "Europe/London") == datetime.combine(bank_holidays.BACK_2026, time(0, 30), UTC)
