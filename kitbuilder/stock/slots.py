"""Slots of one supplier that differ only in when they come and in their orders' fees."""

from itertools import pairwise

from kitbuilder.stock.components import Column, Line, Problem
from kitbuilder.stock.terms import Key


def alike(problem: Problem) -> list[tuple[Key, ...]]:
    """The places that a best plan buys from in one slot at most: those of one offer with the same terms in several
    slots, each slot serving no need that the one before it doesn't serve as soon. All others stand alone.

    What is bought in two such slots can be bought in the first of them: nobody is served worse, one order line costs no
    more than two, and no order is opened. That holds for prices that are exact and fall with the amount, where no slot
    has a limit of its own, no order a minimum, and no need holds some.
    """
    takers: dict[Key, dict[str, Column]] = {}
    for row in problem.rows:
        for column in row.columns:
            if not column.own:
                takers.setdefault(column.key, {})[row.need.name] = column
    by_pool: dict[Key, list[Key]] = {}
    for key in takers:
        by_pool.setdefault(problem.pool_of[key], []).append(key)
    groups = []
    for keys in by_pool.values():
        keys.sort(key=lambda key: (-len(takers[key]), _delay(takers[key]), _fee(problem, key), key))
        if all(_serves(takers[key], takers[later]) for key, later in pairwise(keys)) and all(
                _mergeable(problem, key, problem.lines[keys[0]]) for key in keys) and not any(
                column.held for key in keys for column in takers[key].values()):
            groups.append(tuple(keys))
        else:
            groups += [(key,) for key in keys]
    return groups


def _delay(takers: dict[str, Column]) -> int:
    return sum(column.delay for column in takers.values())


def _fee(problem: Problem, key: Key) -> int:
    return problem.orders[problem.lines[key].order][0]


def _serves(here: dict[str, Column], later: dict[str, Column]) -> bool:
    """Whether one slot serves all that another one does, none of them later."""
    return all(name in here and here[name].delay <= column.delay for name, column in later.items())


def _mergeable(problem: Problem, key: Key, first: Line) -> bool:
    line = problem.lines[key]
    exact = all(band.minor * pack % band.per == 0 for band in line.bands for pack in line.packs)
    falls = all(later.minor * band.per <= band.minor * later.per
                for band, later in pairwise(line.bands))
    return (key not in problem.mosts and problem.orders[line.order][1] == 0 and exact and falls
            and (line.packs, line.loose, line.bands, line.most) == (first.packs, first.loose, first.bands, first.most))
