"""How well bookings can be served, settled before money: whether each comes short, late, and by how much.

These fields of a plan's value come first, and few needs decide them: those that can't simply be bought in time. What
they come to is found among these needs alone, which share little. Then the rest need only be planned within that.
"""

from collections.abc import Callable
from typing import Final, NamedTuple

import msgspec

from kitbuilder.model.plan import Value
from kitbuilder.stock.components import Problem, Row
from kitbuilder.stock.draft import Draft
from kitbuilder.stock.parts import Ample, parts

#: The fields that say how well bookings are served: all before `money`.
SERVICE: Final = Value.__struct_fields__[:Value.__struct_fields__.index("money")]

class Served(NamedTuple):
    """Bookings that share something, and what their service comes to together in a best plan: the first `proven` fields
    of a value, and what the next one can't be less than."""

    bookings: frozenset[int]
    value: Value
    proven: int = len(SERVICE)
    least: int = 0

    def at_least(self, place: int) -> int:
        """What a field can't be less than, as long as those before it are what they can't be less than."""
        if place < self.proven:
            return int(getattr(self.value, SERVICE[place]))
        return self.least if place == self.proven else 0


#: Solves a part: a plan of it, its value, of how many fields that is proven, and the least of the next.
Solve = Callable[[Problem], tuple[Draft, Value, int, int]]


class Settled(NamedTuple):
    """A problem whose service is known, as far as it was proven: needs of bookings that are on time are sure, and take
    nothing that is late. `served`: bookings that aren't, or of which that must be said in more words; of some it may be
    proven in part only. `draft`: a plan of the needs that decide it."""

    problem: Problem
    served: tuple[Served, ...]
    draft: Draft


def settle(problem: Problem, solve: Solve) -> Settled:
    """Settle the service of all bookings.

    A need that can be bought in time whatever others take is never short or late on its own account, and may leave
    what others want to them, so it is left out. Without it, and with orders that cost nothing and have no minimum, no
    plan is served worse: what is best then, part by part, is best for all if there is a plan that has it. Minimums of
    orders can forbid it, which only the whole plan can show.
    """
    ample = Ample(problem)
    prompt = {row.need.name for row in problem.rows if is_prompt(row, ample)}
    weak = [row for row in problem.rows if row.need.name not in prompt and (
        not row.sure or not _simple(row) or any(column.delay for column in row.columns))]
    alone = msgspec.structs.replace(problem, orders=dict.fromkeys(problem.orders, (0, 0))).part(weak)
    served, draft = [], Draft()
    for part in parts(alone):
        made, value, proven, least = solve(part)
        draft.add(made)
        if proven < len(SERVICE) or any(getattr(value, field) for field in SERVICE) or not all(map(_simple, part.rows)):
            served.append(Served(frozenset(row.need.booking for row in part.rows), value, proven, least))
    kept = frozenset[int]().union(*(one.bookings for one in served))
    rows = []
    for row in problem.rows:
        if row.need.booking not in kept:
            row = _on_time(row)
        elif row.need.name in prompt:
            row = msgspec.structs.replace(row, sure=True)
        rows.append(row)
    return Settled(msgspec.structs.replace(problem, rows=tuple(rows)), tuple(served), draft)


def is_prompt(row: Row, ample: Ample) -> bool:
    """Whether a need can be bought in time, whatever others take."""
    return _simple(row) and any(not column.delay and ample.ordered(column) for column in row.columns)


def _simple(row: Row) -> bool:
    """Whether a need is filled exactly where it is filled, by itself."""
    steps = {column.step for column in row.columns}
    return not row.need.circuit and not row.need.binding and (
        len(steps) == 1 and row.quantity % next(iter(steps)) == 0)


def _on_time(row: Row) -> Row:
    """A need that is filled in time."""
    columns = tuple(column for column in row.columns if not column.delay)
    lost = sum(column.held > 0 for column in row.columns if column.delay)
    return msgspec.structs.replace(row, columns=columns, lost=row.lost + lost, sure=True)
