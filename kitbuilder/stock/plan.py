"""Sourcing: from what all bookings of a window need, and what the sources have, to the best plan.

`plan` is the one door. Best is what `Value` says, field by field: bookings short, bookings not on time, total delay,
what is missing all the same, money, changes to what is held, use-by, lots, the items' order.
"""

import time
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.model.plan import Gap, Need, Plan, Supply, Value
from kitbuilder.stock.components import Problem, problem_of
from kitbuilder.stock.draft import Draft, allocations_of, purchases_of
from kitbuilder.stock.exact import best_draft, next_draft
from kitbuilder.stock.part_model import choice_of
from kitbuilder.stock.parts import parts, pruned
from kitbuilder.stock.simple import simple
from kitbuilder.stock.terms import Terms, factor, smallest
from kitbuilder.stock.value import filled, total, worth
from kitbuilder.stock.verify import verify

#: Where the fields begin that own stock alone decides: all before it are zero if own stock fills everything in time.
_OWN_ALONE = Value.__struct_fields__.index("changes")


def plan(
    needs: Sequence[Need], supplies: Sequence[Supply], now: datetime, *, seconds: float = 60.0,
    with_next_best: bool = False,
) -> Plan:
    """The best plan for these needs from these supplies, as of `now` (with zone).

    Parts that share nothing are solved for themselves, within `seconds` together. A part whose best plan isn't proven
    by then gets the best that was found, by a rule of thumb if need be, and the whole says `proven=False`.
    `with_next_best` asks for the value of the best plan with another choice, which takes about as long again. What a
    source can't read is not used, so `short` speaks of the sources that could answer. The order of needs and supplies
    makes no difference.

    Raises ValueError for needs or supplies that can't be told apart or added up (see `check_needs` and `Terms` in
    kitbuilder.stock.terms), and AssertionError if a plan breaks a rule: a fault of ours, and never a plan for use.
    """
    deadline = time.monotonic() + seconds
    terms = Terms(supplies)
    problem = problem_of(terms, needs, now)
    pieces = list(parts(problem if with_next_best else pruned(problem)))
    found = [_solve(terms, piece, now, deadline) for piece in pieces]
    gap = _gap([(_value(terms, piece, one.draft, now), one) for piece, one in zip(pieces, found, strict=True)])
    drafts = [one.draft for one in found]
    following = _next_best(terms, pieces, drafts, now, deadline) if gap is None and with_next_best else None
    made = _finished(terms, problem, drafts, needs, now, gap=gap, next_best=following)
    wrong = verify(needs, supplies, made, now)
    if wrong:
        found = [_unproven(terms, piece, simple(piece), now) for piece in pieces]
        gap = _gap([(_value(terms, piece, one.draft, now), one) for piece, one in zip(pieces, found, strict=True)])
        made = _finished(terms, problem, [one.draft for one in found], needs, now, gap=gap, next_best=None)
        wrong = verify(needs, supplies, made, now)
    if wrong:
        raise AssertionError("; ".join(wrong))
    return made


class _Part(NamedTuple):
    """A plan for one part. `field`: the place of the first field of its value that isn't proven, None if all are, and
    `least` what that can't be less than."""

    draft: Draft
    field: int | None = None
    least: int = 0


def _gap(found: Sequence[tuple[Value, _Part]]) -> Gap | None:
    """What isn't proven of all parts together."""
    places = [part.field for _, part in found if part.field is not None]
    if not places:
        return None
    name = Value.__struct_fields__[min(places)]
    values = [getattr(value, name) for value, _ in found]
    least = [min(value, part.least) if part.field == min(places) else value
             for value, (_, part) in zip(values, found, strict=True)]
    return Gap(name, sum(values), sum(least))


def _unproven(terms: Terms, piece: Problem, draft: Draft, now: datetime) -> _Part:
    """A plan of which nothing is known but that no field can be negative."""
    fields = msgspec.structs.astuple(_value(terms, piece, draft, now))
    return _Part(draft, next((place for place, one in enumerate(fields) if one), None))


def _solve(terms: Terms, piece: Problem, now: datetime, deadline: float) -> _Part:
    """A plan for one part, the best if there is time."""
    start = simple(piece)
    if _no_choice(piece):
        return _Part(start)
    value = _value(terms, piece, start, now)
    fields = [getattr(value, field) for field in Value.__struct_fields__]
    fields[_OWN_ALONE] -= sum(row.lost for row in piece.rows)
    if not any(fields) and not start.bought:
        return _Part(start)  # no field can be less
    if not any(fields[:_OWN_ALONE]) and not start.bought and not any(
            column.held and not column.own for row in piece.rows for column in row.columns):
        return _solve_own(terms, piece, start, now, deadline)
    return _proven(terms, piece, start, now, deadline)


