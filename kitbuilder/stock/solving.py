"""The parts of a problem, each solved as well as the time allows."""

import time
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.model.plan import Gap, Value
from kitbuilder.stock.components import Column, Order, Problem
from kitbuilder.stock.draft import Draft, allocations_of, purchases_of
from kitbuilder.stock.exact import NotServedError, best_draft
from kitbuilder.stock.parts import parts, pruned
from kitbuilder.stock.service import SERVICE, Served, Settled, settle
from kitbuilder.stock.simple import simple
from kitbuilder.stock.terms import Terms
from kitbuilder.stock.value import worth

#: Where the fields begin that own stock alone decides: all before it are zero if own stock fills everything in time.
_OWN_ALONE = Value.__struct_fields__.index("changes")
#: How many times as long a part's model takes to make as its plan by a rule of thumb.
_MODEL = 4


class Part(NamedTuple):
    """A plan for one part and what it is worth. `field`: the place of the first field of its value that isn't proven,
    None if all are, and `least` what that can't be less than."""

    problem: Problem
    draft: Draft
    value: Value
    field: int | None = None
    least: int = 0


def gap_of(found: Sequence[Part]) -> Gap | None:
    """What isn't proven of all parts together."""
    places = [part.field for part in found if part.field is not None]
    if not places:
        return None
    name = Value.__struct_fields__[min(places)]
    values = [getattr(part.value, name) for part in found]
    least = [min(value, part.least) if part.field == min(places) else value
             for value, part in zip(values, found, strict=True)]
    return Gap(name, sum(values), sum(least))


