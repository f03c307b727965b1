"""Patterns of what is read off a plate, in the notation of POSIX shells for file names.

IEEE Std 1003.1, Shell and Utilities, "Pattern Matching Notation": a character stands for itself, `?` for any one,
`*` for any number of them, `[A-F7]` for one of a set, `[!A-F7]` for one that isn't in it. Here sets hold letters and
digits only, and nothing is quoted. Capitals or small letters, spaces and hyphens don't count, in the pattern (a hyphen
inside a set aside) and in what is matched: plates are typed as they come.
"""

from collections.abc import Iterator, Sequence
from typing import Final

import msgspec

_HYPHENS: Final = "-\N{HYPHEN}\N{NON-BREAKING HYPHEN}"
_RUNS: Final = ("0123456789", "ABCDEFGHIJKLMNOPQRSTUVWXYZ")


class PatternFault(ValueError):
    """A pattern that can't be read; the text says what was expected."""


class Place(msgspec.Struct, frozen=True):
    """One place of a pattern: one of some characters, or, `without`, any but these. `many`: a `*`."""

    chars: frozenset[str]
    without: bool = False
    many: bool = False


_ANY: Final = Place(frozenset(), without=True)
_MANY: Final = Place(frozenset(), without=True, many=True)


def bare(text: str) -> str:
    """What is read off a plate as it is compared: capitals, without spaces and hyphens."""
    return "".join(char for char in text.upper() if not char.isspace() and char not in _HYPHENS)


def read_pattern(text: str) -> tuple[Place, ...]:
    """The places of a pattern. Raises PatternFault."""
    return tuple(_places(text.upper()))


def written(places: Sequence[Place]) -> str:
    """Places as the one text that `fnmatch.fnmatchcase` understands, for what is `bare`."""
    return "".join(_word(place) for place in places)


def overlap(one: Sequence[Place], other: Sequence[Place]) -> bool:
    """Whether some text matches both: the two are walked together, a `*` standing still while the other goes on."""
    todo, seen = [(0, 0)], set()
    while todo:
        i, j = todo.pop()
        if (i, j) in seen:
            continue
        seen.add((i, j))
        if (i, j) == (len(one), len(other)):
            return True
        left, right = one[i:i + 1], other[j:j + 1]
        if left and left[0].many:
            todo += [(i + 1, j), (i, j + 1)] if right else [(i + 1, j)]
        elif right and right[0].many:
            todo += [(i, j + 1), (i + 1, j)] if left else [(i, j + 1)]
        elif left and right and _meet(left[0], right[0]):
            todo.append((i + 1, j + 1))
    return False


def _places(text: str) -> Iterator[Place]:
    at = 0
    while at < len(text):
        char = text[at]
        at += 1
        if char == "[":
            end = text.find("]", at)
            if end < 0:
                raise PatternFault("a set that ends: [ … ]")
            yield _set(text[at:end])
            at = end + 1
        elif char == "]":
            raise PatternFault("a set that begins: [ … ]")
        elif char == "\\":
            raise PatternFault("a pattern without \\: nothing is quoted")
        elif char in "?*":
            yield _ANY if char == "?" else _MANY
        elif bare(char):
            yield Place(frozenset(char))


def _set(text: str) -> Place:
    without = text.startswith("!")
    inner = "".join(text[without:].split())
    chars: set[str] = set()
    at = 0
    while at < len(inner):
        first, last = inner[at], inner[at]
        at += 1
        if inner[at:at + 1] == "-":
            last = inner[at + 1:at + 2]
            at += 2
        if not first.isalnum() or not last.isalnum():
            raise PatternFault("letters, digits and runs of them in a set, such as [A-F7]; [!A-F7] for all but these")
        if first == last:
            chars.add(first)
            continue
        run = next((one for one in _RUNS if first in one and last in one), "")
        if not run:
            raise PatternFault(f"a run of letters or of digits, such as A-F or 0-3, not {first}-{last}")
        if first > last:
            raise PatternFault(f"the earlier end first: {last}-{first}")
        chars.update(run[run.index(first):run.index(last) + 1])
    if not chars:
        raise PatternFault("a set with something in it, such as [A-F7]")
    return Place(frozenset(chars), without)


def _word(place: Place) -> str:
    if place.many:
        return "*"
    if place == _ANY:
        return "?"
    if len(place.chars) == 1 and not place.without:
        return next(iter(place.chars))
    return f"[{'!' if place.without else ''}{''.join(sorted(place.chars))}]"


def _meet(one: Place, other: Place) -> bool:
    if one.without and other.without:
        return True  # more characters exist than both sets leave out
    if one.without:
        return bool(other.chars - one.chars)
    return bool(one.chars - other.chars) if other.without else bool(one.chars & other.chars)
