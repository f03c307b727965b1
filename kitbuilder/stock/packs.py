"""Which packs to buy in one order line."""

from functools import reduce
from math import gcd

from kitbuilder.stock.components import Band, Line

#: Beyond so many sums of packs only the largest pack is counted on.
_SUMS = 100_000


def price_in(line: Line, amount: int) -> tuple[Band, int] | None:
    """The band that an amount (smallest units) is priced in, and its price, rounded half up; None outside all bands."""
    for band in line.bands:
        if band.least <= amount and (band.most is None or amount <= band.most):
            return band, (2 * amount * band.minor + band.per) // (2 * band.per)
    return None


def cheapest(line: Line, amount: int, limit: int | None, worth: int = 0) -> dict[int, int] | None:
    """Packs that hold at least `amount` smallest units, and no more than `limit`, for the least money but for `worth`
    at least; None if none are found. Of one price the least amount, of one amount the fewest packs.

    It looks at the least sum of packs that reaches the amount, each break, and `worth` at each price.
    """
    limits = [one for one in (limit, line.most) if one is not None]
    goals = set()
    for band in line.bands:
        goals.add(max(amount, band.least))
        if worth and band.minor:
            goals.add(max(amount, band.least, -(-(2 * worth - 1) * band.per // (2 * band.minor))))
    best: tuple[int, int, dict[int, int]] | None = None
    for goal in sorted(goals):
        packs = _least_sum(line.packs, goal)
        total = sum(pack * count for pack, count in packs.items())
        priced = price_in(line, total)
        if priced is None or priced[1] < worth or (limits and total > min(limits)):
            continue
        if best is None or (priced[1], total) < best[:2]:
            best = (priced[1], total, packs)
    return best[2] if best else None


def fewest(line: Line, packs: dict[int, int]) -> dict[int, int]:
    """The fewest packs that hold exactly what these do; of what comes loose, and of very much, these."""
    amount = sum(pack * count for pack, count in packs.items())
    found = packs if line.loose else _least_sum(line.packs, amount)
    return found if sum(pack * count for pack, count in found.items()) == amount else packs


def _least_sum(packs: tuple[int, ...], goal: int) -> dict[int, int]:
    """The packs of the least sum that reaches a goal, the fewest of them."""
    grain = reduce(gcd, packs)
    sizes = [pack // grain for pack in packs]
    target = -(-goal // grain)
    # a sum beyond the goal plus the largest pack could do without one; much of a large goal is the largest pack
    if len(sizes) == 1 or target + sizes[0] > _SUMS:
        return {packs[0]: -(-target // sizes[0])}
    fewest: list[tuple[int, int] | None] = [(0, 0)] + [None] * (target + sizes[0])
    for reached in range(1, len(fewest)):
        ways = [(before[0] + 1, size) for size in sizes
                if reached >= size and (before := fewest[reached - size]) is not None]
        fewest[reached] = min(ways, default=None)
    reached = next(one for one in range(target, len(fewest)) if fewest[one] is not None)
    found: dict[int, int] = {}
    while reached:
        last = fewest[reached]
        assert last is not None
        found[last[1] * grain] = found.get(last[1] * grain, 0) + 1
        reached -= last[1]
    return found
