"""Which fact is best asked for next: the one whose answer is expected to settle most."""

from collections.abc import Iterable

from kitbuilder.kit.events import Events
from kitbuilder.kit.group import Group
from kitbuilder.vehicle.worlds import Worlds


def best_first(events: Events, worlds: Worlds) -> list[int]:
    """The facts worth asking for: those that something possible hangs on, and those with a score above 0.

    A fact's score is the expected fall, when its value becomes known, of the sum of p(1 − p) over all that
    is possible, p being the weight of its worlds. With P(x, v) for "x is so and the fact is v" that is the
    sum over x of Σ P(x, v)² / P(v) − P(x)². Ties stand in the order of facts.toml.
    """
    open_in: dict[Group, list[frozenset[int]]] = {}
    hung: set[int] = set()
    for event in events.all():
        if not event.group.certain(event.inside):
            open_in.setdefault(event.group, []).append(event.inside)
            hung.update(event.group.hangs_on(event.inside)[0])
    if not open_in:
        return []
    bearing = {fact for group in open_in for fact in group.bearing()}
    if len(bearing) == 1:
        return list(bearing)
    return _by_score(open_in, hung, bearing)


def _by_score(open_in: dict[Group, list[frozenset[int]]], hung: set[int], bearing: Iterable[int]) -> list[int]:
    from fractions import Fraction

    scores = dict.fromkeys(sorted(bearing), Fraction(0))
    for group, insides in open_in.items():
        before = Fraction(sum(group.weight(inside) ** 2 for inside in insides), group.total**2)
        for fact in group.bearing():
            after = Fraction(0)
            for masks in group.worlds.spread(group.rows, by=fact).values():
                part = sum(masks.values())
                squares = sum(
                    sum(weight for mask, weight in masks.items() if mask in inside) ** 2 for inside in insides
                )
                after += Fraction(squares, part * group.total)
            scores[fact] += after - before
    asked = [fact for fact, score in scores.items() if score > 0 or fact in hung]
    return sorted(asked, key=lambda fact: (-scores[fact], fact))
