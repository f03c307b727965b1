"""The best plan of one part, proven, and the best with another choice somewhere."""

from collections.abc import Collection, Sequence
from typing import NamedTuple

from kitbuilder.model.plan import Value
from kitbuilder.stock.components import Problem
from kitbuilder.stock.draft import Draft
from kitbuilder.stock.levels import minimise
from kitbuilder.stock.part_model import NOTHING, Choice, Must, PartModel, choice_of
from kitbuilder.stock.service import Served
from kitbuilder.stock.solver import NoAnswerError


class NotServedError(Exception):
    """No plan serves bookings as well as the needs that decide it would let it: the minimum of an order forbids it."""


class Solved(NamedTuple):
    """A plan of a part, the value that the model gives it, None if none was found, and whether it is proven. If it
    isn't: the place of the first field that isn't, and what that can't be less than."""

    draft: Draft | None
    value: Value | None
    proven: bool
    field: int = 0
    least: int = 0


def best_draft(problem: Problem, start: Draft | None, deadline: float, must: Must = NOTHING,
               served: Sequence[Served] | None = None, known: Value | None = None, fields: int | None = None) -> Solved:
    """The best plan of this part, or the best that is found by the deadline. `start`: any plan of it, if known.

    `must`: what has to be filled; where it can't be, there is no plan, and that is proven. `served`: the part is of a
    settled problem (kitbuilder.stock.service), with these bookings; NotServedError if no plan has that. `known`: no
    plan of it is better. `fields`: how many of the value's fields matter, if not all.
    """
    model = PartModel(problem, (), must=must, served=served or ())
    try:
        found = minimise(
            model.model, model.levels()[:fields], None if start is None else model.answer_of(start), deadline,
            () if known is None else model.known(known))
    except NoAnswerError:
        if served is not None:
            raise NotServedError from None
        # where nothing has to be filled there is a plan: then the solver's tolerance is at fault
        return Solved(None, None, must != NOTHING)
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
