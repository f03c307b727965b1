"""Whole-number models, minimised level by level with HiGHS, each level proven before the next begins."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import reduce
from math import gcd, inf
from typing import Any, Final

#: A level, or several taken together, must stay below this, so that floating point holds its whole numbers apart.
_TOGETHER: Final = 1_000_000
_LARGEST: Final = 1_000_000_000_000
#: How far from a whole number the solver's answers may lie; they are rounded and then checked exactly.
_TOLERANCE: Final = 1e-9

Terms = dict[int, int]


@dataclass
class Model:
    """Variables, all whole numbers between bounds, and rows: bounds on sums of whole multiples of them."""

    lower: list[int] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    rows: list[tuple[int | None, int | None, Terms]] = field(default_factory=list)

    def variable(self, upper: int, lower: int = 0) -> int:
        """A new variable; its number."""
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.lower) - 1

    def row(self, least: int | None, most: int | None, terms: Terms) -> None:
        """Bounds on a sum, None where it has none."""
        divisor = reduce(gcd, terms.values(), 0)
        if divisor > 1:
            terms = {variable: times // divisor for variable, times in terms.items()}
            least = None if least is None else -(-least // divisor)
            most = None if most is None else most // divisor
        self.rows.append((least, most, terms))

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


def minimise(
    model: Model, levels: Sequence[Terms], start: Sequence[int] | None, deadline: float,
) -> list[int] | None:
    """The answer that makes the levels as small as can be, one after the other; None if that isn't proven by the
    deadline (of `time.monotonic`), if there is no answer, or if the numbers are too large to be sure.

    The multiples in `levels` are not negative. `start` is an answer to begin with, checked before use. The bounds of
    the model are narrowed to what is proven.
    """
    answer = list(start) if start is not None and model.holds(start) else None
    waiting = [_divided(level) for level in levels if level]
    if any(_span(model, level) > _LARGEST for level in waiting):
        return None
    solver: Any = None
    while waiting:
        level = waiting[0]
        if answer is not None and value(level, answer) == value(level, model.lower):
            waiting.pop(0)  # nothing smaller is within the bounds
        else:
            level, count = _together(model, waiting)
            del waiting[:count]
            solver = solver or _solver()
            answer = _solve(solver, model, level, answer, deadline)
            if answer is None:
                return None
        best = value(level, answer)
        if best == value(level, model.lower):
            for variable in level:
                model.upper[variable] = model.lower[variable]
        else:
            model.row(None, best, level)
    if answer is None:
        answer = _solve(_solver(), model, {}, None, deadline)
    return answer if answer is not None and model.holds(answer) else None


def _divided(level: Terms) -> Terms:
    divisor = reduce(gcd, level.values(), 0)
    return {variable: times // divisor for variable, times in level.items() if times}


def _span(model: Model, level: Terms) -> int:
    return sum(times * (model.upper[variable] - model.lower[variable]) for variable, times in level.items())


def _together(model: Model, waiting: Sequence[Terms]) -> tuple[Terms, int]:
    """The first levels as one, each weighted above all that follow it, and how many they are: as many as stay small."""
    count, room = 1, _span(model, waiting[0]) + 1
    while count < len(waiting) and room * (_span(model, waiting[count]) + 1) <= _TOGETHER:
        room *= _span(model, waiting[count]) + 1
        count += 1
    joined: Terms = {}
    weight = 1
    for level in reversed(waiting[:count]):
        for variable, times in level.items():
            joined[variable] = joined.get(variable, 0) + times * weight
        weight *= _span(model, level) + 1
    return joined, count


def _solver() -> Any:
    import highspy

    solver = highspy.Highs()
    for option, setting in (
        ("output_flag", False), ("parallel", "off"), ("random_seed", 0), ("mip_rel_gap", 0.0), ("mip_abs_gap", 0.0),
        ("mip_feasibility_tolerance", _TOLERANCE), ("primal_feasibility_tolerance", _TOLERANCE),
    ):
        solver.setOptionValue(option, setting)
    return solver


def _solve(
    solver: Any, model: Model, level: Terms, start: Sequence[int] | None, deadline: float,
) -> list[int] | None:
    """A proven best answer for one level; None if the solver can't say so in time, or rounding it breaks a row."""
    import highspy
    import numpy

    left = deadline - time.monotonic()
    if left <= 0:
        return None
    count = len(model.lower)
    if not count:
        return []
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = count, len(model.rows)
    costs = numpy.zeros(count)
    for variable, times in level.items():
        costs[variable] = times
    program.col_cost_ = costs
    program.col_lower_ = numpy.array(model.lower, dtype=float)
    program.col_upper_ = numpy.array(model.upper, dtype=float)
    program.integrality_ = [highspy.HighsVarType.kInteger] * count
    program.row_lower_ = numpy.array([-inf if least is None else least for least, _, _ in model.rows], dtype=float)
    program.row_upper_ = numpy.array([inf if most is None else most for _, most, _ in model.rows], dtype=float)
    ends = numpy.cumsum([0, *(len(terms) for _, _, terms in model.rows)])
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.num_col_, program.a_matrix_.num_row_ = count, len(model.rows)
    program.a_matrix_.start_ = ends.astype(numpy.int32)
    program.a_matrix_.index_ = numpy.array([one for _, _, terms in model.rows for one in terms], dtype=numpy.int32)
    program.a_matrix_.value_ = numpy.array([one for _, _, terms in model.rows for one in terms.values()], dtype=float)
    solver.clearModel()
    solver.passModel(program)
    solver.setOptionValue("time_limit", left + solver.getRunTime())
    if start is not None:
        known = highspy.HighsSolution()
        known.col_value = [float(one) for one in start]
        solver.setSolution(known)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    answer = [round(one) for one in solver.getSolution().col_value]
    # whole numbers, so nothing lies between the best and one less: half is more than any rounding leaves
    proven = solver.getInfo().mip_dual_bound > value(level, answer) - 0.5
    return answer if proven and model.holds(answer) else None
