"""Sets of a fact's values, as runs of places in its domain.

A set is a tuple of runs `(first, last)`, ends inclusive, in order, neither touching nor overlapping:
the values 0, 1, 2 and 5 are `((0, 2), (5, 5))`. The same code serves three listed values and thirty
years of days.
"""

from collections.abc import Iterable

Values = tuple[tuple[int, int], ...]

NONE: Values = ()


def union(runs: Iterable[tuple[int, int]]) -> Values:
    """The set of all places in `runs`, which may overlap and stand in any order."""
    joined: list[tuple[int, int]] = []
    for first, last in sorted(runs):
        if joined and first <= joined[-1][1] + 1:
            if last > joined[-1][1]:
                joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return tuple(joined)


def both(one: Values, other: Values) -> Values:
    """The places that are in both sets."""
    if len(one) == 1 and len(other) == 1:
        first, last = max(one[0][0], other[0][0]), min(one[0][1], other[0][1])
        return ((first, last),) if first <= last else NONE
    found: list[tuple[int, int]] = []
    i = j = 0
    while i < len(one) and j < len(other):
        first, last = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if first <= last:
            found.append((first, last))
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1
    return tuple(found)


def outside(values: Values, size: int) -> Values:
    """The places of a domain of `size` values that are not in the set."""
    found: list[tuple[int, int]] = []
    start = 0
    for first, last in values:
        if start < first:
            found.append((start, first - 1))
        start = last + 1
    if start < size:
        found.append((start, size - 1))
    return tuple(found)


def count(values: Values) -> int:
    """How many places the set has."""
    return sum(last - first + 1 for first, last in values)
