"""Working time told by hand: shifts, breaks, nights, clock changes, work that runs over a weekend."""

from datetime import UTC, date, datetime, timedelta, timezone

import pytest

from kitbuilder.calendar.site import WEEKDAYS, Days, Hours, Site
from kitbuilder.calendar.wall import to_utc
from kitbuilder.calendar.working import (
    HORIZON_DAYS,
    Interval,
    StageTime,
    add_working,
    last_open_moment_before,
    next_opening,
    shifts_on,
    stage_starts,
    working_intervals,
    working_minutes,
)
from kitbuilder.errors import BadData

LONDON = "Europe/London"


def hours(text):
    start, end = (int(one[:2]) * 60 + int(one[3:]) for one in text.split(" to "))
    return Hours(start, end if end > start else end + 24 * 60)


def site(week, breaks=(), zone=LONDON, **keys):
    """`week`: shifts by the first three letters of the weekday, or of every day under `daily`."""
    assert set(week) <= {"daily", *(day[:3] for day in WEEKDAYS)}
    shifts = tuple(tuple(map(hours, week.get(day[:3], week.get("daily", ())))) for day in WEEKDAYS)
    return Site("marl", zone, shifts, tuple(map(hours, breaks)), **keys)


def at(text, zone=LONDON):
    return to_utc(datetime.fromisoformat(text), zone)


def told(*pairs, zone=LONDON):
    return tuple(Interval(at(start, zone), at(end, zone)) for start, end in pairs)


EARLY_LATE = ("06:00 to 14:00", "14:00 to 22:00")
#: Two shifts Monday to Friday, two breaks in each; in June 2026 the 12th is a Friday.
DAYS = site(dict.fromkeys(("mon", "tue", "wed", "thu", "fri"), EARLY_LATE),
            ("09:30 to 09:45", "12:00 to 12:30", "17:00 to 17:30"))
NIGHTS = site({"daily": ("22:00 to 06:00",)})


def test_shifts_that_touch_are_one_and_breaks_cut_them():
    assert working_intervals(DAYS, at("2026-06-12"), at("2026-06-15")) == told(
        ("2026-06-12 06:00", "2026-06-12 09:30"), ("2026-06-12 09:45", "2026-06-12 12:00"),
        ("2026-06-12 12:30", "2026-06-12 17:00"), ("2026-06-12 17:30", "2026-06-12 22:00"))


def test_shifts_that_overlap_count_once():
    both = site({"fri": ("06:00 to 14:30", "13:30 to 22:00")}, ("14:00 to 14:15",))
    assert working_minutes(both, at("2026-06-12"), at("2026-06-13")) == 16 * 60 - 15


def test_intervals_are_cut_where_they_are_asked_for():
    assert working_intervals(DAYS, at("2026-06-12 09:40"), at("2026-06-12 10:00")) == told(
        ("2026-06-12 09:45", "2026-06-12 10:00"))
    assert working_intervals(DAYS, at("2026-06-12 09:30"), at("2026-06-12 09:45")) == ()
    assert working_intervals(DAYS, at("2026-06-12 10:00"), at("2026-06-12 10:00")) == ()
    assert working_intervals(DAYS, at("2026-06-12 11:00"), at("2026-06-12 10:00")) == ()


def test_the_shifts_of_a_day_are_told_with_their_breaks_in_them():
    assert shifts_on(DAYS, date(2026, 6, 12)) == told(
        ("2026-06-12 06:00", "2026-06-12 14:00"), ("2026-06-12 14:00", "2026-06-12 22:00"))
    assert shifts_on(DAYS, date(2026, 6, 13)) == ()
    assert shifts_on(NIGHTS, date(2026, 6, 13)) == told(("2026-06-13 22:00", "2026-06-14 06:00"))


def test_the_shifts_of_a_day_are_told_in_their_order_whatever_the_order_they_are_written_in():
    one = site({"fri": tuple(reversed(EARLY_LATE))})
    assert shifts_on(one, date(2026, 6, 12)) == told(
        ("2026-06-12 06:00", "2026-06-12 14:00"), ("2026-06-12 14:00", "2026-06-12 22:00"))


