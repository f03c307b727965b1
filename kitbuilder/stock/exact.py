"""The best plan of one part, proven, and the best with another choice somewhere."""

from collections.abc import Collection
from typing import NamedTuple

from kitbuilder.model.plan import Value
from kitbuilder.stock.components import Problem
from kitbuilder.stock.draft import Draft
from kitbuilder.stock.levels import minimise
from kitbuilder.stock.part_model import Choice, PartModel, choice_of
from kitbuilder.stock.solver import NoAnswerError


class Solved(NamedTuple):
    """A plan of a part, the value that the model gives it, None if none was found, and whether it is proven. If it
    isn't: the place of the first field that isn't, and what that can't be less than."""

    draft: Draft | None
    value: Value | None
    proven: bool
    field: int = 0
    least: int = 0


def best_draft(problem: Problem, start: Draft | None, deadline: float) -> Solved:
    """The best plan of this part, or the best that is found by the deadline. `start`: any plan of it, if known."""
    model = PartModel(problem, ())
    try:
        found = minimise(model.model, model.levels(), None if start is None else model.answer_of(start), deadline)
    except NoAnswerError:
        return Solved(None, None, False)  # there is one, `start`: the solver's tolerance is at fault
    least = model.told(found.level, found.least)
    if found.answer is None:
        return Solved(None, None, False, found.level, least)
    return Solved(model.draft_of(found.answer), model.value_of(found.answer), found.proven, found.level, least)


def next_draft(
    problem: Problem, chosen: Collection[Choice], deadline: float,
) -> tuple[tuple[Draft, Value] | None, bool]:
    """The same with another choice somewhere, None if there is none; and whether that is proven."""
    choices = {choice_of(row.need.name, column.key) for row in problem.rows for column in row.columns}
    if not choices:
        return None, True
    if any(row.quantity % column.step for row in problem.rows for column in row.columns):
        return None, False  # what rounding leaves over could pass for another choice
    model = PartModel(problem, chosen, differ=True)
    try:
        answer, proven, *_ = minimise(model.model, model.levels(), None, deadline)
    except NoAnswerError:
        return None, True
    return (None, False) if answer is None else ((model.draft_of(answer), model.value_of(answer)), proven)
