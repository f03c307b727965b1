"""A site as its settings describe it, and which days it opens."""

from datetime import date
from typing import Final

import msgspec

from kitbuilder.calendar.public_holidays import public_holidays

WEEKDAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
#: Minutes that a wall clock shows in a day, whether or not a day has them.
DAY: Final = 24 * 60


class Hours(msgspec.Struct, frozen=True, order=True):
    """A shift or a break: minutes after midnight, by the wall clock; `end` is beyond DAY where it crosses midnight."""

    start: int
    end: int


class Days(msgspec.Struct, frozen=True, order=True):
    """Days from `first` to `last`, both included."""

    first: date
    last: date

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last


class Site(msgspec.Struct, frozen=True):
    """A workshop site.

    `shifts` has those of Monday first, seven in all. A `break` is taken every day at its time by the wall clock, in
    whichever shift is at work then. `closed`: closing days. `country` and `subdivision`: whose public holidays it
    keeps, empty where none; `open`: days that it works although they are public holidays.
    """

    name: str
    zone: str
    shifts: tuple[tuple[Hours, ...], ...]
    breaks: tuple[Hours, ...] = ()
    closed: tuple[Days, ...] = ()
    open: tuple[Days, ...] = ()
    country: str = ""
    subdivision: str = ""


def is_open(site: Site, day: date) -> bool:
    """Whether a shift begins on a day. A night shift may still run into a day that isn't open."""
    return why_closed(site, day) is None


def why_closed(site: Site, day: date) -> str | None:
    """Why no shift begins on a day, in a few words; None if one does.

    Raises BadData for a year of which the site's public holidays aren't known.
    """
    if not site.shifts[day.weekday()]:
        return f"no shift on a {WEEKDAYS[day.weekday()].capitalize()}"
    if any(day in days for days in site.closed):
        return "closing day"
    if site.country and not any(day in days for days in site.open):
        name = public_holidays(site.country, site.subdivision, day.year).get(day)
        if name is not None:
            return f"public holiday: {name}"
    return None