def test_a_shift_belongs_to_the_day_on_which_it_begins():
    """The night before a closing day runs into it, and the closing day's own night falls out."""
    one = site({"daily": ("22:00 to 06:00",)}, closed=(Days(date(2026, 6, 13), date(2026, 6, 13)),))
    assert working_intervals(one, at("2026-06-12 12:00"), at("2026-06-15 00:00")) == told(
        ("2026-06-12 22:00", "2026-06-13 06:00"), ("2026-06-14 22:00", "2026-06-15 00:00"))


def test_a_night_has_its_breaks_on_both_sides_of_midnight():
    one = site({"fri": ("22:00 to 06:00",)}, ("23:00 to 23:15", "23:50 to 00:10", "02:00 to 02:30"))
    assert working_intervals(one, at("2026-06-12 12:00"), at("2026-06-13 12:00")) == told(
        ("2026-06-12 22:00", "2026-06-12 23:00"), ("2026-06-12 23:15", "2026-06-12 23:50"),
        ("2026-06-13 00:10", "2026-06-13 02:00"), ("2026-06-13 02:30", "2026-06-13 06:00"))


def test_a_break_from_the_night_before_runs_into_a_shift_that_begins_at_midnight():
    one = site({"fri": ("00:00 to 06:00",)}, ("23:45 to 00:15",))
    assert working_intervals(one, at("2026-06-11 12:00"), at("2026-06-12 12:00")) == told(
        ("2026-06-12 00:15", "2026-06-12 06:00"))


def test_a_shift_is_at_work_when_the_clock_shows_the_day_before_once_more():
    """St John's, 7 November 2010: at 00:01 the clock went back to 23:01 of the 6th, a minute into the shift."""
    one = site({"sun": ("00:00 to 03:00",)}, zone="America/St_Johns")
    start = at("2010-11-07 00:00", "America/St_Johns")
    assert working_minutes(one, start - timedelta(hours=2), start + timedelta(minutes=30)) == 30
    assert working_minutes(one, start, start + timedelta(hours=12)) == 4 * 60


@pytest.mark.parametrize(("zone", "night", "minutes"), [
    (LONDON, "2026-03-27", 8 * 60), (LONDON, "2026-03-28", 7 * 60), (LONDON, "2026-10-24", 9 * 60),
    ("Australia/Lord_Howe", "2026-10-03", 7 * 60 + 30), ("Australia/Lord_Howe", "2026-04-04", 8 * 60 + 30),
    ("Asia/Tokyo", "2026-03-28", 8 * 60), ("Asia/Tokyo", "2026-10-24", 8 * 60),
])
def test_a_night_over_a_clock_change_has_its_real_minutes(zone, night, minutes):
    one = site({"daily": ("22:00 to 06:00",)}, zone=zone)
    start = at(f"{night} 22:00", zone)
    assert working_minutes(one, start, start + timedelta(hours=12)) == minutes
    assert add_working(one, start, minutes) == start + timedelta(minutes=minutes)
    assert add_working(one, start, minutes + 1) == start + timedelta(hours=24, minutes=minutes - 8 * 60 + 1)


def test_a_shift_that_ends_in_the_skipped_hour_ends_when_clocks_skip():
    one = site({"sun": ("00:15 to 01:30", "01:30 to 03:00")})
    assert shifts_on(one, date(2026, 3, 29)) == (
        Interval(datetime(2026, 3, 29, 0, 15, tzinfo=UTC), datetime(2026, 3, 29, 1, tzinfo=UTC)),
        Interval(datetime(2026, 3, 29, 1, tzinfo=UTC), datetime(2026, 3, 29, 2, tzinfo=UTC)))


def test_a_shift_within_the_skipped_hour_is_none():
    one = site({"sun": ("01:10 to 01:50",)})
    assert shifts_on(one, date(2026, 3, 29)) == ()
    assert len(shifts_on(one, date(2026, 4, 5))) == 1


def test_shifts_that_meet_in_the_double_hour_meet_in_its_first_pass():
    one = site({"sun": ("00:00 to 01:30", "01:30 to 03:00")})
    first, second = shifts_on(one, date(2026, 10, 25))
    assert first.end == second.start == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert working_minutes(one, first.start, second.end) == 4 * 60


