"""The parts of a problem that share nothing, after leaving out what no best plan needs."""

from collections.abc import Iterator

import msgspec

from kitbuilder.stock.components import Column, Problem, Row
from kitbuilder.stock.terms import Key


def pruned(problem: Problem) -> Problem:
    """The problem without columns that some best plan does without, and with the rows marked that can always be filled.

    Some best plan does without buying for a need that own stock fills in time, whatever others take of it: that costs
    nothing, and is used first (see `Value`). Only an order's minimum might make buying worth while. And it does without
    buying what another place sells as much as is wanted of, each amount at its own price, no later and no dearer.
    Needs with a circuit or a binding are left as they are, and so is what a need holds.
    """
    ample = Ample(problem)
    return msgspec.structs.replace(problem, rows=tuple(_pruned(problem, row, ample) for row in problem.rows))


class Ample:
    """Which places hold as much as all needs together could take from them."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.wanted: dict[Key, int] = {}
        for row in problem.rows:
            for pool in {problem.pool_of[column.key] for column in row.columns}:
                self.wanted[pool] = self.wanted.get(pool, 0) + row.most
        # of what packs hold too much, and a price asks for, each slot may have to be given as much
        self.over: dict[Key, int] = {}
        for key, line in problem.lines.items():
            pool = problem.pool_of[key]
            self.over[pool] = self.over.get(pool, 0) + line.bands[0].least + max(line.packs)
        # of rows that take from several pools, what each might take from another one counts in each
        self.takers: dict[Key, set[str]] = {}
        self.most = {row.need.name: row.most for row in problem.rows}
        for row in problem.rows:
            for column in row.columns:
                self.takers.setdefault(problem.pool_of[column.key], set()).add(row.need.name)
        self._known: dict[frozenset[Key], bool] = {}

    def own(self, row: Row) -> bool:
        """Whether own stock that is in time fills the need whatever others take."""
        here = [column for column in row.columns if column.own and not column.delay and not self._costs(column)]
        pools = frozenset(self.problem.pool_of[column.key] for column in here)
        limited = any(column.key in self.problem.mosts for column in here)
        if not here or limited or len({column.step for column in here}) > 1 or row.quantity % here[0].step:
            return False
        if pools not in self._known:
            if any(pool not in self.problem.pools for pool in pools):
                self._known[pools] = True
            else:
                takers = set().union(*(self.takers[pool] for pool in pools))
                self._known[pools] = sum(self.problem.pools[pool] for pool in pools) >= sum(
                    self.most[name] for name in takers)
        return self._known[pools]

    def _costs(self, column: Column) -> bool:
        return column.trip is not None and self.problem.orders[column.trip][0] > 0

    def bought(self, column: Column) -> bool:
        """Whether as much of it can be bought as all needs could take, without regard to an order's minimum."""
        return not column.own and not self.problem.orders[self.problem.lines[column.key].order][1] and all(
            limit >= self._room(column) for limit in self._limits(column))

    def ordered(self, column: Column) -> bool:
        """The same with regard to it: the order can be brought to its minimum with this line alone."""
        if column.own or not self.problem.orders[self.problem.lines[column.key].order][1]:
            return self.bought(column)
        return not self._limits(column) and self.problem.lines[column.key].bands[-1].minor > 0

    def _limits(self, column: Column) -> list[int]:
        line, pool = self.problem.lines[column.key], self.problem.pool_of[column.key]
        return [one for one in (line.most, self.problem.pools.get(pool)) if one is not None]

    def _room(self, column: Column) -> int:
        pool = self.problem.pool_of[column.key]
        return self.wanted[pool] + self.over[pool]


def _pruned(problem: Problem, row: Row, ample: Ample) -> Row:
    if row.need.circuit or row.need.binding:
        return row
    if ample.own(row):
        kept = [column for column in row.columns
                if column.own or column.held or problem.orders[problem.lines[column.key].order][1]]
        return msgspec.structs.replace(row, columns=tuple(kept), sure=True)
    always = [column for column in row.columns if ample.bought(column)]
    plain = [column for column in always if problem.lines[column.key].plain
             and problem.orders[problem.lines[column.key].order] == (0, 0)]
    kept = [column for column in row.columns if column.own or column.held or not any(
        _beats(problem, other, column) for other in plain)]
    whole = [column for column in always if row.quantity % column.step == 0]
    return msgspec.structs.replace(row, columns=tuple(kept), sure=bool(whole) and len(
        {column.step for column in row.columns}) == 1)


def _beats(problem: Problem, one: Column, other: Column) -> bool:
    """Whether buying at one place is never worse than at another; of two that are alike the first is."""
    if one is other or one.delay > other.delay or one.preference > other.preference:
        return False
    mine, yours = problem.lines[one.key], problem.lines[other.key]
    if yours.order in problem.orders and problem.orders[yours.order][1]:
        return False
    band = mine.bands[0]
    if not yours.plain or band.minor * yours.bands[0].per > yours.bands[0].minor * band.per:
        return False
    alike = (band.minor * yours.bands[0].per == yours.bands[0].minor * band.per and one.delay == other.delay
             and one.preference == other.preference and problem.orders[yours.order] == (0, 0))
    return not alike or one.key < other.key


def parts(problem: Problem) -> Iterator[Problem]:
    """The problem in parts that share nothing: the value of the whole is the sum of theirs, and so is the best value.

    Joined are the needs of a booking that can be late or short, and those that take from a pool or slot which could run
    out, from one order line (unless amounts there cost the same each for themselves), in one order with a fee or
    minimum, or of one trip that costs something.
    """
    leader = list(range(len(problem.rows)))

    def find(one: int) -> int:
        while leader[one] != one:
            leader[one] = leader[leader[one]]
            one = leader[one]
        return one

    first: dict[object, int] = {}

    def join(number: int, shared: object) -> None:
        leader[find(number)] = find(first.setdefault(shared, number))

    wanted: dict[Key, int] = {}
    for row in problem.rows:
        for key in {problem.pool_of[column.key] for column in row.columns if not column.own}:
            wanted[key] = wanted.get(key, 0) + row.most
    for number, row in enumerate(problem.rows):
        if not row.sure or row.need.circuit or any(column.delay for column in row.columns):
            join(number, row.need.booking)
        for column in row.columns:
            if column.trip is not None and problem.orders[column.trip][0]:
                join(number, column.trip)
            if column.own:
                continue
            line, pool = problem.lines[column.key], problem.pool_of[column.key]
            fee, minimum = problem.orders[line.order]
            if fee or minimum:
                join(number, line.order)
            if not line.plain or (line.most is not None and line.most < wanted[pool]) or (
                    pool in problem.pools and problem.pools[pool] < wanted[pool]):
                join(number, pool)
    for number, (_, members) in enumerate(problem.limits()):
        for one, _ in members:
            join(one, number)
    groups: dict[int, list[Row]] = {}
    for number, row in enumerate(problem.rows):
        groups.setdefault(find(number), []).append(row)
    for group in groups.values():
        yield problem.part(group)
