"""A diary that is a CSV file.

    [diaries.office]
    plugin = "diary-file"
    file = "diary.csv"

Columns: id, start, site, job; recurrence, revision, visit, registration, state (enquiry, authorised,
cancelled), priority (normal, VOR), bay, technician; and one a fact of the catalogue, as told. `start` is the
time at the site, without a zone: 2026-03-11T07:30.
"""

from collections.abc import Sequence
from datetime import datetime

from kitbuilder import BadData, Context, Diary, DiaryEntry, DiaryKind, hookimpl, read_rows

_TEXTS = ("recurrence", "visit", "registration", "bay", "technician")
_OWN = ("id", "start", "site", "job", "revision", "state", "priority", "note", *_TEXTS)
_STATES = ("enquiry", "authorised", "cancelled")
_PRIORITIES = ("normal", "VOR")


class DiaryFile:
    """One diary file; it is read anew at each look."""

    def __init__(self, context: Context) -> None:
        settings = dict(context.settings)
        file = settings.pop("file", None)
        if not isinstance(file, str):
            raise ValueError('file = "…", the CSV file with the bookings')
        if settings:
            raise ValueError(f"only file, not {', '.join(settings)}")
        self._path = context.folder / file

    def entries(self) -> Sequence[DiaryEntry]:
        """All bookings. Raises BadData that names every row that can't be read."""
        found, faults = [], []
        for row in read_rows(self._path, ("id", "start", "site", "job")):
            try:
                found.append(_entry(row.cells))
            except ValueError as error:
                faults.append(f"line {row.line}: expected {error}")
        if faults:
            raise BadData(f"{self._path.name}: {'; '.join(faults)}.")
        return found


def _entry(cells: dict[str, str]) -> DiaryEntry:
    for name in ("id", "start", "site", "job"):
        if name not in cells:
            raise ValueError(f"something under {name}")
    try:
        start = datetime.fromisoformat(cells["start"])
        date_only = ":" not in cells["start"]  # a day alone would pass for midnight
    except ValueError:
        date_only = True
    if date_only:
        raise ValueError(f"a day and time under start, as 2026-03-11T07:30, not {cells['start']!r}")
    if start.tzinfo is not None:
        raise ValueError("the time at the site under start, without a zone")
    revision = cells.get("revision", "0")
    if not (revision.isascii() and revision.isdigit() and len(revision) <= 9):
        raise ValueError(f"a whole number under revision, not {revision!r}")
    state, priority = cells.get("state", "authorised"), cells.get("priority", "normal")
    if state not in _STATES or priority not in _PRIORITIES:
        raise ValueError(f"a state ({', '.join(_STATES)}) and a priority ({', '.join(_PRIORITIES)}), "
                         f"not {state!r} and {priority!r}")
    return DiaryEntry(
        id=cells["id"], start=start, site=cells["site"], job=cells["job"], revision=int(revision),
        state=state, priority=priority,  # type: ignore[arg-type]
        facts={name: cell for name, cell in cells.items() if name not in _OWN},
        **{name: cells.get(name, "") for name in _TEXTS})


def make(context: Context) -> Diary:
    """A diary file as a diary."""
    return DiaryFile(context)


@hookimpl
def diaries() -> list[DiaryKind]:
    """Registers the kind `diary-file`."""
    return [DiaryKind("diary-file", "a CSV file of bookings", make)]
