"""A plan in the making, in smallest units, and its way back to what a plan says."""

from dataclasses import dataclass, field

from kitbuilder.model.plan import Allocation, Purchase
from kitbuilder.stock.components import Line, Problem
from kitbuilder.stock.terms import Key, Terms, factor, price_of


@dataclass
class Draft:
    """What each need (by name) takes from each place, and of what packs each order line is made."""

    taken: dict[tuple[str, Key], int] = field(default_factory=dict)
    bought: dict[Key, dict[int, int]] = field(default_factory=dict)

    def add(self, other: "Draft") -> None:
        """Put a draft for other needs to this one; loose order lines that both buy from become one."""
        self.taken.update(other.taken)
        for key, packs in other.bought.items():
            mine = self.bought.setdefault(key, {})
            for pack, count in packs.items():
                mine[pack] = mine.get(pack, 0) + count


def trim(problem: Problem, draft: Draft) -> None:
    """Give back what rounding to coarse steps left over: afterwards no need could do with one step less."""
    for row in problem.rows:
        mine = [column for column in row.columns if draft.taken.get((row.need.name, column.key), 0)]
        over = sum(draft.taken[row.need.name, column.key] for column in mine) - row.quantity
        for column in sorted(mine, key=lambda column: (-column.step, column.key)):
            if over >= column.step:
                less = min(over // column.step * column.step, draft.taken[row.need.name, column.key])
                draft.taken[row.need.name, column.key] -= less
                over -= less


def allocations_of(terms: Terms, draft: Draft) -> tuple[Allocation, ...]:
    """The allocations, in milli-units of their offers' units, in order."""
    return tuple(sorted(
        Allocation(need, *key, amount // factor(terms.places[key].offer.unit))
        for (need, key), amount in draft.taken.items() if amount > 0))


def purchases_of(terms: Terms, problem: Problem, draft: Draft) -> tuple[Purchase, ...]:
    """The order lines with their prices, in order."""
    return tuple(sorted(
        _purchase(terms, key, problem.lines[key], packs) for key, packs in draft.bought.items() if any(packs.values())))


def _purchase(terms: Terms, key: Key, line: Line, packs: dict[int, int]) -> Purchase:
    place = terms.places[key]
    times = factor(place.offer.unit)
    quantity = sum(pack * count for pack, count in packs.items()) // times
    minor = price_of(place.arrival, quantity)
    if minor is None:
        raise AssertionError(f"{key} has no price for {quantity}")  # a line is bought within its bands only
    made = () if line.loose else tuple((pack // times, packs[pack]) for pack in line.packs if packs.get(pack, 0))
    return Purchase(key[0], key[3], key[1], quantity, made, minor)
