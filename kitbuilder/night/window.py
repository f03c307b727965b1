"""Which bookings a run looks at."""

from datetime import date, datetime, time, timedelta

from kitbuilder.calendar.site import Site, is_open
from kitbuilder.calendar.wall import to_utc, to_wall

#: Working days, from the run's day on, whose bookings are sourced together: before a weekend Monday is one of them.
WINDOW_DAYS = 3
#: Where a site is shut for long, so many days at most.
MOST_DAYS = 14
#: A job may have begun so many days before and still wait for a part of a later stage.
DAYS_BACK = 7


def window_of(site: Site, day: date) -> tuple[datetime, datetime]:
    """The window of a run, in UTC: from the day's first moment at the site to the end of its third working day."""
    found, last = 0, day
    while found < WINDOW_DAYS and (last - day).days < MOST_DAYS:
        found += is_open(site, last)
        last += timedelta(days=1)
    return _midnight(day, site.zone), _midnight(last, site.zone)


def sourced_from(site: Site, day: date, now: datetime) -> datetime:
    """From when on bookings are sourced along with the window's: those of today, where a run is for a later day, so
    that it takes back nothing that an earlier one proposed for them."""
    return _midnight(min(day, to_wall(now, site.zone).date()), site.zone)


def _midnight(day: date, zone: str) -> datetime:
    return to_utc(datetime.combine(day, time()), zone)
