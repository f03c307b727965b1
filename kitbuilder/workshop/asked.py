"""What a comparison is asked for: when and where the work is to start, and what the stock sources answered."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import NamedTuple

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import in_utc, to_wall, zone_info
from kitbuilder.stock.quoting import Answer


class When(NamedTuple):
    """When the work is to start, and where: the site's working time counts."""

    site: Site
    start: datetime

    @property
    def day(self) -> date:
        """The day on which it starts, by the site's clock."""
        return to_wall(self.start, self.site.zone).date()


class Asked(NamedTuple):
    """What the stock sources answered, the moment that counted as now, and whether the costs are wanted."""

    answers: Sequence[Answer]
    now: datetime
    cost: bool = False


def at_site(moment: datetime, when: When) -> str:
    """A moment as the site writes it: ISO 8601 with the site's offset."""
    return moment.astimezone(zone_info(when.site.zone)).isoformat(timespec="minutes")


def day_of(when: When | None, now: datetime) -> date:
    """The day by which a new number takes an old one's place: that of the start, else today's."""
    return when.day if when is not None else in_utc(now).date()
