"""Why a need takes what it takes: the best plans in which it is served otherwise, worked out on demand."""

import time
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder.model.plan import Allocation, Explanation, Need, Otherwise, Plan, Supply, Value
from kitbuilder.stock.components import Column, Problem, Row, problem_of
from kitbuilder.stock.draft import Draft, allocations_of, purchases_of
from kitbuilder.stock.exact import best_draft
from kitbuilder.stock.parts import parts, pruned
from kitbuilder.stock.terms import Key, Terms, factor
from kitbuilder.stock.value import worth


def explain(
    plan: Plan, need: str, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime, *, seconds: float = 20.0,
) -> Explanation:
    """Why a need, by its name, takes what it takes in a proven plan for these needs and supplies.

    Only what shares something with the need is planned again, with its choice forbidden. Known fault: in about one of a
    thousand cases drawn at random a plan with another choice is better than the one told. Raises ValueError if the
    plan isn't proven, or there is no such need.
    """
    if not plan.proven:
        raise ValueError("the plan isn't proven to be the best, so nothing can be said of what another choice costs")
    if need not in {one.name for one in needs}:
        raise ValueError(f"no need {need!r} in this plan")
    case = _Case(Terms(supplies), plan, needs, now, time.monotonic() + seconds)
    row = next(row for row in case.problem.rows if row.need.name == need)
    mine = {_key(one): one for one in plan.allocations if one.need == need}
    chosen = {(key[1], key[0], key[3]) for key in mine}
    others = tuple(column for column in row.columns if (column.key[1], column.key[0], column.key[3]) not in chosen)
    next_best = case.otherwise(_only(row, others), filled=False) if mine else None
    late = max((column.delay for column in row.columns if column.key in mine), default=0)
    short = need in plan.short
    if not short and not late:
        return Explanation(need, tuple(mine.values()), next_best)
    here = tuple(column for column in row.columns if short or column.delay < late)
    if any(not column.delay for column in here):
        here = tuple(column for column in here if not column.delay)
    in_time = case.otherwise(_only(row, here), filled=True) if here else None
    pools = {case.problem.pool_of[column.key] for column in here}
    taken_by = tuple(one for one in plan.allocations if one.need != need and case.problem.pool_of[_key(one)] in pools)
    return Explanation(need, tuple(mine.values()), next_best, in_time, taken_by)


def _only(row: Row, columns: tuple[Column, ...]) -> Row:
    """A row with these of its columns; what it holds elsewhere is lost."""
    lost = sum(column.held > 0 for column in row.columns if column not in columns)
    return msgspec.structs.replace(row, columns=columns, lost=row.lost + lost)


def _key(one: Allocation) -> Key:
    return (one.source, one.item, one.lot, one.slot)


class _Case(NamedTuple):
    terms: Terms
    plan: Plan
    needs: Sequence[Need]
    now: datetime
    deadline: float

    @property
    def problem(self) -> Problem:
        return problem_of(self.terms, self.needs, self.now)

    def otherwise(self, changed: Row, *, filled: bool) -> Otherwise | None:
        """The best plan with a need's row changed; `filled`: it must be filled."""
        whole = self.problem
        before = pruned(whole)
        other = whole.part([row for row in whole.rows if row.need.name != changed.need.name] + [changed])
        after = pruned(other) if not filled else _with(pruned(_with(other, changed, sure=False)), changed, sure=True)
        part, kept = self._together(before, after, changed.need.name)
        old = self._value(before, self._draft(before, kept), kept)
        solved = best_draft(part, None, self.deadline)
        if solved.draft is None or not solved.proven:
            return None
        new = self._value(part, solved.draft, kept)
        if new != solved.value:
            return None
        fields = Value.__struct_fields__
        value = Value(*(getattr(self.plan.value, one) + getattr(new, one) - getattr(old, one) for one in fields))
        worse = next((one for one in fields if getattr(value, one) != getattr(self.plan.value, one)), "")
        takes = tuple(one for one in allocations_of(self.terms, solved.draft) if one.need == changed.need.name)
        by = getattr(value, worse) - getattr(self.plan.value, worse) if worse else 0
        return Otherwise(takes, value, worse, by)

    def _together(self, before: Problem, after: Problem, need: str) -> tuple[Problem, set[str]]:
        """What must be planned again together with a need: whatever it shares with others before or after."""
        rows = []
        for one, other in zip(before.rows, after.rows, strict=True):
            columns = {column.key: column for column in (*one.columns, *other.columns)}
            rows.append(msgspec.structs.replace(one, columns=tuple(columns.values()), sure=one.sure and other.sure))
        names = next({row.need.name for row in part.rows} for part in parts(before.part(rows))
                     if need in {row.need.name for row in part.rows})
        return after.part([row for row in after.rows if row.need.name in names]), names

    def _draft(self, problem: Problem, names: Collection[str]) -> Draft:
        """The plan's own draft for some needs; of a line at prices of their own they have their part."""
        draft = Draft()
        for one in self.plan.allocations:
            if one.need in names:
                amount = one.quantity * factor(self.terms.places[_key(one)].offer.unit)
                draft.taken[one.need, _key(one)] = amount
                line = problem.lines.get(_key(one))
                if line is not None and line.plain:
                    pack = line.packs[0]
                    packs = draft.bought.setdefault(_key(one), {})
                    packs[pack] = packs.get(pack, 0) + amount // pack
        for bought in self.plan.purchases:
            key = self.terms.bought[bought.source, bought.slot, bought.item]
            line = problem.lines[key]
            if not line.plain and any(at == key for _, at in draft.taken):
                times = factor(self.terms.places[key].offer.unit)
                draft.bought[key] = {pack * times: count for pack, count in bought.packs} or {
                    line.packs[0]: bought.quantity * times // line.packs[0]}
        return draft

    def _value(self, problem: Problem, draft: Draft, names: Collection[str]) -> Value:
        needs = [row.need for row in problem.rows if row.need.name in names]
        purchases = purchases_of(self.terms, problem, draft)
        return worth(self.terms, needs, allocations_of(self.terms, draft), purchases, self.now)


def _with(problem: Problem, changed: Row, *, sure: bool) -> Problem:
    rows = [row for row in problem.rows if row.need.name != changed.need.name]
    return problem.part([*rows, msgspec.structs.replace(changed, sure=sure)])
