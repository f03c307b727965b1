"""Finds which column of a sheet is which of ours: by its name, then by what stands in it."""

import difflib
import re
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from kitbuilder.bringing_in.fold import fold
from kitbuilder.bringing_in.formats import DAY_FORMATS, NUMBER_FORMATS, read_day, read_number
from kitbuilder.bringing_in.targets import Column, Target, listed_only
from kitbuilder.bringing_in.words import Words

_ALIKE: Final = 0.75
#: A column is known by its cells where so many in a hundred are words of ours.
_KNOWN_BY: Final = 0.6
_LOOKED_AT: Final = 2000


class Matched(NamedTuple):
    """A column of theirs, the one of ours that it is, why, and whether the name alone says it."""

    theirs: str
    ours: Column
    why: str
    sure: bool


def match_columns(target: Target, texts: Mapping[str, Sequence[str]]) -> list[Matched]:
    """The best matching of their columns to ours, each once; theirs by name, with the different texts in them."""
    found = []
    for place, (name, words) in enumerate(texts.items()):
        for order, column in enumerate(target.columns):
            score, why = _likeness(name, words, column)
            if score:
                found.append((-score, place, order, Matched(name, column, why, score >= 0.99)))
    chosen: list[Matched] = []
    for _, _, _, one in sorted(found, key=lambda one: one[:3]):
        if all(one.theirs != other.theirs and one.ours.name != other.ours.name for other in chosen):
            chosen.append(one)
    order_of = {name: place for place, name in enumerate(target.names)}
    return sorted(chosen, key=lambda one: order_of[one.ours.name])


def _likeness(name: str, words: Sequence[str], column: Column) -> tuple[float, str]:
    """How likely a column is one of ours (0 to 1), and why."""
    if name == column.name:
        return 1.0, ""
    if fold(name) == fold(column.name):
        return 0.99, "the same name but for case, spaces and signs"
    known = _share(words[:_LOOKED_AT], column)
    if known is not None and known < 0.5:
        return 0.0, ""
    if known is not None and known >= _KNOWN_BY and _tells(column):
        what = f"a word for {column.name}" if column.sort != "condition" else f"a value of {column.name}"
        much = "each is" if known == 1 else f"{known:.0%} are"
        return 0.6 + known * 0.3, f"by its cells ({len(words)} different): {much} {what}"
    parts = [fold(part) for part in re.findall(r"\w+", name)]
    if fold(column.name) in parts:
        return 0.7, f"its name holds the word {column.name!r}"
    alike = difflib.SequenceMatcher(None, fold(name), fold(column.name)).ratio()
    if alike >= _ALIKE:
        return 0.5 * alike, "its name only looks alike"
    return 0.0, ""


def _tells(column: Column) -> bool:
    """Whether its words are its own, so that cells tell it from other columns."""
    return (column.sort == "word" and len(column.known) > 1) or listed_only(column)


def _share(words: Sequence[str], column: Column) -> float | None:
    """How many in a hundred of some cells could stand in a column; None where anything could."""
    if not words or column.sort in ("text", "names", "loose number"):
        return None
    if column.sort == "number":
        return sum(any(read_number(word, one) for one in NUMBER_FORMATS) for word in words) / len(words)
    if column.sort == "day":
        return sum(any(read_day(word, one) for one in DAY_FORMATS) for word in words) / len(words)
    if column.sort == "condition" and not listed_only(column):
        return None
    if column.identifies:
        known = frozenset(column.known)
        return sum(word in known for word in words) / len(words)
    ours = Words(column.name, column.known, column.titles)
    found = [ours.likely(word) for word in words[:200]]
    good = [one for one in found if one is not None and one.why != "it only looks alike"]
    return len(good) / len(found)
