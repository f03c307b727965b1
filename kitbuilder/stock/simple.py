"""A rule of thumb that always finds a plan: each booking in turn takes what comes soonest and costs least."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from itertools import product

from kitbuilder.stock.components import Column, Order, Problem, Row
from kitbuilder.stock.draft import Draft, trim
from kitbuilder.stock.packs import cheapest, price_in
from kitbuilder.stock.terms import Key


def simple(problem: Problem, first: Draft | None = None) -> Draft:
    """A plan that keeps every rule, not always the best: VOR bookings first, then in the order of their wanted times.
    What some needs take may be given (`first`).

    Places that turn out to be impossible to order from (packs beyond the pool, an order below its minimum) are left
    out, and all is tried again; each round leaves out more, so it ends.
    """
    barred: set[Key] = set()
    while True:
        draft = _Round(problem, barred).run(first or Draft())
        wrong = _order(problem, draft)
        if not wrong:
            trim(problem, draft)
            return draft
        barred |= wrong


class _Round:
    def __init__(self, problem: Problem, barred: set[Key]) -> None:
        self.problem, self.barred = problem, barred
        self.left: dict[tuple[str, Key], int] = {}
        for key in {column.key for row in problem.rows for column in row.columns}:
            for kind, limits, of in (("pool", problem.pools, problem.pool_of[key]), ("most", problem.mosts, key)):
                if of in limits:
                    self.left[kind, of] = limits[of]
        self.opened: set[Order] = set()
        self.draft = Draft()

    def run(self, first: Draft) -> Draft:
        bookings: dict[int, list[Row]] = {}
        given = {row.need.name: [(row, column, first.taken[row.need.name, column.key]) for column in row.columns
                                 if first.taken.get((row.need.name, column.key), 0)] for row in self.problem.rows}
        kept = {row.need.booking for row in self.problem.rows if given[row.need.name]}
        kept -= {row.need.booking for row in self.problem.rows
                 if any(column.key in self.barred for _, column, _ in given[row.need.name])}
        for row in self.problem.rows:
            if row.need.booking not in kept or not (given[row.need.name] or row.need.circuit or row.need.binding):
                bookings.setdefault(row.need.booking, []).append(row)
            else:
                self._apply(given[row.need.name])
        for booking in sorted(bookings, key=lambda booking: _turn(booking, bookings[booking])):
            for group in _together(bookings[booking]):
                self._take(group)
        return self.draft

    def _take(self, group: list[Row]) -> None:
        if len(group) == 1 and not group[0].need.circuit and not group[0].need.binding:
            self._apply(self._fill(group[0], group[0].columns, {}))
            return
        best = None
        for ways, items in _choices(group):
            used: dict[tuple[str, Key], int] = {}
            taken: list[tuple[Row, Column, int]] = []
            lacks = []
            for row in group:
                if row.need.binding and ways[row.need.binding] not in row.need.ways:
                    continue
                item = items.get(row.need.circuit)
                filled = self._fill(
                    row, [column for column in row.columns if not row.need.circuit or column.key[1] == item], used)
                lacks.append(max(0, row.quantity - sum(amount for _, _, amount in filled)))
                taken += filled
            rank = (
                sum(lack > 0 for lack in lacks), max((column.delay for _, column, _ in taken), default=0), sum(lacks),
                sum(not column.own for _, column, _ in taken),
                sum(amount * column.preference for _, column, amount in taken), sum(ways.values()))
            if best is None or rank < best[0]:
                best = (rank, taken)
        if best is not None:
            self._apply(best[1])

    def _fill(
        self, row: Row, columns: Iterable[Column], used: dict[tuple[str, Key], int],
    ) -> list[tuple[Row, Column, int]]:
        """What a need can take of these columns, `used` being taken already, beside what is applied."""
        want, taken = row.quantity, []
        for column in sorted(columns, key=self._liking):
            if want <= 0 or column.key in self.barred:
                continue
            limits = [("pool", self.problem.pool_of[column.key]), ("most", column.key)]
            here = [self.left[one] - used.get(one, 0) for one in limits if one in self.left]
            amount = min([-(-want // column.step), *(one // column.step for one in here)]) * column.step
            if amount <= 0:
                continue
            for one in limits:
                used[one] = used.get(one, 0) + amount
            taken.append((row, column, amount))
            want -= amount
        return taken

    def _liking(self, column: Column) -> tuple[object, ...]:
        price = 0.0
        opened = True
        if not column.own:
            line = self.problem.lines[column.key]
            price, opened = line.bands[0].minor / line.bands[0].per, line.order in self.opened
        if column.trip is not None:
            price, opened = 0.0, self.problem.orders[column.trip][0] == 0 or column.trip in self.opened
        return (column.delay, not column.own, not column.held, not opened, price, column.use_by, column.lots,
                column.preference, column.key)

    def _apply(self, taken: Iterable[tuple[Row, Column, int]]) -> None:
        for row, column, amount in taken:
            self.draft.taken[row.need.name, column.key] = amount
            for one in (("pool", self.problem.pool_of[column.key]), ("most", column.key)):
                if one in self.left:
                    self.left[one] -= amount
            if column.trip is not None:
                self.opened.add(column.trip)
            if not column.own:
                self.opened.add(self.problem.lines[column.key].order)


def _together(rows: Iterable[Row]) -> list[list[Row]]:
    """A booking's needs, those of one circuit or binding together."""
    groups: list[tuple[set[tuple[str, str]], list[Row]]] = []
    for row in rows:
        need = row.need
        shared = {one for one in (("circuit", need.circuit), ("binding", need.binding)) if one[1]}
        mine, apart = [row], []
        for others, of in groups:
            if others & shared:
                shared |= others
                mine = of + mine
            else:
                apart.append((others, of))
        groups = [*apart, (shared, mine)]
    return [of for _, of in groups]


