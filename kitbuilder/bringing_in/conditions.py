"""Puts the cells of a rule into conditions of the catalogue, as few rows as do."""

from collections.abc import Mapping, Sequence
from itertools import permutations

from kitbuilder.bringing_in.rules import Cell, Split
from kitbuilder.vehicle.facts import Fact

#: A row: for each fact of the split the places that it names, None for any that was seen with the others.
Row = tuple[frozenset[int] | None, ...]


def rows_of(split: Split, labels: Mapping[Cell, object], label: object,
            facts: Sequence[Fact]) -> list[tuple[frozenset[Cell], dict[str, str]]]:
    """The rows that name the cells of one label, each with its cells.

    Values that go with the same values of the other facts make one row; a fact with which the label doesn't change, of
    all that was seen, is left out. Every label's rows take the facts in the same order, so that no two labels meet
    where nothing was seen.
    """
    def count(order: tuple[int, ...]) -> int:
        return sum(len(_rows(_turned(labels, order), one)) for one in set(labels.values()))

    order = min(permutations(range(len(split.facts))), key=lambda one: (count(one), one))
    found = []
    for row in _rows(_turned(labels, order), label):
        told = {at: places for at, places in zip(order, row, strict=True) if places is not None}
        cells = frozenset(cell for cell in labels if all(cell[at] in places for at, places in told.items()))
        found.append((cells, {facts[split.facts[at]].name: _words(split, at, told[at], facts) for at in sorted(told)}))
    return found


def _turned(labels: Mapping[Cell, object], order: Sequence[int]) -> dict[Cell, object]:
    return {tuple(cell[at] for at in order): label for cell, label in labels.items()}


def _rows(labels: Mapping[Cell, object], label: object) -> tuple[Row, ...]:
    """The rows of one label, the first fact's values that have the same rows behind them together."""
    width = len(next(iter(labels)))
    if set(labels.values()) == {label}:
        return ((None,) * width,)
    if label not in labels.values():
        return ()
    behind: dict[tuple[Row, ...], set[int]] = {}
    firsts = sorted({cell[0] for cell in labels})
    for first in firsts:
        inner = {cell[1:]: one for cell, one in labels.items() if cell[0] == first}
        rows = _rows(inner, label) if width > 1 else (((),) if inner[()] == label else ())
        behind.setdefault(rows, set()).add(first)
    return tuple((None if len(values) == len(firsts) else frozenset(values), *row)
                 for rows, values in behind.items() for row in rows)


def _words(split: Split, at: int, places: frozenset[int], facts: Sequence[Fact]) -> str:
    """The places of one fact as a condition: groups that are among them, the largest first, then values."""
    fact = facts[split.facts[at]]
    if split.cuts[at] is not None:
        return " or ".join(split.value(at, place, fact) for place in sorted(places))
    left, words = set(places), []
    groups = {name: {place for first, last in group for place in range(first, last + 1)}
              for name, group in fact.groups.items()}
    for name, group in sorted(groups.items(), key=lambda pair: -len(pair[1])):
        if len(group) > 1 and group <= left:
            words.append(name)
            left -= group
    return " or ".join([*words, *(fact.value(place) for place in sorted(left))])


def words_of(conditions: Mapping[str, str]) -> str:
    """Conditions as a person says them: `emissions Euro V and axles 4x2`."""
    return " and ".join(f"{fact} {cell}" for fact, cell in conditions.items())
