"""Sourcing: from what all bookings of a window need, and what the sources have, to the best plan.

`plan` is the one door. Best is what `Value` says, field by field: bookings short, bookings not on time, total delay,
what is missing all the same, money, changes to what is held, use-by, lots, the items' order.
"""

import time
from collections.abc import Sequence
from datetime import datetime

from kitbuilder.model.plan import Need, Plan, Supply, Value
from kitbuilder.stock.components import Problem, parts, problem_of
from kitbuilder.stock.draft import Draft, allocations_of, purchases_of
from kitbuilder.stock.exact import best_draft, choice_of, next_draft
from kitbuilder.stock.packs import price_in
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
    pieces = list(parts(problem))
    drafts: list[Draft] = []
    proven = True
    for piece in pieces:
        draft, sure = _solve(terms, piece, now, deadline)
        drafts.append(draft)
        proven &= sure
    following = _next_best(terms, pieces, drafts, now, deadline) if proven and with_next_best else None
    made = _finished(terms, problem, drafts, needs, now, proven=proven, next_best=following)
    wrong = verify(needs, supplies, made, now)
    if wrong:
        drafts = [simple(piece) for piece in pieces]
        made = _finished(terms, problem, drafts, needs, now, proven=False, next_best=None)
        wrong = verify(needs, supplies, made, now)
    if wrong:
        raise AssertionError("; ".join(wrong))
    return made


def _solve(terms: Terms, piece: Problem, now: datetime, deadline: float) -> tuple[Draft, bool]:
    """A plan for one part, and whether none is better."""
    start = simple(piece)
    value = _value(terms, piece, start, now)
    fields = [getattr(value, field) for field in Value.__struct_fields__]
    fields[_OWN_ALONE] -= sum(row.lost for row in piece.rows)
    if not any(fields) and not start.bought:
        return start, True  # no field can be less
    if not any(fields[:_OWN_ALONE]) and _never_free(piece):
        return _solve_own(terms, piece, start, now, deadline)
    return _proven(terms, piece, start, now, deadline)


def _proven(terms: Terms, piece: Problem, start: Draft, now: datetime, deadline: float) -> tuple[Draft, bool]:
    """The solver's plan, and whether it is proven: its value must be, to the unit, what the solver says. A plan that
    isn't proven gives way to the start if that is better."""
    best, proven = best_draft(piece, start, deadline)
    if best is None or _value(terms, piece, best[0], now) != best[1]:
        return start, False
    if not proven and _value(terms, piece, start, now) < best[1]:
        return start, False
    return best[0], proven


def _solve_own(terms: Terms, piece: Problem, start: Draft, now: datetime, deadline: float) -> tuple[Draft, bool]:
    """The same for a part that own stock fills wholly and in time: nothing else can be in a best plan of it, and
    without the rest it falls into smaller parts."""
    rows = []
    for row in piece.rows:
        columns = tuple(column for column in row.columns if column.own and not column.delay)
        lost = row.lost + sum(column.held > 0 for column in row.columns if column not in columns)
        rows.append(type(row)(row.need, row.quantity, columns, lost))
    found, sure = Draft(), True
    for part in parts(piece.part(rows)):
        names = {row.need.name for row in part.rows}
        mine = Draft({at: amount for at, amount in start.taken.items() if at[0] in names})
        value = _value(terms, part, mine, now)
        least = sum(row.lost for row in part.rows)
        if (value.changes - least, value.use_by, value.lots, value.preference) != (0, 0, 0, 0):
            mine, proven = _proven(terms, part, mine, now, deadline)
            sure &= proven
        found.add(mine)
    return found, sure


def _never_free(piece: Problem) -> bool:
    """Whether whatever is bought costs something."""
    lines = {column.key for row in piece.rows for column in row.columns if not column.own}
    for key in lines:
        line = piece.lines[key]
        for band in line.bands:
            priced = price_in(line, max(band.least, min(line.packs)))
            if band.minor == 0 or (priced is not None and priced[1] == 0):
                return False
    return True


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
    *, proven: bool, next_best: Value | None,
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
    return Plan(allocations, purchases, short, value, proven, "exact" if proven else "simple", next_best)