@pytest.mark.parametrize(("taken", "begins"), [
    ("01:15 to 01:45", datetime(2026, 3, 29, 1, tzinfo=UTC)),      # 02:00 on the clock: 01:15 doesn't exist
    ("00:45 to 01:15", datetime(2026, 3, 29, 0, 45, tzinfo=UTC)),
])
def test_a_break_is_not_lost_when_clocks_skip_its_time(taken, begins):
    one = site({"sat": ("22:00 to 06:00",)}, (taken,))
    before, after = working_intervals(one, at("2026-03-28 12:00"), at("2026-03-29 12:00"))
    assert (before.end, after.start) == (begins, begins + timedelta(minutes=30))


def test_a_break_keeps_its_length_when_clocks_go_back_in_it():
    one = site({"sat": ("22:00 to 06:00",)}, ("01:45 to 02:15",))
    before, after = working_intervals(one, at("2026-10-24 12:00"), at("2026-10-25 12:00"))
    assert before.end == datetime(2026, 10, 25, 0, 45, tzinfo=UTC)
    assert after.start - before.end == timedelta(minutes=30)


@pytest.mark.parametrize(("start", "minutes", "done"), [
    ("2026-06-12 06:00", 0, "2026-06-12 06:00"),
    ("2026-06-12 06:00", 90, "2026-06-12 07:30"),
    ("2026-06-12 06:00", 210, "2026-06-12 09:30"),      # with the break that begins then, not after it
    ("2026-06-12 06:00", 211, "2026-06-12 09:46"),
    ("2026-06-12 09:35", 0, "2026-06-12 09:45"),        # in a break: from its end
    ("2026-06-12 09:35", 10, "2026-06-12 09:55"),
    ("2026-06-12 21:00", 60, "2026-06-12 22:00"),       # with the shift, not at the next opening
    ("2026-06-12 21:00", 61, "2026-06-15 06:01"),       # over the weekend
    ("2026-06-12 22:00", 0, "2026-06-15 06:00"),        # the end of a shift is outside it
    ("2026-06-13 11:00", 30, "2026-06-15 06:30"),
])
def test_work_counts_from_the_next_opening_and_stands_still_outside_shifts(start, minutes, done):
    assert add_working(DAYS, at(start), minutes) == at(done)


def test_work_may_take_longer_than_a_week():
    week = 5 * (16 * 60 - 75)
    assert add_working(DAYS, at("2026-06-08 06:00"), 3 * week) == at("2026-06-26 22:00")
    assert working_minutes(DAYS, at("2026-06-08 06:00"), at("2026-06-29 06:00")) == 3 * week


def test_moments_may_be_told_in_any_zone_and_come_back_in_utc():
    elsewhere = at("2026-06-12 06:00").astimezone(timezone(timedelta(hours=-7)))
    done = add_working(DAYS, elsewhere, 60)
    assert done == at("2026-06-12 07:00")
    assert done.tzinfo is UTC
    assert working_minutes(DAYS, elsewhere, done) == 60


def test_seconds_are_kept_and_minutes_rounded_down():
    start = at("2026-06-12 06:00:30")
    assert add_working(DAYS, start, 10) == at("2026-06-12 06:10:30")
    assert working_minutes(DAYS, start, at("2026-06-12 06:02")) == 1
    assert working_minutes(DAYS, start, at("2026-06-12 06:02:30")) == 2


@pytest.mark.parametrize(("moment", "opening"), [
    ("2026-06-12 05:59", "2026-06-12 06:00"), ("2026-06-12 06:00", "2026-06-12 06:00"),
    ("2026-06-12 08:00", "2026-06-12 08:00"), ("2026-06-12 09:30", "2026-06-12 09:45"),
    ("2026-06-12 14:00", "2026-06-12 14:00"), ("2026-06-12 22:00", "2026-06-15 06:00"),
])
def test_the_next_opening_is_the_moment_itself_while_the_site_works(moment, opening):
    assert next_opening(DAYS, at(moment)) == at(opening)


@pytest.mark.parametrize(("moment", "last"), [
    ("2026-06-15 06:00", "2026-06-12 22:00"), ("2026-06-15 06:01", "2026-06-15 06:01"),
    ("2026-06-12 22:00", "2026-06-12 22:00"), ("2026-06-12 09:40", "2026-06-12 09:30"),
    ("2026-06-12 09:45", "2026-06-12 09:30"), ("2026-06-14 12:00", "2026-06-12 22:00"),
])
def test_the_last_open_moment_is_where_work_last_ended(moment, last):
    assert last_open_moment_before(DAYS, at(moment)) == at(last)


