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


class NoAnswerError(Exception):
    """A model that no answer fits."""


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
) -> tuple[list[int] | None, bool]:
    """The answer that makes the levels as small as can be, one after the other, and whether that is proven.

    It isn't if the deadline (of `time.monotonic`) comes before, or the numbers are too large to be sure: then the
    answer is the best that was found, None if none was. Raises NoAnswerError if none fits.

    The multiples in `levels` are not negative. `start` is an answer to begin with, checked before use. The bounds of
    the model are narrowed to what is proven.
    """
    answer = list(start) if start is not None and model.holds(start) else None
    waiting = [_divided(level) for level in levels if level]
    if any(_span(model, level) > _LARGEST for level in waiting):
        return answer, False
    while waiting:
        level = waiting[0]
        if answer is not None and value(level, answer) == value(level, model.lower):
            waiting.pop(0)  # nothing smaller is within the bounds
        else:
            level, count = _together(model, waiting)
            del waiting[:count]
            try:
                found, proven = _solve(model, level, deadline)
            except NoAnswerError:
                if answer is None:
                    raise
                return answer, False  # this one still fits: the solver's tolerance is at fault
            if found is not None and (answer is None or value(level, found) <= value(level, answer)):
                answer = found
            if answer is None or not proven:
                return answer, False
        best = value(level, answer)
        if best == value(level, model.lower):
            for variable in level:
                model.upper[variable] = model.lower[variable]
        else:
            model.row(None, best, level)
    if answer is None:
        return _solve(model, {}, deadline)
    return answer, model.holds(answer)


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

    class Quiet(highspy.Highs):
        """HiGHS that prints no banner: its constructor does, on what a command may be writing JSON to, by enabling
        callbacks before anybody can say that it shall not."""

        def enableCallbacks(self) -> None:
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    solver = Quiet()  # type: ignore[no-untyped-call]
    for option, setting in (
        ("output_flag", False), ("threads", 1), ("parallel", "off"), ("random_seed", 0), ("mip_rel_gap", 0.0),
        ("mip_abs_gap", 0.0),
        ("mip_feasibility_tolerance", _TOLERANCE), ("primal_feasibility_tolerance", _TOLERANCE),
    ):
        solver.setOptionValue(option, setting)
    return solver


def _solve(model: Model, level: Terms, deadline: float) -> tuple[list[int] | None, bool]:
    """The best answer for one level that the solver finds in time, None if rounding it breaks a row; whether it is
    proven. Raises NoAnswerError.

    The solver isn't given an answer to begin with: HiGHS 1.16 may then return that one with the best one's objective.
    """
    import highspy
    import numpy

    left = deadline - time.monotonic()
    if left <= 0:
        return None, False
    count = len(model.lower)
    if not count:
        return [], True
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
    solver = _solver()
    solver.passModel(program)
    solver.setOptionValue("time_limit", left)
    solver.run()
    if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        raise NoAnswerError
    answer = [round(one) for one in solver.getSolution().col_value if abs(one) < _LARGEST]
    if len(answer) != count or not model.holds(answer):
        return None, False
    # whole numbers, so nothing lies between the best and one less: half is more than any rounding leaves
    proven = solver.getInfo().mip_dual_bound > value(level, answer) - 0.5
    return answer, proven and solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
