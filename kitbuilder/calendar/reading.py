"""Reads the tables [sites.NAME] of the settings; all their faults are told together.

    [sites.marl]
    zone = "Europe/London"
    holidays = "GB-ENG"                  # whose public holidays; without it none are kept
    closed = ["2026-12-24", "2026-12-29 to 2026-12-31"]
    open = ["2026-05-04"]                # worked although it is a public holiday

    [sites.marl.shifts]
    monday = ["06:00 to 14:00", "14:00 to 22:00"]
    friday = ["06:00 to 14:00", "22:00 to 06:00"]      # a shift belongs to the day on which it begins
    breaks = ["09:30 to 09:45", "17:00 to 17:30"]      # every day, in whichever shift is at work then

What these come to is told in `site` and `working`.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final, TypeVar

from kitbuilder.calendar.public_holidays import read_region
from kitbuilder.calendar.site import DAY, WEEKDAYS, Days, Hours, Site
from kitbuilder.calendar.wall import zone_names
from kitbuilder.errors import BadData, Fault, nearest, one_of

_KEYS: Final = ("zone", "holidays", "closed", "open", "shifts")
_NEEDED: Final = {
    "zone": 'the name of a time zone, as "Europe/London"', "shifts": "a table with the shifts of each weekday"}
_HOURS: Final = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9]) to (?:([01][0-9]|2[0-3]):([0-5][0-9])|24:00)")
_DAYS: Final = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})(?: to ([0-9]{4}-[0-9]{2}-[0-9]{2}))?")
_EXAMPLE: Final = '"06:00 to 14:00"'

_T = TypeVar("_T")
_Shifts = tuple[tuple[Hours, ...], ...]


def read_sites(file: str, tables: object) -> dict[str, Site]:
    """The sites by their names, from what a settings file has under `sites`; `file` is its name for messages.

    Raises BadData, whose text names each fault with its key, what was read, and what was expected.
    """
    faults = _Faults(file)
    sites = {}
    for name, table in faults.table("sites", tables, "tables [sites.NAME]").items():
        where = f"sites.{name}"
        if not name or name != name.strip():
            faults.add(where, name, "a name that neither begins nor ends with a space")
        if isinstance(table, Mapping):
            sites[name] = _site(name, table, where, faults)
        else:
            faults.add(where, table, f"a table [{where}]")
    faults.raise_if_any()
    return sites


def _site(name: str, table: Mapping[str, Any], where: str, faults: "_Faults") -> Site:
    meant: set[str | None] = set()  # a key that is only mistyped isn't also missing
    for key in table:
        if key == "breaks" or key in WEEKDAYS:
            faults.add(f"{where}.{key}", "", f"it under [{where}.shifts]")
            meant.add("shifts")
        elif key not in _KEYS:
            faults.add(f"{where}.{key}", key, f"a key: {one_of(key, _KEYS)}")
            meant.add(nearest(key, _KEYS))
    for key, expected in _NEEDED.items():
        if key not in table and key not in meant:
            faults.add(f"{where}.{key}", None, expected)
    zone = _zone(table, where, faults)
    country, subdivision = _region(table, where, faults)
    closed = faults.each(f"{where}.closed", table.get("closed", []), "days", _days)
    opened = faults.each(f"{where}.open", table.get("open", []), "days", _days)
    shifts, breaks, whole = _shifts(table.get("shifts"), f"{where}.shifts", faults)
    for days in opened:
        if whole and not any(shifts[day.weekday()] for day in _each_weekday(days)):
            faults.add(f"{where}.open", _written(days), "a day whose weekday has a shift")
        if any(days.first <= other.last and other.first <= days.last for other in closed):
            faults.add(f"{where}.open", _written(days), "no day that is also under 'closed'")
    return Site(name, zone, shifts, breaks, closed, opened, country, subdivision)


def _zone(table: Mapping[str, Any], where: str, faults: "_Faults") -> str:
    zone = table.get("zone", "")
    if not isinstance(zone, str):
        faults.add(f"{where}.zone", zone, _NEEDED["zone"])
        return ""
    if "zone" in table and zone not in zone_names():
        faults.add(f"{where}.zone", zone, one_of(zone, zone_names()))
    return zone


def _region(table: Mapping[str, Any], where: str, faults: "_Faults") -> tuple[str, str]:
    text = table.get("holidays")
    if text is None:
        return "", ""
    if not isinstance(text, str):
        faults.add(f"{where}.holidays", text, 'a country and its part, such as "GB-ENG"')
        return "", ""
    try:
        return read_region(text)
    except ValueError as error:
        faults.add(f"{where}.holidays", text, str(error))
        return "", ""


def _shifts(value: object, where: str, faults: "_Faults") -> tuple[_Shifts, tuple[Hours, ...], bool]:
    """Shifts, breaks, and whether all that is written of them could be read."""
    if value is None:
        return ((),) * 7, (), False
    known, before = (*WEEKDAYS, "breaks"), faults.count
    table = faults.table(where, value, _NEEDED["shifts"])
    for key in table:
        if key not in known:
            faults.add(f"{where}.{key}", key, f"a weekday, or breaks: {one_of(key, known)}")
    shifts = tuple(faults.each(f"{where}.{day}", table.get(day, []), "shifts", _hours) for day in WEEKDAYS)
    breaks = faults.each(f"{where}.breaks", table.get("breaks", []), "breaks", _hours)
    if faults.count > before:
        return shifts, breaks, False  # a shift that couldn't be read may be the one that is missing
    if not any(shifts):
        faults.add(where, None, f"a shift on at least one weekday, as monday = [{_EXAMPLE}]")
        return shifts, breaks, False
    for one in breaks:
        if not any(_meet(one, shift) for day in shifts for shift in day):
            faults.add(f"{where}.breaks", _clock(one), "a time within a shift")
    return shifts, breaks, True


def _hours(value: object) -> Hours:
    match = _HOURS.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError(f"two times, as {_EXAMPLE}")
    start = int(match[1]) * 60 + int(match[2])
    end = int(match[3]) * 60 + int(match[4]) if match[3] else DAY
    if start == end:
        raise ValueError('an end other than the start; a whole day is "00:00 to 24:00"')
    return Hours(start, end if end > start else end + DAY)


def _days(value: object) -> Days:
    if isinstance(value, date) and not isinstance(value, datetime):
        return Days(value, value)  # TOML has dates of its own: written without quotes
    match = _DAYS.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError('a day, as "2026-12-24", or days, as "2026-12-27 to 2026-12-31"')
    try:
        first, last = date.fromisoformat(match[1]), date.fromisoformat(match[2] or match[1])
    except ValueError:
        raise ValueError("a day that exists") from None
    if last < first:
        raise ValueError("the earlier day first")
    return Days(first, last)


def _meet(one: Hours, shift: Hours) -> bool:
    """Whether a break falls in a shift, on the shift's day or on either side of it."""
    return any(max(one.start + away, shift.start) < min(one.end + away, shift.end) for away in (-DAY, 0, DAY))


