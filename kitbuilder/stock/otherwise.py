"""The best plan in which some needs are served otherwise than in a given plan."""

import time
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Final, NamedTuple

import msgspec

from kitbuilder.model.plan import Allocation, Fares, Need, Otherwise, Plan, Supply, Value
from kitbuilder.stock.components import Column, Problem, Row, problem_of
from kitbuilder.stock.draft import Draft, allocations_of, purchases_of
from kitbuilder.stock.exact import best_draft
from kitbuilder.stock.part_model import NOTHING, Must
from kitbuilder.stock.parts import Ample, parts, pruned
from kitbuilder.stock.service import SERVICE, is_prompt
from kitbuilder.stock.simple import simple
from kitbuilder.stock.terms import Key, Terms, factor
from kitbuilder.stock.value import delays, worth

_FIELDS: Final = Value.__struct_fields__
_SERVICE: Final = len(SERVICE)


class Tried(NamedTuple):
    """The best plan of its kind, None if there is none; `known`: whether that was proven in time. `tied`: only that it
    serves bookings as well was."""

    otherwise: Otherwise | None
    known: bool
    tied: bool = False


def only(row: Row, columns: Sequence[Column]) -> Row:
    """A row with these of its columns; what it holds elsewhere is lost."""
    lost = sum(column.held > 0 for column in row.columns if column not in columns)
    return msgspec.structs.replace(row, columns=tuple(columns), lost=row.lost + lost)


def key_of(one: Allocation) -> Key:
    """The place that it is taken from."""
    return (one.source, one.item, one.lot, one.slot)