def _choices(group: Sequence[Row]) -> Iterator[tuple[dict[str, int], dict[str, str]]]:
    """Every choice of a way for each binding, and of an item for each circuit."""
    ways: dict[str, set[int]] = {}
    items: dict[str, set[str]] = {}
    for row in group:
        if row.need.binding:
            ways.setdefault(row.need.binding, set()).update(row.need.ways)
        if row.need.circuit:
            items.setdefault(row.need.circuit, set()).update(column.key[1] for column in row.columns)
    for of_ways in product(*map(sorted, ways.values())):
        for of_items in product(*(sorted(some) or [""] for some in items.values())):
            yield dict(zip(ways, of_ways, strict=True)), dict(zip(items, of_items, strict=True))


def _turn(booking: int, rows: list[Row]) -> tuple[bool, datetime, int]:
    return (not any(row.need.vor for row in rows), min(row.need.wanted_at.astimezone(UTC) for row in rows), booking)


def _order(problem: Problem, draft: Draft) -> set[Key]:
    """Buy what the draft takes; the places that can't be ordered from, if there are any."""
    demand: dict[Key, int] = {}
    for (_, key), amount in draft.taken.items():
        if key in problem.lines:
            demand[key] = demand.get(key, 0) + amount
    pools = {problem.pool_of[key] for key in demand}
    left = {pool: problem.pools[pool] for pool in pools if pool in problem.pools}
    orders: dict[Order, list[Key]] = {}
    wrong: set[Key] = set()
    for key in sorted(demand):
        pool = problem.pool_of[key]
        packs = cheapest(problem.lines[key], demand[key], left.get(pool))
        if packs is None:
            wrong.add(key)
            continue
        draft.bought[key] = packs
        if pool in left:
            left[pool] -= _held(packs)
        orders.setdefault(problem.lines[key].order, []).append(key)
    for order, keys in orders.items():
        _, minimum = problem.orders[order]
        worth = {key: _worth(problem, key, draft.bought[key]) for key in keys}
        missing = minimum - sum(worth.values())
        for key in keys if missing > 0 else ():
            pool = problem.pool_of[key]
            limit = left[pool] + _held(draft.bought[key]) if pool in left else None
            more = cheapest(problem.lines[key], demand[key], limit, worth[key] + missing)
            if more is not None:
                if pool in left:
                    left[pool] -= _held(more) - _held(draft.bought[key])
                draft.bought[key] = more
                break
        else:
            wrong |= set(keys) if missing > 0 else set()
    return wrong


def _held(packs: dict[int, int]) -> int:
    return sum(pack * count for pack, count in packs.items())


def _worth(problem: Problem, key: Key, packs: dict[int, int]) -> int:
    priced = price_in(problem.lines[key], _held(packs))
    return priced[1] if priced else 0
