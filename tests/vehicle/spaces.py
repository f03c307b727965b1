"""The facts and tables of a drawn `Spec` as the values that kitbuilder.vehicle works on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction

from hypothesis import strategies as st

from kitbuilder.vehicle import facts as ours
from kitbuilder.vehicle.tables import Box, Row, Table, clusters, join
from kitbuilder.vehicle.values import Values, union
from kitbuilder.vehicle.worlds import Space
from tests import draw_worlds, specs
from tests.brute_worlds import Conditions, World


def fact(spec: specs.Fact) -> ours.Fact:
    """A fact, as the catalogue's reader makes it."""
    if isinstance(spec.first, date):
        kind, first = ours.DAYS, spec.first.toordinal()
    elif isinstance(spec.first, int):
        kind, first = ours.NUMBERS, spec.first
    else:
        kind, first = ours.LISTED, 0
    bare = ours.Fact(spec.name, spec.of, kind, len(spec.domain()), spec.values, first, {}, "", "")
    groups = {
        name: union(run for cell in cells for run in bare.read(cell)) for name, cells in spec.groups.items()
    }
    return ours.Fact(spec.name, spec.of, kind, bare.size, spec.values, first, groups, "", "")


def tables(spec: specs.Spec) -> list[Table]:
    """The combinations tables, by file name."""
    known = [fact(one) for one in spec.facts]
    number = {one.name: place for place, one in enumerate(known)}
    found = []
    for table in sorted(spec.tables, key=lambda table: table.file):
        rows = [
            Row(place + 2, box(spec, row), Fraction(table.shares[place]).as_integer_ratio() if table.shares else None)
            for place, row in enumerate(table.rows)
        ]
        found.append(Table(table.file, tuple(sorted(number[name] for name in table.facts)), tuple(rows)))
    return found


def box(spec: specs.Spec, conditions: Mapping[str, str]) -> Box:
    """Conditions as a box."""
    return {
        number: fact(one).read(conditions[one.name])
        for number, one in enumerate(spec.facts) if one.name in conditions
    }


def space(spec: specs.Spec) -> Space:
    """The space of a spec's facts and tables."""
    known = [fact(one) for one in spec.facts]
    return Space(known, [join(together, [one.size for one in known]) for together in clusters(tables(spec))])


def places(values: Values) -> set[int]:
    """A set of places, one by one."""
    return {place for first, last in values for place in range(first, last + 1)}


def words(spec: specs.Spec, number: int, values: Values) -> set[str]:
    """A set of places as the values that stand there."""
    domain = spec.facts[number].domain()
    return {domain[place] for place in places(values)}


def mask(spec: specs.Spec, rows: Iterable[Mapping[str, str]], world: World) -> int:
    """Which of some rows of conditions hold in a world, one bit each."""
    read = Conditions(spec)
    return sum(1 << number for number, row in enumerate(rows) if read.hold(row, world))


@st.composite
def drawn(draw: st.DrawFn) -> specs.Spec:
    """Facts and tables, and nothing else."""
    of = draw(draw_worlds.facts())
    return specs.Spec(of, (), (), tables=draw(draw_worlds.tables(of)))


@st.composite
def rows(draw: st.DrawFn, spec: specs.Spec, most: int = 4) -> list[dict[str, str]]:
    """A few rows of conditions over a spec's facts."""
    return draw(st.lists(draw_worlds.conditions(spec.facts, most=2), min_size=1, max_size=most))
