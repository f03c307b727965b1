"""How numbers and days are written elsewhere, and how to find that out without guessing."""

import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from typing import Final, TypeVar

import msgspec

#: How days may be written. D and M stand for one or two digits where a sign parts them.
DAY_FORMATS: Final = ("YYYY-MM-DD", "DD.MM.YYYY", "DD/MM/YYYY", "MM/DD/YYYY", "DD-MM-YYYY", "MM-DD-YYYY", "YYYY/MM/DD",
                      "YYYY.MM.DD", "YYYYMMDD", "DDMMYYYY")
#: Where a spreadsheet's bare day numbers begin (ECMA-376, part 1, 18.17.4.1: the 1900 and the 1904 date systems).
SERIALS: Final = ("1900", "1904")

_PARTS: Final = {"YYYY": r"(?P<y>[0-9]{4})", "MM": r"(?P<m>[0-9]{1,2})", "DD": r"(?P<d>[0-9]{1,2})"}
_PATTERNS: Final = {
    one: re.compile("".join(
        _PARTS.get(part, re.escape(part)) for part in re.findall(r"YYYY|MM|DD|.", one)
    ).replace("{1,2}", "{2}" if one.isalpha() else "{1,2}")) for one in DAY_FORMATS}


class NumberFormat(msgspec.Struct, frozen=True):
    """The sign before the decimals, and the one between thousands ("": none)."""

    decimal: str = "."
    thousands: str = ""


PLAIN: Final = NumberFormat()
NUMBER_FORMATS: Final = (
    PLAIN, NumberFormat(","), NumberFormat(".", ","), NumberFormat(",", "."), NumberFormat(",", " "),
    NumberFormat(".", " "), NumberFormat(",", "\xa0"), NumberFormat(",", "\u202f"), NumberFormat(".", "'"),
    NumberFormat(",", "'"), NumberFormat(".", "\u2019"))


def read_number(text: str, written: NumberFormat) -> str | None:
    """A number as the catalogue writes it (`1234.5`), from one written in a format; None if it isn't in it.

    Thousands are parted throughout or not at all.
    """
    mark = re.escape(written.decimal)
    grouped = rf"[0-9]{{1,3}}(?:{re.escape(written.thousands)}[0-9]{{3}})+" if written.thousands else r"(?!)"
    found = re.fullmatch(rf"(-?)({grouped}|[0-9]+)(?:{mark}([0-9]+))?", text)
    if not found:
        return None
    whole = found[2].replace(written.thousands, "") if written.thousands else found[2]
    return f"{found[1]}{whole}" + (f".{found[3]}" if found[3] else "")


def read_day(text: str, written: str) -> str | None:
    """A day as the catalogue writes it (ISO 8601), from one written in a format; None if there is no such day."""
    found = _PATTERNS[written].fullmatch(text)
    if not found:
        return None
    try:
        return date(int(found["y"]), int(found["m"]), int(found["d"])).isoformat()
    except ValueError:
        return None


def read_serial(number: float, counted: str) -> str | None:
    """The day of a spreadsheet's day number; None for a fraction (a time of day), and for what the 1900 system counts
    before its 29 February 1900, a day that never was."""
    if number != int(number) or not 0 < number < 2_958_466 or (counted == "1900" and number < 61):
        return None
    first = date(1899, 12, 30) if counted == "1900" else date(1904, 1, 1)
    try:
        return (first + timedelta(days=int(number))).isoformat()
    except OverflowError:
        return None


F = TypeVar("F")


class Decided(msgspec.Struct, frozen=True):
    """The format that some cells are in: `index` into the candidates; `open`: others would read them otherwise, and
    these are (indices); `missed` cells are in none."""

    index: int
    open: tuple[int, ...]
    missed: int


def decide(cells: Sequence[str], candidates: Sequence[F], read: Callable[[str, F], str | None]) -> Decided:
    """Which of several formats some cells are in: the first that reads most of them. Where another reads as many, and
    any of them as something else, the answer is open."""
    results = [tuple(read(cell, one) for cell in cells) for one in candidates]
    missed = [sum(one is None for one in result) for result in results]
    least = min(missed)
    good = [index for index, count in enumerate(missed) if count == least]
    others = tuple(index for index in good if results[index] != results[good[0]])
    return Decided(good[0], (good[0], *others) if others else (), least)
