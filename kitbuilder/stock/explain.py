"""Why a need takes what it takes, and why a booking is late or short: the best plans in which it is otherwise."""

import time
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Literal

from kitbuilder.model.plan import Allocation, Explanation, Lost, Need, Plan, Supply
from kitbuilder.stock.components import Row
from kitbuilder.stock.otherwise import Tried, Whole, key_of, only
from kitbuilder.stock.part_model import Must


def explain(
    plan: Plan, need: str, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime, *, seconds: float = 20.0,
) -> Explanation:
    """Why a need, by its name, takes what it takes in a plan for these needs and supplies. See `Explainer.need`."""
    return Explainer(plan, needs, supplies, now).need(need, seconds=seconds)


class Explainer:
    """Explains one plan; what explanations have in common is worked out once.

    Only what shares something with what is asked about is planned again. Of a plan that isn't proven a part is
    explained if that can be proven meanwhile.
    """

    def __init__(self, plan: Plan, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime) -> None:
        self.plan = plan
        self._whole = Whole(plan, needs, supplies, now)
        self._taken: dict[str, list[Allocation]] = {}
        for one in plan.allocations:
            self._taken.setdefault(one.need, []).append(one)
        self._rows: dict[int, list[Row]] = {}
        for row in self._whole.problem.rows:
            self._rows.setdefault(row.need.booking, []).append(row)

    def need(self, name: str, *, seconds: float = 20.0) -> Explanation:
        """Why a need takes what it takes. Raises ValueError if there is no such need."""
        if name not in self._whole.rows:
            raise ValueError(f"no need {name!r} in this plan")
        deadline = time.monotonic() + seconds
        row, mine = self._whole.rows[name], self._taken.get(name, [])
        chosen = {_choice(key_of(one)) for one in mine}
        others = [column for column in row.columns if _choice(column.key) not in chosen]
        following = self._whole.otherwise([only(row, others)], deadline) if mine else Tried(None, True)
        return Explanation(name, tuple(mine), following.otherwise, following.known)

    def late(self) -> list[int]:
        """The bookings that are late or short, by number."""
        return sorted(booking for booking, delay in self._whole.delays.items() if delay != 0)

    def booking(self, number: int, *, seconds: float = 20.0) -> Lost:
        """Why a booking that is late or short is. Raises ValueError if it isn't in the plan."""
        if number not in self._rows:
            raise ValueError(f"no booking {number} in this plan")
        delay, rows = self._whole.delays[number], self._rows[number]
        wanting = [row for row in rows if self._delay(row) != 0]
        goal, sooner = self._sooner(
            rows, Must(bookings=frozenset([number])), delay, time.monotonic() + seconds)
        return Lost(number, delay, tuple(row.need.name for row in wanting), goal, sooner.otherwise,
                    self._taken_by(wanting, number, sooner), sooner.known, sooner.tied)

    def _delay(self, row: Row) -> int | None:
        """By how much a need is late, None if it isn't wholly filled."""
        if row.need.name in self.plan.short:
            return None
        taken = {key_of(one) for one in self._taken.get(row.need.name, ())}
        return max((column.delay for column in row.columns if column.key in taken), default=0)

    def _sooner(
        self, rows: Sequence[Row], must: Must, delay: int | None, deadline: float,
    ) -> tuple[Literal["on time", "sooner", "whole", "none"], Tried]:
        """The best plan in which needs are filled in time; if there is none, in which they are sooner, or filled."""
        goals = (("on time", 1), ("whole", None) if delay is None else ("sooner", delay))
        for goal, before in goals:
            changed = [only(row, [column for column in row.columns if before is None or column.delay < before])
                       for row in rows]
            tried = self._whole.served(changed, deadline, must)
            if tried.otherwise is not None or not tried.known:
                return goal, tried  # type: ignore[return-value]
        return "none", Tried(None, known=True)

    def _taken_by(self, rows: Sequence[Row], booking: int, sooner: Tried) -> tuple[Allocation, ...]:
        """What other bookings take of the places, where there isn't enough for all, that needs would take from."""
        if sooner.otherwise is None:
            return ()
        names, problem = {row.need.name for row in rows}, self._whole.problem
        places = {key_of(one) for one in sooner.otherwise.takes if one.need in names}
        pools = {problem.pool_of[key] for key in places} & problem.pools.keys()
        return tuple(one for one in self.plan.allocations if self._whole.rows[one.need].need.booking != booking and (
            problem.pool_of[key_of(one)] in pools or key_of(one) in places & problem.mosts.keys()))


def _choice(key: Collection[str]) -> tuple[str, ...]:
    """What makes one way of serving a need another than another way: not the lot."""
    source, item, _, slot = key
    return source, item, slot
