"""Which fact is best asked for next: the one whose answer is expected to settle most."""

from collections.abc import Iterable
from math import lcm

from kitbuilder.kit.events import Events
from kitbuilder.vehicle.values import Values
from kitbuilder.vehicle.worlds import Worlds

#: Branches (see Slices): a set of worlds; what is so in the same worlds is worked out once.
_Set = tuple[tuple[tuple[int, Values], ...], ...]


def best_first(events: Events, worlds: Worlds) -> list[int]:
    """The facts worth asking for: those that something possible hangs on, and those with a score above 0.

    A fact's score is the expected fall, when its value becomes known, of the sum of p(1 − p) over all that
    is possible, p being the weight of its worlds. With P(x, v) for "x is so and the fact is v" that is the
    sum over x of Σ P(x, v)² / P(v) − P(x)². Ties stand in the order of facts.toml.
    """
    possible: dict[tuple[int, ...], dict[_Set, int]] = {}
    for event in events.all():
        if not event.group.certain(event.inside):
            facts, branches = event.group.hangs_on(event.inside)
            same = tuple(tuple(branch.items()) for branch in branches)
            times = possible.setdefault(facts, {})
            times[same] = times.get(same, 0) + 1
    bearing = {fact for facts in possible for fact in _bearing(facts, worlds)}
    if len(bearing) <= 1:
        return list(bearing)
    scores = _scores(possible, bearing, worlds)
    hung = {fact for facts in possible for fact in facts}
    asked = [fact for fact in sorted(bearing) if scores[fact] > 0 or fact in hung]
    return sorted(asked, key=lambda fact: (-scores[fact], fact))


def _bearing(named: Iterable[int], worlds: Worlds) -> list[int]:
    """The facts whose value may tell something: those named, and those joined with them; settled ones left out."""
    space, facts = worlds.space, set(named)
    for fact in named:
        if fact in space.joint_of:
            facts.update(space.joints[space.joint_of[fact]].facts)
    return sorted(fact for fact in facts if not worlds.settled(fact))


def _scores(possible: dict[tuple[int, ...], dict[_Set, int]], bearing: Iterable[int],
            worlds: Worlds) -> dict[int, int]:
    """The scores over one common denominator; what hangs on the same facts is worked out in one go."""
    terms: dict[int, list[tuple[int, int]]] = {fact: [] for fact in bearing}
    for named, sets in possible.items():
        rows: list[dict[int, Values]] = []
        bits: list[tuple[int, int]] = []
        for branches, times in sets.items():
            bits.append((((1 << len(branches)) - 1) << len(rows), times))
            rows += [dict(branch) for branch in branches]
        for fact in _bearing(named, worlds):
            parts = list(worlds.spread(rows, by=fact).values())
            wholes = [sum(masks.values()) for masks in parts]
            total, under = sum(wholes), lcm(*wholes)
            over = squares = 0
            for mask, times in bits:
                insides = [sum(weight for one, weight in masks.items() if one & mask) for masks in parts]
                over += times * sum(
                    inside * inside * (under // whole) for inside, whole in zip(insides, wholes, strict=True))
                squares += times * sum(insides) ** 2
            terms[fact] += [(over, under * total), (-squares, total * total)]
    common = lcm(*(below for ratios in terms.values() for _, below in ratios))
    return {fact: sum(above * (common // below) for above, below in ratios) for fact, ratios in terms.items()}
