"""What follows for bookings where pools run out."""

from collections.abc import Iterator, Mapping

from kitbuilder.stock.components import Problem, Row
from kitbuilder.stock.terms import Key
from kitbuilder.stock.whole import Terms


def scarce(
    problem: Problem, grain: int, short: Mapping[int, int], late: Mapping[int, Mapping[int, int]],
) -> Iterator[tuple[int, Terms]]:
    """What follows from the other rows where pools run out: of the needs that only some pools can fill by a delay,
    no more are filled by then than the pools hold. It says of bookings alone what else is spread over many rows,
    and makes the search much shorter."""
    by_pools: dict[frozenset[Key], list[tuple[Row, int | None]]] = {}
    for row in problem.rows:
        for delay in () if row.need.binding else (*sorted(late[row.need.booking]), None):
            pools = frozenset(
                problem.pool_of[column.key] for column in row.columns if delay is None or column.delay < delay)
            if pools <= problem.pools.keys():
                by_pools.setdefault(pools, []).append((row, delay))
    by_first: dict[Key, list[frozenset[Key]]] = {}
    for pools in by_pools:
        if pools:
            by_first.setdefault(min(pools), []).append(pools)
    for pools in by_pools:
        latest: dict[str, tuple[Row, int | None]] = {}
        within = [one for pool in sorted(pools) for one in by_first.get(pool, ()) if one <= pools]
        for others in (frozenset[Key](), *within):
            for row, delay in by_pools.get(others, ()):
                before = latest.get(row.need.name)
                if before is None or (before[1] is not None and (delay is None or delay > before[1])):
                    latest[row.need.name] = (row, delay)
        terms: Terms = {}
        wanted = 0
        for row, delay in latest.values():
            quantity, booking = row.quantity // grain, row.need.booking
            wanted += quantity
            for variable in (short[booking], *(() if delay is None else (late[booking][delay],))):
                terms[variable] = terms.get(variable, 0) + quantity
        there = sum(problem.pools[pool] // grain for pool in pools)
        if wanted > there:
            yield wanted - there, terms