class Whole:
    """A plan with what it was made for. `delays`: how each booking fares in it, None where it is short."""

    def __init__(self, plan: Plan, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime) -> None:
        self.plan, self.now, self.terms = plan, now, Terms(supplies)
        self.problem = problem_of(self.terms, needs, now)
        self.rows = {row.need.name: row for row in self.problem.rows}
        self.delays = delays(self.terms, needs, plan.allocations, now)
        self._before = pruned(self.problem)
        # how well bookings are served hangs on no fee, and without fees more falls apart
        self._free = msgspec.structs.replace(self.problem, orders={
            order: (0, minimum) for order, (_, minimum) in self.problem.orders.items()})
        self._free_before = pruned(self._free)
        self._prompt_before = _prompt(self._free_before)
        self._best: dict[frozenset[str], bool] = {}
        self._best_served: dict[frozenset[str], bool] = {}

    def otherwise(self, changed: Sequence[Row], deadline: float, must: Must = NOTHING) -> Tried:
        """The best plan with the rows of some needs changed. `must`: what has to be filled in it, of theirs.

        Only what shares something with them is planned again; `deadline` is one of `time.monotonic`.
        """
        if time.monotonic() >= deadline:
            return Tried(None, known=False)
        names = {row.need.name for row in changed}
        before, after = _together(self._before, pruned(_with(self.problem, changed)), names)
        kept = {row.need.name for row in after.rows}
        draft = self._draft(before, kept)
        old = self._value(before, draft)
        if not (self.plan.proven or self._is_best(before, draft, old, deadline)):
            return Tried(None, known=False)
        start = simple(after) if must != NOTHING else _start(after, draft, names)
        solved = best_draft(after, start, deadline, must, known=old)
        if solved.draft is None or not solved.proven:
            return Tried(None, solved.proven)
        new = self._value(after, solved.draft)
        if new != solved.value or new < old:
            return Tried(None, known=False)
        bookings = {self.rows[name].need.booking for name in kept}
        needs = [row.need for row in self.problem.rows if row.need.booking in bookings]
        here = {need.name for need in needs} - kept
        apart = [one for one in self.plan.allocations if one.need in here]
        then = delays(self.terms, needs, [*allocations_of(self.terms, solved.draft), *apart], self.now)
        return Tried(self._told(solved.draft, names, old, new, then), known=True)

    def served(self, changed: Sequence[Row], deadline: float, must: Must) -> Tried:
        """The same, but where bookings are served worse, only that is told exactly: the fields of the value before
        money. It takes much less time: what can be bought in time, whatever others take, is left out (see `settle` in
        kitbuilder.stock.service). That counts for an order's minimum, so where there is one, it must make no
        difference whether it is asked for."""
        if any(self.lacks(row) for row in changed):
            return Tried(None, known=True)
        if time.monotonic() >= deadline:
            return Tried(None, known=False)
        names = {row.need.name for row in changed}
        free = pruned(_with(self._free, changed))
        prompt = self._prompt_before & _prompt(free)
        before, after = _together(_less(self._free_before, prompt), _less(free, prompt), names)
        old = self._service(before, after)
        if not (self.plan.proven or self._is_best_served(before, old, deadline)):
            return Tried(None, known=False)
        least = None
        if _minimums(after):
            easier = _without_minimums(after)
            eased = best_draft(easier, simple(easier), deadline, must, fields=_SERVICE)
            if eased.value is None or not eased.proven:
                return Tried(None, eased.proven and eased.draft is None)
            least = _service(eased.value)
        solved = best_draft(after, simple(after), deadline, must, known=_padded(old), fields=_SERVICE)
        if solved.draft is None or solved.value is None or not solved.proven:
            return Tried(None, solved.proven) if least is None else self.otherwise(changed, _half(deadline), must)
        new = _service(self._value(after, solved.draft))
        if new != _service(solved.value) or new < old:
            return Tried(None, known=False)
        if least not in (None, new):
            return self.otherwise(changed, _half(deadline), must)
        if new == old and self.plan.proven:
            tried = self.otherwise(changed, _half(deadline), must)
            if tried.known:
                return tried
        needs = [row.need for row in after.rows]
        then = delays(self.terms, needs, allocations_of(self.terms, solved.draft), self.now)
        return Tried(self._told(solved.draft, names, _padded(old), _padded(new), then), known=True, tied=new == old)

    def _service(self, before: Problem, after: Problem) -> tuple[int, ...]:
        """How well the plan serves the bookings of a part: those that come short or late in it, if they do at all."""
        bookings = {row.need.booking for row in (*before.rows, *after.rows)
                    if not row.sure or row.need.circuit or any(column.delay for column in row.columns)}
        needs = [row.need for row in self.problem.rows if row.need.booking in bookings]
        names = {need.name for need in needs}
        takes = [one for one in self.plan.allocations if one.need in names]
        return _service(worth(self.terms, needs, takes, (), self.now))

    def _is_best_served(self, part: Problem, service: tuple[int, ...], deadline: float) -> bool:
        """Whether no plan serves the bookings of a part better."""
        if self.plan.gap is not None and self.plan.gap.field not in SERVICE:
            return True
        part = _without_minimums(part)
        names = frozenset(row.need.name for row in part.rows)
        if not self._best_served.get(names):
            best = best_draft(part, simple(part), deadline, fields=_SERVICE)
            self._best_served[names] = best.value is not None and best.proven and _service(best.value) == service
        return self._best_served[names]

    def lacks(self, row: Row) -> bool:
        """Whether all that there is in the places of a row couldn't fill it, though it is needed in any case."""
        there: dict[Key, int] = {}
        for column in row.columns:
            pool, line = self.problem.pool_of[column.key], self.problem.lines.get(column.key)
            limits = [row.most, self.problem.mosts.get(column.key), None if column.own or line is None else line.most]
            there[pool] = there.get(pool, 0) + min(limit for limit in limits if limit is not None)
        held = sum(min(amount, self.problem.pools.get(pool, amount)) for pool, amount in there.items())
        return not row.need.binding and held < row.quantity

    def _is_best(self, part: Problem, draft: Draft, value: Value, deadline: float) -> bool:
        """Whether what the plan has for a part is proven to be the best there is."""
        names = frozenset(row.need.name for row in part.rows)
        if not self._best.get(names):
            best = best_draft(part, draft, deadline)
            self._best[names] = best.proven and best.value == value
        return self._best[names]

    def _draft(self, problem: Problem, names: Collection[str]) -> Draft:
        """The plan's own draft for some needs. Of an order line that others take from too, they have what they take:
        each amount of such a line costs its own price, else the others would be among them."""
        draft = Draft()
        shared = {key_of(one) for one in self.plan.allocations if one.need not in names}
        for one in self.plan.allocations:
            if one.need in names:
                key = key_of(one)
                amount = one.quantity * factor(self.terms.places[key].offer.unit)
                draft.taken[one.need, key] = amount
                if key in problem.lines and key in shared:
                    pack = problem.lines[key].packs[0]
                    packs = draft.bought.setdefault(key, {})
                    packs[pack] = packs.get(pack, 0) + amount // pack
        takes = {key for _, key in draft.taken}
        for bought in self.plan.purchases:
            key = self.terms.bought[bought.source, bought.slot, bought.item]
            if key in takes and key not in shared:
                times = factor(self.terms.places[key].offer.unit)
                draft.bought[key] = {pack * times: count for pack, count in bought.packs} or {
                    problem.lines[key].packs[0]: bought.quantity * times // problem.lines[key].packs[0]}
        return draft

    def _value(self, problem: Problem, draft: Draft) -> Value:
        needs = [row.need for row in problem.rows]
        purchases = purchases_of(self.terms, problem, draft)
        return worth(self.terms, needs, allocations_of(self.terms, draft), purchases, self.now)

    def _told(self, draft: Draft, names: Collection[str], old: Value, new: Value,
              then: Mapping[int, int | None]) -> Otherwise:
        value = Value(*(getattr(self.plan.value, one) + getattr(new, one) - getattr(old, one) for one in _FIELDS))
        worse = next((one for one in _FIELDS if getattr(value, one) != getattr(self.plan.value, one)), "")
        by = getattr(value, worse) - getattr(self.plan.value, worse) if worse else 0
        fares = tuple(Fares(booking, self.delays[booking], then[booking])
                      for booking in sorted(then) if then[booking] != self.delays[booking])
        takes = tuple(one for one in allocations_of(self.terms, draft) if one.need in names)
        return Otherwise(takes, value, worse, by, fares)


def _with(problem: Problem, changed: Sequence[Row]) -> Problem:
    names = {row.need.name for row in changed}
    return problem.part([*(row for row in problem.rows if row.need.name not in names), *changed])


def _together(before: Problem, after: Problem, names: Collection[str]) -> tuple[Problem, Problem]:
    """What must be planned again together with some needs, before and after: whatever they share with others."""
    rows = []
    for one, other in zip(before.rows, after.rows, strict=True):
        columns = {column.key: column for column in (*one.columns, *other.columns)}
        rows.append(msgspec.structs.replace(one, columns=tuple(columns.values()), sure=one.sure and other.sure))
    kept: set[str] = set()
    for part in parts(after.part(rows)):
        mine = {row.need.name for row in part.rows}
        if mine & set(names):
            kept |= mine
    return (before.part(row for row in before.rows if row.need.name in kept),
            after.part(row for row in after.rows if row.need.name in kept))


def _prompt(problem: Problem) -> set[str]:
    """The needs that can be bought in time, whatever others take."""
    ample = Ample(problem)
    return {row.need.name for row in problem.rows if is_prompt(row, ample)}


def _less(problem: Problem, names: Collection[str]) -> Problem:
    return problem.part(row for row in problem.rows if row.need.name not in names)


def _minimums(problem: Problem) -> bool:
    """Whether some order of a part has a minimum."""
    return any(problem.orders[problem.lines[column.key].order][1] for row in problem.rows for column in row.columns
               if not column.own)


def _without_minimums(problem: Problem) -> Problem:
    return msgspec.structs.replace(problem, orders={order: (fee, 0) for order, (fee, _) in problem.orders.items()})


def _half(deadline: float) -> float:
    """Half of the time that is left: others want to be explained too."""
    return deadline - max(0.0, deadline - time.monotonic()) / 2


def _service(value: Value) -> tuple[int, ...]:
    return tuple(getattr(value, field) for field in SERVICE)


def _padded(service: tuple[int, ...]) -> Value:
    return Value(*service, *[0] * (len(_FIELDS) - len(service)))


def _start(after: Problem, draft: Draft, names: Collection[str]) -> Draft:
    """Something to begin with: a plan's own draft without what some needs take, where all else can still be had."""
    there = {(row.need.name, column.key) for row in after.rows for column in row.columns}
    start = Draft({at: amount for at, amount in draft.taken.items() if at[0] not in names})
    if not start.taken.keys() <= there:
        return simple(after)
    takes = {key for _, key in start.taken}
    start.bought = {key: packs for key, packs in draft.bought.items() if key in takes}
    return start
