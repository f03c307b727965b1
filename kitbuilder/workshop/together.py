"""Things looked at together over the open worlds: what they come to in each, and the least and the most of a sum."""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from kitbuilder.model.catalogue import Box
from kitbuilder.vehicle.worlds import Worlds


class Term(NamedTuple):
    """A part of a sum: a mask of `rows` (see kitbuilder.vehicle.worlds) gives its least and its most there."""

    rows: Sequence[Box]
    value: Callable[[int], tuple[int, int]]


def together(worlds: Worlds, parts: Sequence[Sequence[Box]]) -> Iterator[tuple[int, list[int]]]:
    """The ways in which some things turn out together: the weight of each, and the mask of each thing's own rows."""
    rows = [row for part in parts for row in part]
    for mask, weight in worlds.spread(rows)[0].items():
        own = []
        for part in parts:
            own.append(mask & (1 << len(part)) - 1)
            mask >>= len(part)
        yield weight, own


def extremes(worlds: Worlds, terms: Sequence[Term]) -> tuple[int, int]:
    """The least that the sum of some terms comes to in any world, and the most.

    Terms are only looked at together where they hang on the same facts, or on facts that tables join, so the work
    doesn't multiply over facts that are free of each other.
    """
    least = most = 0
    bound: list[tuple[frozenset[int], list[Term]]] = []
    for term in terms:
        values = {term.value(mask) for mask in worlds.masks(term.rows)}
        if len(values) == 1:
            (value,) = values
            least, most = least + value[0], most + value[1]
            continue
        marks, members = _marks(worlds, term.rows), [term]
        rest = []
        for others, their in bound:
            if marks & others:
                marks, members = marks | others, their + members
            else:
                rest.append((others, their))
        bound = [*rest, (marks, members)]
    for _, members in bound:
        sums = [
            [term.value(mask) for term, mask in zip(members, masks, strict=True)]
            for _, masks in together(worlds, [term.rows for term in members])]
        least += min(sum(one[0] for one in values) for values in sums)
        most += max(sum(one[1] for one in values) for values in sums)
    return least, most


def _marks(worlds: Worlds, rows: Sequence[Box]) -> frozenset[int]:
    """What binds a term to others: the facts its rows name that are open, those of one joint by the joint."""
    joint_of = worlds.space.joint_of
    named = {fact for row in rows for fact in row if not worlds.settled(fact)}
    return frozenset(-1 - joint_of[fact] if fact in joint_of else fact for fact in named)
