"""HiGHS, asked quietly: the relaxation of a whole-number model, kept from one level to the next, and the model itself.

What it answers is floating point and never believed: answers are rounded and checked, bounds worked out again in whole
numbers (kitbuilder.stock.levels).
"""

import time
from collections.abc import Sequence
from math import inf
from typing import Any, Final, NamedTuple

from kitbuilder.stock.whole import Model, Terms, value

#: How far from a whole number the solver's answers may lie.
_TOLERANCE: Final = 1e-7
#: How much wider the bounds of large sums are told to the solver.
_WIDER: Final = 0.4
_SAME: Final = 1e-6
_LARGEST: Final = 1e15
_PRIMAL_SIMPLEX: Final = 4
#: With multiples beyond this HiGHS 1.16 simplifies models wrongly: it shuts out answers that fit.
_STEEP: Final = 100_000


class NoAnswerError(Exception):
    """A model that no answer fits."""


class Relaxed(NamedTuple):
    """The best answer in fractions: its duals, a row each, and the answer itself if it is whole and fits."""

    duals: Sequence[float]
    answer: list[int] | None


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


def _program(model: Model, level: Terms) -> Any:
    import highspy
    import numpy

    count = len(model.lower)
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = count, len(model.rows)
    program.col_cost_ = _costs(count, level)
    program.col_lower_ = numpy.array(model.lower, dtype=float)
    program.col_upper_ = numpy.array(model.upper, dtype=float)
    program.row_lower_, program.row_upper_ = _sides(model)
    ends = numpy.cumsum([0, *(len(terms) for _, _, terms in model.rows)])
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.num_col_, program.a_matrix_.num_row_ = count, len(model.rows)
    program.a_matrix_.start_ = ends.astype(numpy.int32)
    program.a_matrix_.index_ = numpy.array([one for _, _, terms in model.rows for one in terms], dtype=numpy.int32)
    values = numpy.array([one for _, _, terms in model.rows for one in terms.values()], dtype=float)
    for number, scale in model.scales.items():
        values[ends[number]:ends[number + 1]] /= scale
    program.a_matrix_.value_ = values
    return program


def _costs(count: int, level: Terms) -> Any:
    import numpy

    costs = numpy.zeros(count)
    costs[list(level)] = list(level.values())
    return costs


def _sides(model: Model) -> tuple[Any, Any]:
    import numpy

    scales = _scales(model)
    # sums of whole numbers: less than one beyond a bound lets none of them in, and keeps rounding from shutting one out
    wide = numpy.zeros(len(model.rows))
    wide[list(model.scales)] = _WIDER
    least = numpy.array([-inf if least is None else least for least, _, _ in model.rows], dtype=float)
    most = numpy.array([inf if most is None else most for _, most, _ in model.rows], dtype=float)
    return (least - wide) / scales, (most + wide) / scales


def _scales(model: Model) -> Any:
    import numpy

    scales = numpy.ones(len(model.rows))
    scales[list(model.scales)] = list(model.scales.values())
    return scales


class Relaxation:
    """A model without the demand that its answers be whole. Solved again after levels change and bounds narrow, it
    goes on from where it was."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self._solver: Any = None
        self._rows = 0

    def solve(self, level: Terms, deadline: float, fixed: Terms | None = None) -> Relaxed | None:
        """The best for one level, None if that isn't known in time; with some variables at these values. Raises
        NoAnswerError."""
        import highspy

        left = deadline - time.monotonic()
        if left <= 0:
            return None
        if self._solver is None:
            self._solver = _solver()
            self._solver.passModel(_program(self.model, level))
        else:
            self._renew(level, fixed or {})
        self._rows = len(self.model.rows)
        self._solver.setOptionValue("time_limit", self._solver.getRunTime() + left)
        self._solver.run()
        status = self._solver.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            raise NoAnswerError
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self._solver.getSolution()
        return Relaxed(solution.row_dual / _scales(self.model), rounded(self.model, solution.col_value))

    def _renew(self, level: Terms, fixed: Terms) -> None:
        import numpy

        solver, model = self._solver, self.model
        columns = numpy.arange(len(model.lower), dtype=numpy.int32)
        solver.changeColsCost(len(columns), columns, _costs(len(columns), level))
        lower, upper = numpy.array(model.lower, dtype=float), numpy.array(model.upper, dtype=float)
        lower[list(fixed)] = upper[list(fixed)] = list(fixed.values())
        solver.changeColsBounds(len(columns), columns, lower, upper)
        least, most = _sides(model)
        rows = numpy.arange(self._rows, dtype=numpy.int32)
        solver.changeRowsBounds(len(rows), rows, least[:self._rows], most[:self._rows])
        for number in range(self._rows, len(model.rows)):
            terms = model.rows[number][2]
            solver.addRow(least[number], most[number], len(terms), numpy.array(list(terms), dtype=numpy.int32),
                          numpy.array(list(terms.values()), dtype=float))
        # the last answer still fits, so it is gone on from on that side
        solver.setOptionValue("simplex_strategy", _PRIMAL_SIMPLEX)


def rounded(model: Model, found: Sequence[float]) -> list[int] | None:
    """An answer in whole numbers, None if it isn't whole, or doesn't fit when it is."""
    if len(found) != len(model.lower) or any(abs(one) >= _LARGEST for one in found):
        return None
    answer = [round(one) for one in found]
    if any(abs(one - whole) > _SAME and number not in model.rising
           for number, (one, whole) in enumerate(zip(found, answer, strict=True))):
        return None
    model.mend(answer)
    return answer if model.holds(answer) else None


def search(model: Model, level: Terms, deadline: float) -> tuple[list[int] | None, float]:
    """The best whole answer for one level that is found in time, None if none is, and what no answer can be less than.
    Raises NoAnswerError.

    The solver isn't given an answer to begin with: HiGHS 1.16 may then return that one with the best one's objective.
    """
    import highspy

    left = deadline - time.monotonic()
    if left <= 0:
        return None, -inf
    program = _program(model, level)
    program.integrality_ = [highspy.HighsVarType.kInteger] * len(model.lower)
    solver = _solver()
    solver.passModel(program)
    solver.setOptionValue("time_limit", left)
    if max((abs(times) for _, _, terms in model.rows for times in terms.values()), default=0) > _STEEP:
        solver.setOptionValue("presolve", "off")
    solver.run()
    if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        raise NoAnswerError
    answer = rounded(model, solver.getSolution().col_value)
    bound = solver.getInfo().mip_dual_bound
    if answer is not None and solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        bound = min(bound, value(level, answer) - 1)
    return answer, bound