def test_stages_follow_each_other_along_the_shifts():
    assert stage_starts(DAYS, at("2026-06-12 20:00"), [
        ("strip", 60), ("clutch", 60), ("look", 0), ("build up", 240), ("road test", 20)]) == [
        StageTime("strip", at("2026-06-12 20:00"), at("2026-06-12 21:00")),
        StageTime("clutch", at("2026-06-12 21:00"), at("2026-06-12 22:00")),
        StageTime("look", at("2026-06-15 06:00"), at("2026-06-15 06:00")),
        StageTime("build up", at("2026-06-15 06:00"), at("2026-06-15 10:15")),
        StageTime("road test", at("2026-06-15 10:15"), at("2026-06-15 10:35")),
    ]
    assert stage_starts(DAYS, at("2026-06-12 20:00"), []) == []


def shut_for(days):
    """Open every day, but not on so many after 31 December 2025."""
    return site({"daily": ("06:00 to 14:00",)}, closed=(
        Days(date(2026, 1, 1), date(2026, 1, 1) + timedelta(days=days - 1)),))


def test_a_site_that_opens_again_within_the_horizon_is_waited_for():
    one = shut_for(HORIZON_DAYS - 1)
    opening = at("2026-01-01 06:00") + timedelta(days=HORIZON_DAYS - 1)
    assert next_opening(one, at("2025-12-31 14:00")) == opening
    assert add_working(one, at("2025-12-31 13:00"), 61) == opening + timedelta(minutes=1)
    assert last_open_moment_before(one, opening) == at("2025-12-31 14:00")


def test_a_site_that_stays_shut_is_an_error():
    one = shut_for(HORIZON_DAYS + 10)
    opening = at("2026-01-01 06:00") + timedelta(days=HORIZON_DAYS + 10)
    says = r"^The site marl doesn't work for 400 days {} \(Europe/London\)\. Look at .* under \[sites\.marl\]\.$"
    with pytest.raises(BadData, match=says.format("after 2025-12-31 14:00")):
        next_opening(one, at("2025-12-31 14:00"))
    with pytest.raises(BadData, match=says.format("after 2025-12-31 14:00")):
        add_working(one, at("2025-12-31 13:00"), 61)
    with pytest.raises(BadData, match=says.format(f"before {opening.astimezone(UTC):%Y-%m-%d}" " ..:..")):
        last_open_moment_before(one, opening)
    assert add_working(one, at("2025-12-31 13:00"), 60) == at("2025-12-31 14:00")


def test_a_site_whose_breaks_fill_its_shifts_never_works():
    one = site({"mon": ("09:00 to 10:00",)}, ("08:30 to 09:30", "09:30 to 10:30"))
    with pytest.raises(BadData, match="The site marl doesn't work for 400 days after"):
        next_opening(one, at("2026-06-12 09:00"))


def test_wrong_use_is_refused():
    with pytest.raises(ValueError, match="-1 minutes; expected none or more"):
        add_working(DAYS, at("2026-06-12 09:00"), -1)
    naive = datetime(2026, 6, 12, 9)
    for wrong in (lambda: add_working(DAYS, naive, 1), lambda: next_opening(DAYS, naive),
                  lambda: last_open_moment_before(DAYS, naive), lambda: working_minutes(DAYS, naive, naive)):
        with pytest.raises(ValueError, match="has no zone"):
            wrong()


def test_what_cures_does_so_by_the_clock_and_the_next_stage_waits_for_it():
    stages = [("seal", 60), ("fill", 30)]
    plain = stage_starts(DAYS, at("2026-06-10 08:00"), stages)
    waiting = stage_starts(DAYS, at("2026-06-10 08:00"), stages, {"seal": 45})
    assert waiting[0].end - plain[0].end == timedelta(minutes=45)
    assert waiting[1].start == waiting[0].end
    # overnight it cures while the site is shut: the morning finds it done
    evening = stage_starts(DAYS, last_open_moment_before(DAYS, at("2026-06-11 03:00")) - timedelta(hours=1), stages,
                           {"seal": 240})
    assert evening[1].start == next_opening(DAYS, evening[0].end)
    assert evening[1].start == next_opening(DAYS, at("2026-06-11 03:00"))
