"""Working time of a site, in real minutes: shifts less breaks, on days that are open.

A shift belongs to the day on which it begins, and runs from its start to its end by the wall clock: over a clock
change 22:00 to 06:00 has seven hours, or nine. A break begins by the wall clock and keeps its length: nobody's
half-hour is lost, or grows to an hour and a half, because clocks change in it. All moments are in UTC.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from types import MappingProxyType
from typing import Final, NamedTuple

import msgspec

from kitbuilder.calendar.site import Hours, Site, is_open
from kitbuilder.calendar.wall import in_utc, to_utc, to_wall
from kitbuilder.errors import BadData

#: Days within which a site must open; one that doesn't is described wrongly, or shut for good.
HORIZON_DAYS: Final = 400

_DAY: Final = timedelta(days=1)
_MINUTE: Final = timedelta(minutes=1)
#: How far one look ahead or back goes: over a weekend, and not much farther.
_STRIDE: Final = timedelta(days=4)


class Interval(msgspec.Struct, frozen=True, order=True):
    """A stretch of time, `end` not included; both in UTC."""

    start: datetime
    end: datetime


class StageTime(NamedTuple):
    """When the work of a stage starts and is done, in UTC."""

    name: str
    start: datetime
    end: datetime


def shifts_on(site: Site, day: date) -> tuple[Interval, ...]:
    """The shifts that begin on a day, in order, with their breaks in them; empty on a day that isn't open.

    One that lies wholly in the hour that clocks skip is left out. Raises BadData as `why_closed` does.
    """
    if not is_open(site, day):
        return ()
    shifts = sorted(_on_clock(site, day, hours) for hours in site.shifts[day.weekday()])
    return tuple(one for one in shifts if one.start < one.end)


def working_intervals(site: Site, start: datetime, end: datetime) -> tuple[Interval, ...]:
    """When the site works between two moments, in order; what touches is one. Raises BadData as `why_closed` does."""
    start, end = in_utc(start), in_utc(end)
    if start >= end:
        return ()
    # a shift of the day before may run into the first day; and clocks that go back at midnight show a day's last hour
    # again when the next has begun
    day, last = to_wall(start, site.zone).date() - _DAY, to_wall(end, site.zone).date() + _DAY
    pieces = []
    while day <= last:
        pieces += [Interval(max(one.start, start), min(one.end, end)) for one in _worked(site, day)]
        day += _DAY
    return _merged(one for one in pieces if one.start < one.end)


def working_minutes(site: Site, start: datetime, end: datetime) -> int:
    """Real working minutes between two moments, rounded down; 0 if the second isn't later."""
    total = sum((one.end - one.start for one in working_intervals(site, start, end)), timedelta())
    return total // _MINUTE


def next_opening(site: Site, at: datetime) -> datetime:
    """The first moment from `at` on at which the site works: `at` itself, if it works then.

    Raises BadData if it doesn't open within HORIZON_DAYS.
    """
    return next(_onward(site, in_utc(at))).start


def last_open_moment_before(site: Site, at: datetime) -> datetime:
    """The end of the last work before `at`: `at` itself if work goes on until then, else the end of a shift, or the
    start of a break. What must be done in working time and before `at` must be done by it.

    Raises BadData if the site wasn't open within HORIZON_DAYS.
    """
    at = end = in_utc(at)
    while at - end < timedelta(days=HORIZON_DAYS):
        found = working_intervals(site, end - _STRIDE, end)
        if found:
            return found[-1].end
        end -= _STRIDE
    raise _shut(site, "before", at)


def add_working(site: Site, start: datetime, minutes: int) -> datetime:
    """When work is done that starts at `start`, or at the next opening if that is later, and takes so many working
    minutes: at the end of a shift, if they end with it. Work of no minutes is done when it starts.

    Raises BadData if the site stays shut for HORIZON_DAYS, ValueError for fewer minutes than none.
    """
    if minutes < 0:
        raise ValueError(f"{minutes} minutes; expected none or more")
    left = minutes * _MINUTE
    pieces = _onward(site, in_utc(start))
    while True:
        piece = next(pieces)
        if left <= piece.end - piece.start:
            return piece.start + left
        left -= piece.end - piece.start


def stage_starts(site: Site, start: datetime, stages: Iterable[tuple[str, int]],
                 waits: Mapping[str, int] = MappingProxyType({})) -> list[StageTime]:
    """When stages, each a name and its working minutes, start and are done if each follows the one before.

    A stage starts when the site next works: one that follows a stage done at the end of a shift, with the next shift.
    `waits`: for so many minutes by the clock, the site open or not, nothing is done after a stage (sealant cures
    overnight too); it counts as done after them. Raises as `add_working` does.
    """
    times = []
    for name, minutes in stages:
        begin = next_opening(site, start)
        start = add_working(site, begin, minutes) + waits.get(name, 0) * _MINUTE
        times.append(StageTime(name, begin, start))
    return times


# Cached because the bookings of a night ask for the same few days thousands of times.
@lru_cache(maxsize=8192)
def _worked(site: Site, day: date) -> tuple[Interval, ...]:
    """The shifts that begin on a day, less all breaks; they may overlap."""
    shifts = shifts_on(site, day)
    if not shifts:
        return ()
    breaks = []
    for number in (-1, 0, 1):  # a break may begin before midnight, a shift end after the next
        for hours in site.breaks:
            start = _moment(site, day + number * _DAY, hours.start)
            breaks.append(Interval(start, start + (hours.end - hours.start) * _MINUTE))
    breaks.sort()
    return tuple(piece for shift in shifts for piece in _less(shift, breaks))


def _less(shift: Interval, breaks: Iterable[Interval]) -> Iterator[Interval]:
    at = shift.start
    for one in breaks:
        if one.start >= shift.end:
            break
        if one.start > at:
            yield Interval(at, one.start)
        at = max(at, one.end)
    if at < shift.end:
        yield Interval(at, shift.end)


def _on_clock(site: Site, day: date, hours: Hours) -> Interval:
    return Interval(_moment(site, day, hours.start), _moment(site, day, hours.end))


def _moment(site: Site, day: date, minutes: int) -> datetime:
    return to_utc(datetime.combine(day, time()) + minutes * _MINUTE, site.zone)


def _merged(pieces: Iterable[Interval]) -> tuple[Interval, ...]:
    found: list[Interval] = []
    for one in sorted(pieces):
        if found and one.start <= found[-1].end:
            found[-1] = Interval(found[-1].start, max(found[-1].end, one.end))
        else:
            found.append(one)
    return tuple(found)


def _onward(site: Site, at: datetime) -> Iterator[Interval]:
    """Working intervals from a moment on, without end; one may be in two pieces. Raises BadData after HORIZON_DAYS
    without one."""
    begin = worked = at
    while begin - worked < timedelta(days=HORIZON_DAYS):
        for one in working_intervals(site, begin, begin + _STRIDE):
            worked = one.end
            yield one
        begin += _STRIDE
    raise _shut(site, "after", worked)


def _shut(site: Site, side: str, at: datetime) -> BadData:
    wall = to_wall(at, site.zone).isoformat(" ", "minutes")
    return BadData(
        f"The site {site.name} doesn't work for {HORIZON_DAYS} days {side} {wall} ({site.zone}). "
        f"Look at the shifts, breaks and closing days under [sites.{site.name}].")
