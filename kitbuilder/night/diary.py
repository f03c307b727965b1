"""Reads the diaries into the store: what is new, what has changed, what has vanished."""

from collections.abc import Collection, Sequence
from datetime import datetime

import msgspec
from sqlmodel import Session

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_utc
from kitbuilder.errors import SourceFailed
from kitbuilder.hooks import Context
from kitbuilder.model.booking import Booking, DiaryEntry
from kitbuilder.plugins import Plugins, fenced, made, printing_aside
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.show.paper import counted
from kitbuilder.store import bookings

#: Where this part of a diary's coming bookings, or more, vanish at once, it is the file that is doubted.
DOUBTED = 5
#: Years in which a booking may start: what lies outside is a slip of the pen, and no calendar reaches there.
YEARS = range(2000, 2200)


class Read(msgspec.Struct, frozen=True):
    """What a diary told, or why it failed."""

    diary: str
    entries: tuple[DiaryEntry, ...]
    error: str = ""


class Taken(msgspec.Struct, frozen=True):
    """What came of the diaries: what a person has to look at, and which diaries failed, in words; the numbers of the
    bookings that changed, and of those that are another site's now."""

    attention: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()
    changed: tuple[int, ...] = ()
    elsewhere: tuple[int, ...] = ()


def read_diaries(settings: Settings, plugins: Plugins) -> list[Read]:
    """Ask every diary of the settings; one that raises, hangs or answers rubbish is named, and the rest goes on."""
    found = []
    with printing_aside():
        for one in settings.diaries:
            try:
                found.append(Read(one.name, _ask(one, settings, plugins)))
            except SourceFailed as failed:
                found.append(Read(one.name, (), str(failed)))
    return found


def _ask(one: PluginSettings, settings: Settings, plugins: Plugins) -> tuple[DiaryEntry, ...]:
    kind, _ = plugins.diary(one.plugin)
    context = Context(one.name, one.keys, settings.folder, "", one.deadline_s)
    answer = fenced(lambda: list(made(kind.make, context, "diaries").entries()), one.deadline_s)
    try:
        entries = msgspec.convert(msgspec.to_builtins(answer), tuple[DiaryEntry, ...])
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered rubbish: {error}") from None
    if any(not entry.id for entry in entries):
        raise SourceFailed("it has bookings without an id; without ids nothing can be kept apart")
    seen: set[tuple[str, str]] = set()
    for entry in entries:
        if (entry.id, entry.recurrence) in seen:
            again = f" and recurrence {entry.recurrence!r}" if entry.recurrence else ""
            raise SourceFailed(f"it has the id {entry.id!r}{again} twice")
        seen.add((entry.id, entry.recurrence))
        if entry.start.tzinfo is not None or entry.start.year not in YEARS:
            raise SourceFailed(f"the booking {entry.id!r} starts at {entry.start.isoformat()}; expected a wall time "
                               f"without a zone, from {YEARS[0]} to {YEARS[-1]}")
    return entries


def put_all(session: Session, reads: Sequence[Read], site: Site, sites: Collection[str], known: Sequence[Booking],
            now: datetime) -> Taken:
    """Bring a site's bookings up to date; `known` are those that it has, `sites` the names of all sites."""
    attention: list[str] = []
    failed: list[str] = []
    changed: list[int] = []
    elsewhere: list[int] = []
    for read in reads:
        if read.error:
            failed.append(f"The diary {read.diary} failed: {read.error}. Its bookings are as they were.")
            continue
        mine = {(one.id, one.recurrence): one for one in known if one.diary == read.diary}
        for entry in read.entries:
            booking = mine.get((entry.id, entry.recurrence))
            if entry.site != site.name:
                # that site's run takes it over; an unknown one leaves the booking where it is
                elsewhere += [booking.number] if booking is not None and entry.site in sites else []
                continue
            number, new = bookings.put_in(
                session, read.diary, entry, to_utc(entry.start, site.zone), site.zone, now)
            if new:
                changed.append(number)
            elif booking is not None:
                attention += _changed_here(booking, entry)
        attention += _unknown_sites(read, sites)
        ids = {(entry.id, entry.recurrence) for entry in read.entries}
        there = [one for one in mine.values() if one.start >= now and one.state != "cancelled" and not one.missing]
        gone = [one for one in there if (one.id, one.recurrence) not in ids]
        if doubted(len(gone), len(there)):
            attention.append(
                f"{len(gone)} of {len(there)} coming bookings vanished from the diary {read.diary} at once. It is "
                "doubted, and they are kept; look at it.")
        else:
            bookings.mark_missing_in(session, [one.number for one in gone], now)
    return Taken(tuple(attention), tuple(failed), tuple(changed), tuple(elsewhere))


def doubted(gone: int, there: int) -> bool:
    """Whether so many of a diary's coming bookings vanished at once that it is rather the file that is wrong: a fifth.
    Of fewer than five, one is more than a fifth and still nothing strange; all of several are."""
    return gone * DOUBTED >= there if there >= DOUBTED and gone else gone == there > 1


def _changed_here(booking: Booking, entry: DiaryEntry) -> list[str]:
    """What was changed at the desk and the diary doesn't know yet."""
    if entry.revision < booking.revision:
        return []  # an old one; what it says counts no more
    pairs = [(booking.state, entry.state), (booking.start_wall, entry.start.isoformat())]
    return [
        f"Booking {booking.number} is {here} by the desk, but {there} in the diary {booking.diary}; put it right there."
        for here, there in (tuple(_spaced(one) for one in pair) for pair in pairs) if here != there]


def _spaced(text: str) -> str:
    return text.replace("T", " ")[:16]


def _unknown_sites(read: Read, sites: Collection[str]) -> list[str]:
    unknown: dict[str, int] = {}
    for entry in read.entries:
        if entry.site not in sites:
            unknown[entry.site] = unknown.get(entry.site, 0) + 1
    return [
        f"The diary {read.diary} has {counted(count, 'booking')} for {name!r}, which is no site of the settings."
        for name, count in sorted(unknown.items())]
