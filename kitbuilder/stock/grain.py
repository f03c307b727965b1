"""In what amounts a part of a problem is planned."""

from functools import reduce
from math import gcd

from kitbuilder.stock.components import Line, Order, Problem
from kitbuilder.stock.terms import Key


def grain_of(problem: Problem, *, fine: bool) -> int:
    """The largest amount of which all that a best plan takes is a multiple.

    With all choices of yes or no made, what is taken flows from pools to needs, so amounts are whole multiples of
    whatever divides all limits. Where an order's minimum, or the wish for another choice, makes a single step count,
    it is that step (`fine`).
    """
    amounts = [limit for limit, _ in problem.limits()]
    lines: dict[Key, Line] = {}
    orders: set[Order] = set()
    steps: list[int] = []
    for row in problem.rows:
        amounts.append(row.quantity)
        for column in row.columns:
            amounts.append(column.held)
            steps.append(column.step)
            if not column.own:
                lines[column.key] = problem.lines[column.key]
                orders.add(lines[column.key].order)
    amounts += [pack for line in lines.values() for pack in line.packs]
    grain = reduce(gcd, amounts, 0)
    if fine or any(problem.orders[order][1] for order in orders):
        grain = reduce(gcd, steps, grain)
    # a step that doesn't divide the grain has its own width, which the grain then divides
    return reduce(lambda found, one: found if found % one == 0 else gcd(found, one), sorted(steps), grain)
