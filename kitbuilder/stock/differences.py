"""Stock of record that lies elsewhere: whether what was fetched from it was issued there, day by day."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import msgspec

from kitbuilder import amount
from kitbuilder.model.offer import Quote
from kitbuilder.model.stock_elsewhere import Difference, Fetched

#: So many days' counts are kept.
DAYS = 14


class Count(msgspec.Struct, frozen=True):
    """What a source had of each item at a moment, in thousandths of the smallest unit (a counted unit is its own)."""

    at: datetime
    amounts: dict[str, int]


def finest(unit: str) -> int:
    """How many of its quantity's smallest unit a unit is."""
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def count_of(quote: Quote, items: Mapping[str, str], at: datetime) -> Count:
    """What a quote says that there is of items (with the units the catalogue counts them in); an item that can't be
    read, or of which there is as much as is asked for, isn't counted."""
    amounts = {item: 0 for item in items if item not in quote.unreadable}
    for offer in quote.offers:
        if offer.pool is None:
            amounts.pop(offer.item, None)
        elif offer.item in amounts:
            amounts[offer.item] += offer.pool * finest(offer.unit)
    return Count(at, amounts)


def differences(before: Count, now: Count, fetched: list[Fetched], items: Mapping[str, str]) -> tuple[Difference, ...]:
    """The items of which a source has not as much as it had before less what was fetched from it since, by number.

    More than expected: what was fetched was perhaps not issued there. Less: it was sold or used by others. Items that
    were counted at one time only can't be compared.
    """
    taken: dict[str, int] = {}
    for one in fetched:
        taken[one.item] = taken.get(one.item, 0) + one.quantity * finest(one.unit)
    found = []
    for item in sorted(before.amounts.keys() & now.amounts.keys() & items.keys()):
        was, there, ours = before.amounts[item], now.amounts[item], taken.get(item, 0)
        if there != was - ours:
            unit = items[item]
            found.append(Difference(
                item, unit, *(_shown(one, unit) for one in (was, ours, was - ours, there, there - was + ours))))
    return tuple(found)


def _shown(thousandths: int, unit: str) -> str:
    """A decimal in a unit, with its sign; exact."""
    sign = "-" if thousandths < 0 else ""
    whole, rest = divmod(abs(thousandths), 1000 * finest(unit))
    places = len(str(1000 * finest(unit))) - 1
    return f"{sign}{whole}" + (f".{rest:0{places}d}".rstrip("0") if rest else "")


def read_counts(file: Path) -> list[Count]:
    """The counts that are kept, the oldest first; none where there is no file, or it is damaged."""
    try:
        return msgspec.json.decode(file.read_bytes(), type=list[Count])
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return []


def count_before(counts: list[Count], now: datetime) -> Count | None:
    """The newest count of an earlier day."""
    return next((one for one in reversed(counts) if one.at.date() < now.date()), None)


def keep_count(file: Path, counts: list[Count], count: Count) -> None:
    """Keep a count if it is its day's first: what a day is compared with stays the same all day."""
    import os

    if any(one.at.date() == count.at.date() for one in counts):
        return
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_name(f".{file.name}.{os.getpid()}")
    beside.write_bytes(msgspec.json.encode([*counts, count][-DAYS:]))
    os.replace(beside, file)