def _no_choice(piece: Problem) -> bool:
    """Whether each need has one place, which always fills it, at a price of its own if it is bought."""
    return all(
        row.sure and len(row.columns) == 1 and (row.columns[0].own or piece.lines[row.columns[0].key].plain)
        for row in piece.rows)


def _proven(terms: Terms, piece: Problem, start: Draft, now: datetime, deadline: float) -> _Part:
    """The solver's plan. It is proven only if its value is, to the unit, what the solver says; if it isn't proven, it
    gives way to the start if that is better."""
    if time.monotonic() >= deadline:
        return _unproven(terms, piece, start, now)
    best = best_draft(piece, start, deadline)
    if best.draft is None:
        return _unproven(terms, piece, start, now)
    value = _value(terms, piece, best.draft, now)
    if best.proven and value == best.value:
        return _Part(best.draft)
    better = start if _value(terms, piece, start, now) < value else best.draft
    if best.proven:
        return _unproven(terms, piece, better, now)
    return _Part(better, best.field, best.least)


def _solve_own(terms: Terms, piece: Problem, start: Draft, now: datetime, deadline: float) -> _Part:
    """The same for a part that own stock fills wholly and in time: nothing else is in a best plan of it (what is bought
    comes after all own stock), and without the rest it falls into smaller parts."""
    rows = []
    for row in piece.rows:
        columns = tuple(column for column in row.columns if column.own and not column.delay)
        lost = row.lost + sum(column.held > 0 for column in row.columns if column not in columns)
        rows.append(msgspec.structs.replace(row, columns=columns, lost=lost))
    whole: list[tuple[Value, _Part]] = []
    for part in parts(piece.part(rows)):
        names = {row.need.name for row in part.rows}
        mine = Draft({at: amount for at, amount in start.taken.items() if at[0] in names})
        value = _value(terms, part, mine, now)
        least = sum(row.lost for row in part.rows)
        best = (value.changes - least, value.use_by, value.lots, value.preference) == (0, 0, 0, 0)
        one = _Part(mine) if best else _proven(terms, part, mine, now, deadline)
        whole.append((_value(terms, part, one.draft, now), one))
    found = Draft()
    for _, one in whole:
        found.add(one.draft)
    gap = _gap(whole)
    return _Part(found) if gap is None else _Part(found, Value.__struct_fields__.index(gap.field), gap.least)


def _value(terms: Terms, piece: Problem, draft: Draft, now: datetime) -> Value:
    needs = [row.need for row in piece.rows]
    return worth(terms, needs, allocations_of(terms, draft), purchases_of(terms, piece, draft), now)


def _next_best(
    terms: Terms, pieces: Sequence[Problem], drafts: Sequence[Draft], now: datetime, deadline: float,
) -> Value | None:
    """The least value with another choice in one of the parts; None if there is none, or it isn't proven."""
    values = [_value(terms, piece, draft, now) for piece, draft in zip(pieces, drafts, strict=True)]
    best: tuple[tuple[int, ...], int, Value] | None = None
    for number, (piece, draft) in enumerate(zip(pieces, drafts, strict=True)):
        chosen = {choice_of(*at) for at, amount in draft.taken.items() if amount}
        other, sure = next_draft(piece, chosen, deadline)
        if not sure:
            return None
        if other is None:
            continue
        draft, value = other
        if _value(terms, piece, draft, now) != value:
            return None
        more = tuple(getattr(value, field) - getattr(values[number], field) for field in Value.__struct_fields__)
        if best is None or more < best[0]:
            best = (more, number, value)
    if best is None:
        return None
    return total([value if number != best[1] else best[2] for number, value in enumerate(values)])


def _finished(
    terms: Terms, problem: Problem, drafts: Sequence[Draft], needs: Sequence[Need], now: datetime,
    *, gap: Gap | None, next_best: Value | None,
) -> Plan:
    whole = Draft()
    for draft in drafts:
        whole.add(draft)
    allocations, purchases = allocations_of(terms, whole), purchases_of(terms, problem, whole)
    given = filled(terms, allocations)
    short = {}
    for need in sorted(needs, key=lambda need: need.name):
        lacks = smallest(need.quantity, need.unit) - given.get(need.name, 0)
        if lacks > 0:
            short[need.name] = -(-lacks // factor(need.unit))
    value = worth(terms, needs, allocations, purchases, now)
    return Plan(allocations, purchases, short, value, gap is None, "simple" if gap else "exact", next_best, gap)
