"""Which items fill one place in a kit: they exclude each other, and are called alike."""

import difflib
import re
from collections.abc import Mapping, Sequence
from typing import Final

from kitbuilder import amount
from kitbuilder.model.catalogue import Item

#: How alike the names of two items must be to be thought of as one place's.
_ALIKE: Final = 0.6


def group_items(items: Sequence[Item], used_in: Mapping[str, frozenset[int]]) -> list[tuple[Item, ...]]:
    """Items that were never used together, of one quantity, and called alike, as groups; the likest first, by number
    among equals. `used_in`: the jobs that used each item."""
    groups: list[tuple[Item, ...]] = [(item,) for item in sorted(items, key=lambda one: one.number)]
    likes = sorted(
        ((-_likeness(one, other), one.number, other.number) for place, one in enumerate(items)
         for other in items[place + 1:] if amount.quantity(one.unit) == amount.quantity(other.unit)))
    for alike, one, other in likes:
        if -alike < _ALIKE:
            break
        mine = next(group for group in groups if any(item.number == one for item in group))
        theirs = next(group for group in groups if any(item.number == other for item in group))
        if mine is theirs or _jobs(mine, used_in) & _jobs(theirs, used_in):
            continue
        groups = [group for group in groups if group not in (mine, theirs)]
        groups.append(tuple(sorted((*mine, *theirs), key=lambda item: item.number)))
    return sorted(groups, key=lambda group: group[0].number)


def _jobs(group: Sequence[Item], used_in: Mapping[str, frozenset[int]]) -> frozenset[int]:
    return frozenset().union(*(used_in[item.number] for item in group))


def _likeness(one: Item, other: Item) -> float:
    """How alike two items are called: mostly by what stands before the first comma, which says what they are."""
    if one.kind and one.kind == other.kind:
        return 1.0
    heads, rests = zip(*(name.casefold().partition(",")[::2] for name in (one.name, other.name)), strict=True)
    return 0.8 * _ratio(*heads) + 0.2 * _ratio(*rests)


def _ratio(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one.split(), other.split(), autojunk=False).ratio()


def place_name(group: Sequence[Item]) -> str:
    """What a place is called: the kind of its items, else the words that all begin with, else the first item's own."""
    kinds = {item.kind for item in group}
    if len(kinds) == 1 and (kind := kinds.pop()):
        return kind.capitalize()
    heads = [re.split(r"[,;(]", item.name)[0].split() for item in group]
    same = []
    for words in zip(*heads, strict=False):
        if len({word.casefold() for word in words}) > 1:
            break
        same.append(words[0])
    return " ".join(same or heads[0]) or group[0].number


_SINGLE_USE: Final = ("gasket", "seal", "sealing", "ring", "rings", "o-ring", "bolt", "bolts", "nut", "nuts", "screw",
                      "screws", "washer", "washers", "clamp", "clip", "pin")
_TOOLS: Final = ("tool", "spanner", "tap", "puller", "lead", "adapter", "gauge", "chocks", "tester", "jack", "lance",
                 "stand", "press")
_SOFTWARE: Final = ("code", "licence", "software")
_CONSUMABLES: Final = ("cleaner", "wipes", "gloves", "ties", "grease", "tape", "paste", "sealant")


def guessed_sort(item: Item) -> str:
    """The sort of an item, by its unit and the words of its name (common practice, no source); to be asked."""
    # what it is for comes behind: a lance for seized bolts is no bolt
    what = re.split(r",|\b(?:for|of|with|to)\b", item.name.casefold())[0]
    words = set(re.findall(r"[a-z-]+", what))
    if amount.quantity(item.unit) in ("volume", "mass") or words & set(_CONSUMABLES):
        return "consumable"
    if "exchange" in item.name.casefold():
        return "exchange unit"
    for sort, known in (("software", _SOFTWARE), ("special tool", _TOOLS),
                        ("single-use", _SINGLE_USE)):
        if words & set(known):
            return sort
    return "part"