class Solving(NamedTuple):
    """Parts are solved for themselves, until `deadline` (of `time.monotonic`) together, the small ones first."""

    terms: Terms
    now: datetime
    deadline: float

    def whole(self, problem: Problem) -> list[Part]:
        """Plans for all parts."""
        return [self._solve(part, Draft(), None) for part in sorted(parts(problem), key=_size)]

    def lazily(self, problem: Problem) -> list[Part]:
        """The same, with the minimums of orders left out until a plan breaks them: without, more falls apart, and a
        best plan that keeps them all the same is a best plan. In each round the service of bookings is settled first;
        where that can't be had together, what is settled is left out too."""
        asked: set[Order] = set()
        known: dict[tuple[frozenset[str], frozenset[Order]], Part] = {}
        settled = True
        while True:
            orders = {order: (fee, minimum if order in asked else 0)
                      for order, (fee, minimum) in problem.orders.items()}
            eased = pruned(msgspec.structs.replace(problem, orders=orders))
            found = settle(eased, self._service) if settled else Settled(eased, (), Draft())
            made = []
            try:
                for part in sorted(parts(found.problem), key=_size):
                    names = frozenset(row.need.name for row in part.rows), _orders(part) & asked
                    if names not in known:
                        known[names] = self._solve(part, found.draft, _of(part, found.served) if settled else None)
                    made.append(known[names])
            except NotServedError:
                settled = False
                known.clear()
                continue
            broken = self._broken(problem, made)
            if not broken:
                return made
            asked |= broken

    def _broken(self, problem: Problem, found: Sequence[Part]) -> set[Order]:
        """The orders that some plan is below the minimum of."""
        spent: dict[Order, int] = {}
        whole = Draft()
        for part in found:
            whole.add(part.draft)
        for bought in purchases_of(self.terms, problem, whole):
            order = (bought.source, bought.slot)
            spent[order] = spent.get(order, 0) + bought.minor
        return {order for order, minor in spent.items() if minor < problem.orders[order][1]}

    def by_thumb(self, problem: Problem) -> list[Part]:
        """Plans by a rule of thumb, of which nothing is known."""
        return [self._unproven(part, simple(part), None) for part in parts(problem)]

    def value(self, problem: Problem, draft: Draft) -> Value:
        """What a plan for a part is worth."""
        needs = [row.need for row in problem.rows]
        return worth(self.terms, needs, allocations_of(self.terms, draft), purchases_of(self.terms, problem, draft),
                     self.now)

    def _service(self, problem: Problem) -> tuple[Draft, Value, int, int]:
        start = simple(problem)
        value = self.value(problem, start)
        if not any(getattr(value, field) for field in SERVICE):
            return start, value, len(SERVICE), 0
        if time.monotonic() >= self.deadline:
            return start, value, 0, 0
        best = best_draft(problem, start, self.deadline, fields=len(SERVICE))
        if best.draft is None or best.value is None:
            return start, value, 0, 0
        found = self.value(problem, best.draft)
        same = all(getattr(found, field) == getattr(best.value, field) for field in SERVICE)
        if not same:
            return start, value, 0, 0
        proven, least = (len(SERVICE), 0) if best.proven else (best.field, best.least)
        return (best.draft, found, proven, least) if found < value else (start, value, proven, least)

    def _solve(self, problem: Problem, first: Draft, served: Sequence[Served] | None) -> Part:
        """A plan for one part, the best if there is time. `first`: what some needs may take; `served`: of a settled
        problem, the bookings that this is known of."""
        begun = time.monotonic()
        start = simple(problem, first)
        value = self.value(problem, start)
        model_s = _MODEL * (time.monotonic() - begun)
        if _no_choice(problem):
            return Part(problem, start, value)
        fields = list(msgspec.structs.astuple(value))
        fields[_OWN_ALONE] -= sum(row.lost for row in problem.rows)
        if not any(fields) and not start.bought:
            return Part(problem, start, value)  # no field can be less
        if not any(fields[:_OWN_ALONE]) and not start.bought and not any(
                row.need.binding or any(column.held and not column.own for column in row.columns)
                for row in problem.rows):
            return self._own(problem, start)
        if time.monotonic() + model_s >= self.deadline:
            return self._unproven(problem, start, served)
        return self._proven(problem, start, served)

    def _own(self, problem: Problem, start: Draft) -> Part:
        """A plan for a part that own stock fills wholly and in time: nothing else is in a best plan of it (what is
        bought comes after all own stock), and without the rest it falls into smaller parts."""
        rows = []
        for row in problem.rows:
            columns = tuple(column for column in row.columns if column.own and not column.delay)
            lost = row.lost + sum(column.held > 0 for column in row.columns if column not in columns)
            rows.append(msgspec.structs.replace(row, columns=columns, lost=lost))
        found = []
        for part in parts(problem.part(rows)):
            names = {row.need.name for row in part.rows}
            mine = Draft({at: amount for at, amount in start.taken.items() if at[0] in names})
            value = self.value(part, mine)
            least = sum(row.lost for row in part.rows)
            best = (value.changes - least, value.use_by, value.lots, value.preference) == (0, 0, 0, 0)
            found.append(Part(part, mine, value) if best else self._proven(part, mine, None))
        whole = Draft()
        for one in found:
            whole.add(one.draft)
        gap, value = gap_of(found), self.value(problem, whole)
        if gap is None:
            return Part(problem, whole, value)
        return Part(problem, whole, value, Value.__struct_fields__.index(gap.field), gap.least)

    def _proven(self, problem: Problem, start: Draft, served: Sequence[Served] | None) -> Part:
        """The solver's plan. It is proven only if its value is, to the unit, what the solver says; if it isn't proven,
        it gives way to the start if that is better."""
        if time.monotonic() >= self.deadline:
            return self._unproven(problem, start, served)
        best = best_draft(problem, start, self.deadline, served=None if served is None else _proven(served))
        if best.draft is None:
            told = self._unproven(problem, start, served)
            return told._replace(least=max(told.least, best.least)) if told.field == best.field else told
        value = self.value(problem, best.draft)
        if best.proven and value == best.value:
            return Part(problem, best.draft, value)
        thumb = self.value(problem, start)
        better, value = (start, thumb) if thumb < value else (best.draft, value)
        told = self._unproven(problem, better, served)
        if best.proven or told.field is None or (told.field, told.least) > (best.field, best.least):
            return told
        return Part(problem, better, value, best.field, best.least)

    def _unproven(self, problem: Problem, draft: Draft, served: Sequence[Served] | None) -> Part:
        """A plan of which nothing is known but how well bookings can be served, and that no field can be negative."""
        value = self.value(problem, draft)
        for place, field in enumerate(Value.__struct_fields__):
            least = sum(one.at_least(place) for one in served or ()) if place < len(SERVICE) else 0
            if getattr(value, field) != least:
                return Part(problem, draft, value, place, least)
        return Part(problem, draft, value)


def _size(problem: Problem) -> int:
    return len(problem.rows)


def _orders(problem: Problem) -> frozenset[Order]:
    return frozenset(problem.lines[column.key].order for row in problem.rows for column in row.columns
                     if not column.own)


def _of(problem: Problem, served: Sequence[Served]) -> list[Served]:
    """What is known of the service of a part's bookings."""
    bookings = {row.need.booking for row in problem.rows}
    return [one for one in served if one.bookings & bookings]


def _proven(served: Sequence[Served]) -> list[Served]:
    """What is known of it for certain, of bookings that share nothing with others."""
    return [one for one in served if one.proven == len(SERVICE)]


def _no_choice(problem: Problem) -> bool:
    """Whether each need has one place, which always fills it, at a price of its own if it is bought."""
    return all(row.sure and len(row.columns) == 1 and _plain(problem, row.columns[0]) for row in problem.rows)


def _plain(problem: Problem, column: Column) -> bool:
    return column.own or (
        problem.lines[column.key].plain and problem.orders[problem.lines[column.key].order][1] == 0)