def _each_weekday(days: Days) -> list[date]:
    """A day of each weekday that occurs among some days."""
    count = min((days.last - days.first).days, 6) + 1
    return [days.first + timedelta(days=number) for number in range(count)]


def _written(days: Days) -> str:
    return f"{days.first}" if days.first == days.last else f"{days.first} to {days.last}"


def _clock(hours: Hours) -> str:
    end = hours.end - DAY if hours.end > DAY else hours.end
    return f"{hours.start // 60:02}:{hours.start % 60:02} to {end // 60:02}:{end % 60:02}"


def _shown(value: object) -> str:
    """A value much as a TOML file has it."""
    if isinstance(value, bool):
        return str(value).lower()
    return "[" + ", ".join(map(_shown, value)) + "]" if isinstance(value, list) else str(value)


class _Faults:
    """Collects what is wrong, in the order of the file."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._found: list[Fault] = []

    @property
    def count(self) -> int:
        return len(self._found)

    def add(self, key: str, read: object, expected: str) -> None:
        """Note a fault at a key; `read` is None where nothing was there."""
        self._found.append(Fault(self._file, 0, key, "" if read is None else _shown(read), expected))

    def table(self, key: str, value: object, expected: str) -> Mapping[str, Any]:
        """The value if it is a table; else a fault, and an empty one."""
        if isinstance(value, Mapping):
            return value
        self.add(key, value, expected)
        return {}

    def each(self, key: str, value: object, what: str, read: Callable[[object], _T]) -> tuple[_T, ...]:
        """Each entry of a list as `read` reads it; what it refuses with ValueError is a fault."""
        if not isinstance(value, Sequence) or isinstance(value, str):
            self.add(key, value, f"a list of {what}, in square brackets")
            return ()
        found = []
        for entry in value:
            try:
                found.append(read(entry))
            except ValueError as error:
                self.add(key, entry, str(error))
        return tuple(found)

    def raise_if_any(self) -> None:
        """Raises BadData with all faults."""
        if len(self._found) == 1:
            told = str(self._found[0])
            raise BadData(told if told.endswith("?") else told + ".")
        if self._found:
            lines = "\n".join(f"  {fault}" for fault in self._found)
            raise BadData(f"{self._file} has {len(self._found)} faults in its sites.\n{lines}")
