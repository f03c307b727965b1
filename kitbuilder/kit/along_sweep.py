"""The best kit that a van can carry where findings are independent: part after part, what no other kit beats is kept.

A kit of the parts so far is beaten by one that takes no more of the limits, costs no more, and is enough with no less
of a chance: whatever is added to both, it stays so. What can't become better than a kit already known is left out too.
"""

from bisect import bisect_right
from math import prod
from typing import NamedTuple

from kitbuilder.kit.along_hull import Hull, Listed
from kitbuilder.kit.along_steps import Steps, total

#: So many kits are kept after a part; where there would be more, none is found this way.
MOST_KEPT = 5000


class _Kept(NamedTuple):
    """A kit of some parts: what it takes of the limits, costs, how little of a chance it is enough with, its steps."""

    weight: int
    value: int
    cost: int
    lack: int
    kit: int


def swept(hull: Hull, steps: Steps, known: tuple[int, int]) -> tuple[int, int] | None:
    """The least expected cost within the limits of a trip, and its kit; `known` is one, which nothing may beat. None
    where a part isn't listed, or too much would have to be kept."""
    parts = [part for part in hull.parts if isinstance(part, Listed)]
    if len(parts) < len(hull.parts):
        return None
    rest = prod(part.under for part in parts)
    kept = [_Kept(0, 0, 0, -hull.sure, 0)]
    for part in parts:
        rest //= part.under
        choices = [(total(mask, steps.weights), total(mask, steps.values), total(mask, steps.costs), over, mask)
                   for (mask, _), over in zip(part.kits, part.overs, strict=True)]
        found = [
            _Kept(one.weight + weight, one.value + value, one.cost + cost, one.lack * over, one.kit | mask)
            for one in kept for weight, value, cost, over, mask in choices
            if (steps.most_weight is None or one.weight + weight <= steps.most_weight)
            and (steps.most_value is None or one.value + value <= steps.most_value)
            # even if all that follows were aboard for nothing
            and one.cost + cost + steps.stopped + one.lack * over * rest <= known[0]]
        both = steps.most_weight is not None and steps.most_value is not None
        kept = _unbeaten(sorted(found)) if both else _unbeaten_of_one(sorted(found))
        if len(kept) > MOST_KEPT:
            return None
    return min([known, *((one.cost + steps.stopped + one.lack, one.kit) for one in kept)])


def _unbeaten(found: list[_Kept]) -> list[_Kept]:
    """Those that no earlier one, which weighs no more, beats."""
    kept: list[_Kept] = []
    for one in found:
        if not any(two.value <= one.value and two.cost <= one.cost and two.lack <= one.lack for two in kept):
            kept.append(one)
            if len(kept) > MOST_KEPT:
                break
    return kept


def _unbeaten_of_one(found: list[_Kept]) -> list[_Kept]:
    """The same where only one of weight and value is limited, so that `found` goes by it: cost and lack of those that
    none so far beats form stairs."""
    kept: list[_Kept] = []
    costs: list[int] = []
    lacks: list[int] = []
    for one in found:
        place = bisect_right(costs, one.cost)
        if place and lacks[place - 1] <= one.lack:
            continue
        first = place - 1 if place and costs[place - 1] == one.cost else place
        end = place
        while end < len(lacks) and lacks[end] >= one.lack:
            end += 1
        costs[first:end], lacks[first:end] = [one.cost], [one.lack]
        kept.append(one)
    return kept
