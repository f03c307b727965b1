"""A plain judge of working time: it looks at the clock in every single minute, and marks the worked ones.

It shares no code with kitbuilder.calendar: a wall time means the first minute in which the clock shows it or a later
time, which is what "times that don't exist move later, double ones take the first" comes to.
"""

from bisect import bisect_left
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from itertools import accumulate
from zoneinfo import ZoneInfo

MINUTE = timedelta(minutes=1)


class Clock:
    """What the clock of a zone shows in each minute of UTC from the start of one day to the end of another."""

    def __init__(self, zone, first, last):
        self.start = datetime.combine(first, time(), UTC)
        self.count = ((last - first).days + 1) * 24 * 60
        shown = [(self.start + number * MINUTE).astimezone(ZoneInfo(zone)) for number in range(self.count)]
        self.walls = [one.replace(tzinfo=None) for one in shown]
        self._latest = list(accumulate(self.walls, max))

    def number(self, wall):
        """The number of the first minute in which the clock shows a wall time or a later one."""
        found = bisect_left(self._latest, wall)
        assert 0 < found < self.count, "the judge's days are too few for what is asked"
        return found

    def moment(self, number):
        return self.start + number * MINUTE


@cache
def clock(zone, first, last):
    return Clock(zone, first, last)


def worked(clock, site, days, public=()):
    """One byte for each minute of a clock: 1 where the site works. `public`: the days of its public holidays."""
    minutes = bytearray(clock.count)
    for day in days:
        shut = any(one.first <= day <= one.last for one in site.closed)
        kept = day in public and not any(one.first <= day <= one.last for one in site.open)
        if not shut and not kept:
            for shift in site.shifts[day.weekday()]:
                _mark(minutes, clock.number(_wall(day, shift.start)), clock.number(_wall(day, shift.end)), 1)
    for day in days:
        for one in site.breaks:
            begin = clock.number(_wall(day, one.start))
            _mark(minutes, begin, begin + one.end - one.start, 0)
    return minutes


def _wall(day, minutes):
    return datetime.combine(day, time()) + minutes * MINUTE


def _mark(minutes, begin, end, value):
    for number in range(begin, end):
        minutes[number] = value


def days(first, count):
    return [first + timedelta(days=number) for number in range(count)]


#: A zone, and a day on which something happens to its clock: as Python's zoneinfo has it, which both sides use.
CHANGES = (
    ("Europe/London", date(2026, 3, 29)),         # 01:00 to 02:00
    ("Europe/London", date(2026, 10, 25)),        # 02:00 back to 01:00
    ("Australia/Lord_Howe", date(2026, 10, 4)),   # half an hour on
    ("Australia/Lord_Howe", date(2026, 4, 5)),    # half an hour back
    ("Asia/Beirut", date(2026, 3, 29)),           # a day that begins at 01:00
    ("America/St_Johns", date(2010, 11, 7)),      # 00:01 back to 23:01 of the day before
    ("Pacific/Apia", date(2011, 12, 30)),         # a day left out
    ("Asia/Tokyo", date(2026, 6, 17)),            # nothing: Japan keeps one time all year
)
