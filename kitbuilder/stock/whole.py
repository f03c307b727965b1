"""Whole-number models, and what follows in whole numbers from a solver's duals."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import reduce
from math import gcd
from typing import Final, NamedTuple

Terms = dict[int, int]

#: Duals are counted in fractions of this, which small denominators divide: then a bound that is met is met exactly.
SCALE: Final = 2**4 * 3**3 * 5**2 * 7 * 11 * 13


@dataclass
class Model:
    """Variables, all whole numbers between bounds, and rows: bounds on sums of whole multiples of them.

    `choices` are those that say yes or no, `bought` say how much is ordered: with all of them made, what is left is who
    gets what, which comes out whole by itself. `rising`: variables that are to be as small as a row of theirs allows:
    variable to row. `scales`: rows to be given to a solver in so large a unit, for in floating point large sums hide
    small ones.
    """

    lower: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    rows: list[tuple[int | None, int | None, Terms]] = field(default_factory=list)
    choices: list[int] = field(default_factory=list)
    bought: list[int] = field(default_factory=list)
    rising: dict[int, int] = field(default_factory=dict)
    scales: dict[int, int] = field(default_factory=dict)

    def variable(self, upper: int, lower: int = 0) -> int:
        """A new variable; its number."""
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.lower) - 1

    def choice(self) -> int:
        """A new variable that says yes or no; its number."""
        self.choices.append(self.variable(1))
        return self.choices[-1]

    def row(self, least: int | None, most: int | None, terms: Terms, scale: int = 0) -> None:
        """Bounds on a sum, None where it has none. `scale`: see `scales`."""
        if scale:
            self.scales[len(self.rows)] = scale
        divisor = reduce(gcd, terms.values(), 0) if not scale else 1
        if divisor > 1:
            terms = {variable: times // divisor for variable, times in terms.items()}
            least = None if least is None else -(-least // divisor)
            most = None if most is None else most // divisor
        self.rows.append((least, most, terms))

    def mend(self, answer: list[int]) -> None:
        """Make the variables that are to be small as small as their rows allow."""
        for variable, number in self.rising.items():
            least, _, terms = self.rows[number]
            rest = value(terms, answer) - terms[variable] * answer[variable]
            answer[variable] = max(self.lower[variable], -((rest - (least or 0)) // terms[variable]))

    def holds(self, answer: Sequence[int]) -> bool:
        """Whether an answer keeps every bound, exactly."""
        if any(not low <= one <= high for low, one, high in zip(self.lower, answer, self.upper, strict=True)):
            return False
        for least, most, terms in self.rows:
            total = value(terms, answer)
            if (least is not None and total < least) or (most is not None and total > most):
                return False
        return True


def value(terms: Terms, answer: Sequence[int]) -> int:
    """A sum of multiples at an answer."""
    return sum(times * answer[variable] for variable, times in terms.items())


class Bound(NamedTuple):
    """What a level can't be less than, in 1/SCALE, and how it is made of rows and variables: by how much each makes it
    more for each whole that it lies off the side where it counts."""

    total: int
    reduced: Terms
    rows: list[tuple[int, int]]

    @property
    def least(self) -> int:
        """The least whole number that the level can be."""
        return -(-self.total // SCALE)


def bound_of(model: Model, level: Terms, duals: Sequence[float]) -> Bound:
    """The bound that follows from any numbers, one a row (weak duality, with bounds on the variables); from a
    relaxation's duals it is the relaxation's own value.

    Each row times its number, added up, is a sum that every answer keeps; what the level has beyond it is bounded by
    the variables' bounds. All in whole numbers, so that no rounding makes it more than it is.
    """
    reduced = {variable: times * SCALE for variable, times in level.items()}
    total, rows = 0, []
    for number, dual in enumerate(duals):
        times = round(dual * SCALE) if dual else 0
        least, most, terms = model.rows[number]
        side = least if times > 0 else most
        if not times or side is None:
            continue
        rows.append((number, times))
        total += times * side
        for variable, one in terms.items():
            reduced[variable] = reduced.get(variable, 0) - times * one
    for variable, times in reduced.items():
        total += times * (model.lower[variable] if times > 0 else model.upper[variable])
    return Bound(total, reduced, rows)


def narrow(model: Model, best: int, bound: Bound) -> bool:
    """Narrow the model's bounds to what an answer of a level's value `best` can have; whether each that fits them then
    has that value.

    Every variable and row that lies off its side by one adds its part to the bound, and all parts together are what
    `best` is above it. Where that is nothing, each with a part is fixed, and that is all that can be said.
    """
    room = best * SCALE - bound.total
    for variable, times in bound.reduced.items():
        if times > 0:
            model.upper[variable] = min(model.upper[variable], model.lower[variable] + room // times)
        elif times < 0:
            model.lower[variable] = max(model.lower[variable], model.upper[variable] - room // -times)
    for number, times in bound.rows:
        least, most, terms = model.rows[number]
        if times > 0 and least is not None:
            most = least + room // times if most is None else min(most, least + room // times)
        elif times < 0 and most is not None:
            least = most - room // -times if least is None else max(least, most - room // -times)
        model.rows[number] = (least, most, terms)
    return room == 0
