"""Wall times and the moments that they mean."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.calendar.wall import PlannedTime, planned_time, to_utc, to_wall
from kitbuilder.errors import BadData
from tests.calendar import by_the_minute

LONDON, LORD_HOWE = "Europe/London", "Australia/Lord_Howe"


def utc(*parts):
    return datetime(*parts, tzinfo=UTC)


@pytest.mark.parametrize(("wall", "zone", "moment"), [
    (datetime(2026, 1, 14, 9, 30), LONDON, utc(2026, 1, 14, 9, 30)),
    (datetime(2026, 7, 14, 9, 30), LONDON, utc(2026, 7, 14, 8, 30)),
    (datetime(2026, 7, 14, 9, 30), "Asia/Tokyo", utc(2026, 7, 14, 0, 30)),
    (datetime(2026, 7, 14, 9, 30, 15, 250), "UTC", utc(2026, 7, 14, 9, 30, 15, 250)),
])
def test_a_wall_time_that_exists_once_means_that_moment(wall, zone, moment):
    assert to_utc(wall, zone) == moment
    assert to_utc(wall, zone).tzinfo is UTC
    assert to_wall(moment, zone) == wall


@pytest.mark.parametrize("wall", [
    datetime(2026, 3, 29, 1), datetime(2026, 3, 29, 1, 0, 0, 1), datetime(2026, 3, 29, 1, 30),
    datetime(2026, 3, 29, 1, 59, 59, 999_999), datetime(2026, 3, 29, 2)])
def test_a_time_that_clocks_skip_moves_to_the_first_moment_after(wall):
    assert to_utc(wall, LONDON) == utc(2026, 3, 29, 1)
    assert to_wall(to_utc(wall, LONDON), LONDON) == datetime(2026, 3, 29, 2)


def test_the_last_moment_before_clocks_skip_stays():
    assert to_utc(datetime(2026, 3, 29, 0, 59, 59, 999_999), LONDON) == utc(2026, 3, 29, 0, 59, 59, 999_999)


@pytest.mark.parametrize("fold", [0, 1])
@pytest.mark.parametrize(("wall", "moment"), [
    (datetime(2026, 10, 25, 0, 59), utc(2026, 10, 24, 23, 59)),
    (datetime(2026, 10, 25, 1), utc(2026, 10, 25, 0)),
    (datetime(2026, 10, 25, 1, 59), utc(2026, 10, 25, 0, 59)),
    (datetime(2026, 10, 25, 2), utc(2026, 10, 25, 2)),
])
def test_a_time_that_comes_twice_is_the_first(wall, moment, fold):
    assert to_utc(wall.replace(fold=fold), LONDON) == moment


def test_both_moments_of_a_double_time_show_the_same():
    assert to_wall(utc(2026, 10, 25, 0, 30), LONDON) == datetime(2026, 10, 25, 1, 30)
    assert to_wall(utc(2026, 10, 25, 1, 30), LONDON) == datetime(2026, 10, 25, 1, 30)
    assert to_wall(utc(2026, 10, 25, 1, 30), LONDON).fold == 0


def test_a_clock_may_change_by_half_an_hour():
    """Lord Howe Island: 10:30 hours ahead in winter, 11 in summer."""
    assert to_utc(datetime(2026, 10, 4, 2, 10), LORD_HOWE) == utc(2026, 10, 3, 15, 30)
    assert to_wall(utc(2026, 10, 3, 15, 30), LORD_HOWE) == datetime(2026, 10, 4, 2, 30)
    assert to_utc(datetime(2026, 4, 5, 1, 45), LORD_HOWE) == utc(2026, 4, 4, 14, 45)
    assert to_utc(datetime(2026, 4, 5, 2), LORD_HOWE) == utc(2026, 4, 4, 15, 30)


def test_a_day_may_be_left_out():
    """Samoa went from 29 to 31 December 2011."""
    assert to_utc(datetime(2011, 12, 30, 12), "Pacific/Apia") == utc(2011, 12, 30, 10)
    assert to_wall(utc(2011, 12, 30, 10), "Pacific/Apia") == datetime(2011, 12, 31)


def test_a_moment_may_be_told_in_any_zone():
    elsewhere = datetime(2026, 7, 14, 12, tzinfo=timezone(timedelta(hours=5, minutes=30)))
    assert to_wall(elsewhere, LONDON) == datetime(2026, 7, 14, 7, 30)


@given(st.sampled_from(by_the_minute.CHANGES), st.integers(-2 * 24 * 60, 2 * 24 * 60))
def test_a_wall_time_means_the_first_minute_that_shows_it_or_a_later_time(change, minutes):
    zone, day = change
    clock = by_the_minute.clock(zone, day - timedelta(days=4), day + timedelta(days=4))
    wall = datetime.combine(day, datetime.min.time()) + timedelta(minutes=minutes)
    number = clock.number(wall)
    assert to_utc(wall, zone) == clock.moment(number)
    assert to_wall(clock.moment(number), zone) == clock.walls[number]


@given(st.datetimes(datetime(1972, 1, 1), datetime(2037, 12, 31)),
       st.sampled_from(sorted({zone for zone, _ in by_the_minute.CHANGES})))
def test_what_is_stored_is_the_wall_time_its_zone_and_a_moment_that_shows_it_or_the_next_that_exists(wall, zone):
    stored = planned_time(wall, zone)
    assert (stored.wall, stored.zone) == (wall, zone)
    shown = to_wall(stored.utc, zone)
    assert shown >= wall
    if shown > wall:  # moved: a moment before, clocks showed an earlier time still
        assert to_wall(stored.utc - timedelta(seconds=1), zone) < wall


def test_wall_zone_and_moment_are_stored_together():
    assert planned_time(datetime(2026, 3, 29, 1, 30), LONDON) == PlannedTime(
        datetime(2026, 3, 29, 1, 30), LONDON, utc(2026, 3, 29, 1))


def test_times_with_and_without_a_zone_are_not_mixed_up():
    with pytest.raises(ValueError, match="has a zone of its own"):
        to_utc(utc(2026, 7, 14), LONDON)
    with pytest.raises(ValueError, match="has no zone"):
        to_wall(datetime(2026, 7, 14), LONDON)


@pytest.mark.parametrize(("name", "offer"), [
    ("Europe/Londn", "Did you mean 'Europe/London'?"), ("europe/paris", "Did you mean 'Europe/Paris'?"),
    ("Europe", "'Europe"), ("../Europe/London", "Did you mean 'Europe/London'?"), ("", "Expected one of"),
])
def test_an_unknown_zone_is_named_with_the_nearest(name, offer):
    with pytest.raises(BadData) as caught:
        to_utc(datetime(2026, 7, 14), name)
    assert str(caught.value).startswith(f"There is no time zone {name!r}. ")
    assert offer in str(caught.value).split(". ", 1)[1]
