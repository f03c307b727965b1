"""Working time over small random calendars, judged minute by minute, on and around days on which clocks change."""

from datetime import timedelta
from itertools import pairwise

from hypothesis import assume, given
from hypothesis import strategies as st

from kitbuilder.calendar.site import Days, Hours, Site
from kitbuilder.calendar.working import (
    add_working,
    last_open_moment_before,
    next_opening,
    stage_starts,
    working_intervals,
    working_minutes,
)
from tests.calendar import by_the_minute
from tests.outside import bank_holidays

DAY = 24 * 60
MINUTE = timedelta(minutes=1)
#: Half of all times fall in the hours in which clocks are changed, or a minute beside them.
CRITICAL = (0, 1, 59, 60, 61, 75, 90, 105, 119, 120, 121, 150, 180, DAY - 60, DAY - 1)
TIMES = st.sampled_from(CRITICAL) | st.integers(0, DAY - 1)
SHIFTS = st.tuples(TIMES, st.integers(1, DAY)).map(lambda drawn: Hours(drawn[0], drawn[0] + drawn[1]))
BREAKS = st.tuples(TIMES, st.integers(1, 90)).map(lambda drawn: Hours(drawn[0], drawn[0] + drawn[1]))


@st.composite
def weeks(draw, shifts=SHIFTS):
    """A site, the judge's clock around a change of it, and the worked minutes by that clock."""
    zone, change = draw(st.sampled_from(by_the_minute.CHANGES))
    first = change - timedelta(days=9)
    week = draw(st.lists(st.lists(shifts, max_size=2).map(tuple), min_size=7, max_size=7))
    closed = draw(st.lists(st.integers(0, 15).flatmap(lambda number: st.tuples(
        st.just(number), st.integers(number, number + 2))), max_size=2))
    site = Site(
        "marl", zone, tuple(week), tuple(draw(st.lists(BREAKS, max_size=3))),
        tuple(Days(first + timedelta(days=one), first + timedelta(days=other)) for one, other in closed))
    days = by_the_minute.days(first, 18)
    clock = by_the_minute.clock(zone, first - timedelta(days=2), days[-1] + timedelta(days=4))
    return site, clock, by_the_minute.worked(clock, site, days)


#: Minutes of the judge's clock that lie well inside the days it has marked: its days 2 to 19 of 0 to 23.
INSIDE = st.integers(5 * DAY, 17 * DAY)
#: The same, and soon before or after the change, which comes on day 11.
NEAR = st.integers(10 * DAY - 300, 12 * DAY + 300) | INSIDE


@given(weeks(), NEAR, NEAR)
def test_a_site_works_in_the_minutes_in_which_a_shift_and_no_break_is(drawn, one, other):
    site, clock, worked = drawn
    begin, end = sorted((one, other))
    intervals = working_intervals(site, clock.moment(begin), clock.moment(end))
    found = bytearray(clock.count)
    for interval in intervals:
        assert clock.moment(begin) <= interval.start < interval.end <= clock.moment(end)
        for number in range((interval.start - clock.start) // MINUTE, (interval.end - clock.start) // MINUTE):
            found[number] = 1
    assert found[begin:end] == worked[begin:end]
    assert sum(found) == sum(worked[begin:end]) == working_minutes(site, clock.moment(begin), clock.moment(end))
    assert all(one.end < other.start for one, other in pairwise(intervals))


@given(weeks(), NEAR, st.integers(0, 3000))
def test_work_is_done_when_so_many_worked_minutes_are_over(drawn, start, minutes):
    site, clock, worked = drawn
    left = [number for number in range(start, 19 * DAY) if worked[number]]
    assume(len(left) > minutes)
    done = left[minutes - 1] + 1 if minutes else left[0]
    assert add_working(site, clock.moment(start), minutes) == clock.moment(done)
    assert next_opening(site, clock.moment(start)) == clock.moment(left[0])


@given(weeks(), NEAR)
def test_the_last_open_moment_is_the_end_of_the_last_worked_minute(drawn, at):
    site, clock, worked = drawn
    before = [number for number in range(4 * DAY, at) if worked[number]]
    assume(before)
    assert last_open_moment_before(site, clock.moment(at)) == clock.moment(before[-1] + 1)


@given(weeks(), NEAR, st.lists(st.integers(0, 600), max_size=5))
def test_stages_take_the_worked_minutes_one_after_the_other(drawn, start, stages):
    site, clock, worked = drawn
    wanted, at = [], start
    for minutes in stages:
        while at < 19 * DAY and not worked[at]:
            at += 1
        begin, left = at, minutes
        while at < 19 * DAY and left:
            left -= worked[at]
            at += 1
        assume(at < 19 * DAY)
        wanted.append((str(len(wanted)), clock.moment(begin), clock.moment(at)))
    named = [(str(number), minutes) for number, minutes in enumerate(stages)]
    assert stage_starts(site, clock.moment(start), named) == wanted


@given(st.lists(st.lists(SHIFTS, max_size=2).map(tuple), min_size=7, max_size=7), st.integers(2 * DAY, 9 * DAY),
       st.integers(0, 8 * DAY), st.booleans())
def test_published_holidays_are_not_worked_unless_the_site_opens_on_them(week, start, length, opens):
    """Christmas 2026 to New Year 2027, in Scotland, whose weekend days are holidays beside their substitutes."""
    published = (*bank_holidays.SCOTLAND[2026], *bank_holidays.SCOTLAND[2027],
                 *bank_holidays.ON_A_WEEKEND["SCT"][2026], *bank_holidays.ON_A_WEEKEND["SCT"][2027])
    monday = bank_holidays.SCOTLAND[2026][-1]
    site = Site("marl", "Europe/London", tuple(week), open=(Days(monday, monday),) if opens else (),
                country="GB", subdivision="SCT")
    first = monday - timedelta(days=8)
    days = by_the_minute.days(first, 22)
    clock = by_the_minute.clock("Europe/London", first - timedelta(days=2), days[-1] + timedelta(days=3))
    worked = by_the_minute.worked(clock, site, days, published)
    begin = start + 2 * DAY
    assert working_minutes(site, clock.moment(begin), clock.moment(begin + length)) == sum(worked[begin:begin + length])
