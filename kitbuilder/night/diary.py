"""Reads the diaries into the store: what is new, what has changed, what has vanished."""

from collections.abc import Sequence
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
from kitbuilder.store import bookings
from kitbuilder.store.database import Store

#: Where more than this part of a diary's coming bookings vanish at once, it is the file that is doubted.
DOUBTED = 5


class Read(msgspec.Struct, frozen=True):
    """What a diary told, or why it failed."""

    diary: str
    entries: tuple[DiaryEntry, ...]
    error: str = ""


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
            raise SourceFailed(f"it has the id {entry.id!r} twice")
        seen.add((entry.id, entry.recurrence))
    return entries


def put_all(session: Session, store: Store, reads: Sequence[Read], site: Site, known: Sequence[Booking],
            now: datetime) -> list[str]:
    """Bring a site's bookings up to date; what a person has to look at comes back in words."""
    told: list[str] = []
    for read in reads:
        if read.error:
            told.append(f"The diary {read.diary} failed ({read.error}); its bookings are as they were.")
            continue
        here = [entry for entry in read.entries if entry.site == site.name]
        for entry in here:
            bookings.put_in(session, read.diary, entry, to_utc(entry.start, site.zone), site.zone, now)
        ids = {(entry.id, entry.recurrence) for entry in here}
        coming = [one for one in known if one.diary == read.diary and one.start >= now and one.state != "cancelled"]
        gone = [one for one in coming if (one.id, one.recurrence) not in ids and not one.missing]
        if gone and len(gone) * DOUBTED >= len(coming) and len(coming) >= DOUBTED:
            told.append(f"{len(gone)} of {len(coming)} coming bookings vanished from the diary {read.diary} at once. "
                        "The file is doubted, and they are kept; look at it.")
        else:
            bookings.mark_missing_in(session, [one.number for one in gone], now)
    return told
