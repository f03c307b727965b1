"""Wall time and UTC: what a site's clock shows, and the moment that it means.

Where clocks go forward, some wall times don't exist: they mean the first moment after them that does. Where
clocks go back, some come twice: they mean the first of the two.
"""

from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import msgspec

from kitbuilder.errors import BadData, offered


class PlannedTime(msgspec.Struct, frozen=True):
    """A time as it is stored: `wall` as somebody wrote it, without a zone; the name of its `zone`; `utc`, the moment.

    All three are kept because zones change by law: `wall` is what was agreed, `utc` what it meant when it was stored.
    """

    wall: datetime
    zone: str
    utc: datetime


def planned_time(wall: datetime, zone: str) -> PlannedTime:
    """A wall time with its zone and the moment that it means. Raises as `to_utc` does."""
    return PlannedTime(wall, zone, to_utc(wall, zone))


def to_utc(wall: datetime, zone: str) -> datetime:
    """The moment, in UTC, that a zone's clock means by a wall time.

    One that doesn't exist means the first existing moment after it, one that exists twice the first.
    Raises BadData for a zone that isn't known, ValueError for a time that has a zone of its own.
    """
    if wall.tzinfo is not None:
        raise ValueError(f"{wall.isoformat()} has a zone of its own; expected a wall time without one")
    there = zone_info(zone)
    moment = wall.replace(tzinfo=there, fold=0).astimezone(UTC)
    if moment.astimezone(there).replace(tzinfo=None) == wall:
        return moment
    return _change_within(wall.replace(tzinfo=there, fold=1).astimezone(UTC), moment, there)


def to_wall(moment: datetime, zone: str) -> datetime:
    """What a zone's clock shows at a moment, without a zone.

    Raises BadData for a zone that isn't known, ValueError for a moment without a zone.
    """
    return in_utc(moment).astimezone(zone_info(zone)).replace(tzinfo=None, fold=0)


def in_utc(moment: datetime) -> datetime:
    """The same moment in UTC, where adding minutes adds real ones. Raises ValueError for one without a zone."""
    if moment.tzinfo is None:
        raise ValueError(f"{moment.isoformat()} has no zone; expected a moment with one")
    return moment.astimezone(UTC)


def zone_info(name: str) -> ZoneInfo:
    """The zone of a name such as Europe/London. Raises BadData, with the nearest name, for one that isn't known."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # OSError: "Europe" is a folder of zones
        raise BadData(f"There is no time zone {name!r}. {offered(name, zone_names())}") from None


@cache
def zone_names() -> tuple[str, ...]:
    """The names of all zones, in order: those of the package tzdata, so that they are the same on every machine.

    A machine's own folder may also hold `localtime`, which means another zone on the next one, and `right/…`, which
    counts leap seconds.
    """
    from importlib.resources import files

    return tuple(sorted(files("tzdata").joinpath("zones").read_text("utf-8").split()))


def _change_within(before: datetime, after: datetime, there: ZoneInfo) -> datetime:
    """The moment at which the clock is changed, found by halving: after `before`, at the latest at `after`."""
    low, high = before.replace(microsecond=0), after.replace(microsecond=0)  # clocks change at whole seconds
    old = low.astimezone(there).utcoffset()
    while high - low > timedelta(seconds=1):
        middle = low + timedelta(seconds=int((high - low).total_seconds()) // 2)
        if middle.astimezone(there).utcoffset() == old:
            low = middle
        else:
            high = middle
    return high
