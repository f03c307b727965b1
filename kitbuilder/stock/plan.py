"""Sourcing: from what all bookings of a window need, and what the sources have, to the best plan.

`plan` is the one door. Best is what `Value` says, field by field: bookings short, bookings not on time, total delay,
what is missing all the same, money, changes to what is held, use-by, lots, the items' order.
"""

import time
from collections.abc import Sequence
from datetime import datetime

from kitbuilder.model.plan import Need, Plan, Supply, Value
from kitbuilder.stock.components import Problem, problem_of
from kitbuilder.stock.draft import Draft, allocations_of, purchases_of
from kitbuilder.stock.exact import next_draft
from kitbuilder.stock.part_model import choice_of
from kitbuilder.stock.solving import Part, Solving, gap_of
from kitbuilder.stock.terms import Terms, factor, smallest
from kitbuilder.stock.tidy import tidied
from kitbuilder.stock.value import filled, total, worth
from kitbuilder.stock.verify import verify
from kitbuilder.stock.ways import that_count


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
    begun = time.monotonic()
    terms = Terms(supplies)
    problem = problem_of(terms, needs, now)
    # to put a plan together and verify it takes about as long as what was done so far
    solving = Solving(terms, now, begun + seconds - (time.monotonic() - begun))
    found = solving.whole(problem) if with_next_best else solving.lazily(problem)
    following = _next_best(solving, found) if with_next_best and gap_of(found) is None else None
    made = _finished(terms, problem, found, needs, now, following)
    wrong = verify(needs, supplies, made, now)
    if wrong:
        made = _finished(terms, problem, solving.by_thumb(problem), needs, now, None)
        wrong = verify(needs, supplies, made, now)
    if wrong:
        raise AssertionError("; ".join(wrong))
    return made


def _next_best(solving: Solving, found: Sequence[Part]) -> Value | None:
    """The least value with another choice in one of the parts; None if there is none, or it isn't proven."""
    best: tuple[tuple[int, ...], int, Value] | None = None
    for number, part in enumerate(found):
        chosen = {choice_of(*at) for at, amount in part.draft.taken.items() if amount}
        other, sure = next_draft(part.problem, chosen, solving.deadline)
        if not sure:
            return None
        if other is None:
            continue
        draft, value = other
        if solving.value(part.problem, draft) != value:
            return None
        more = tuple(getattr(value, field) - getattr(part.value, field) for field in Value.__struct_fields__)
        if best is None or more < best[0]:
            best = (more, number, value)
    if best is None:
        return None
    return total([part.value if number != best[1] else best[2] for number, part in enumerate(found)])


def _finished(
    terms: Terms, problem: Problem, found: Sequence[Part], needs: Sequence[Need], now: datetime,
    next_best: Value | None,
) -> Plan:
    whole, gap = Draft(), gap_of(found)
    for part in found:
        whole.add(part.draft)
    whole = tidied(terms, needs, whole, now)
    allocations, purchases = allocations_of(terms, whole), purchases_of(terms, problem, whole)
    given = filled(terms, allocations)
    short = {}
    for need in sorted(that_count(needs, given), key=lambda need: need.name):
        lacks = smallest(need.quantity, need.unit) - given.get(need.name, 0)
        if lacks > 0:
            short[need.name] = -(-lacks // factor(need.unit))
    value = worth(terms, needs, allocations, purchases, now)
    return Plan(allocations, purchases, short, value, gap is None, "simple" if gap else "exact", next_best, gap)
