"""Draws facts, condition cells, combinations tables and statements that the rules accept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

from tests.brute_worlds import Conditions, World, cell_values, joined_tables, worlds
from tests.specs import Fact, Layout, Spec, Statement, Table

FACT_NAMES = ("emissions", "registered", "place", "gearbox-family", "axles")
VALUES = ("Euro V", "Euro VI", "none", "workshop", "heavy, long", "notched", "Not fitted", "tower", "Größe 3")
GROUPS = ("before Euro VI", "early", "on the road")
FIRST_DAYS = (date(2009, 9, 27), date(2012, 2, 27), date(2013, 12, 29))
SHARES = ("0.5", "0.25", "1", "3", "0.125", "10")


def layouts() -> st.SearchStrategy[Layout]:
    """How a CSV file may be spelled."""
    return st.builds(
        Layout,
        delimiter=st.sampled_from((",", ";", "\t")),
        bom=st.booleans(),
        newline=st.sampled_from(("\n", "\r\n")),
        turn=st.integers(0, 5),
        blanks=st.lists(st.integers(0, 8), max_size=3).map(tuple),
        filled=st.booleans(),
    )


@st.composite
def facts(draw: st.DrawFn) -> tuple[Fact, ...]:
    """Two to four facts, at most two of them ranges."""
    names = draw(st.lists(st.sampled_from(FACT_NAMES), min_size=2, max_size=4, unique=True))
    found: list[Fact] = []
    for name in names:
        of = draw(st.sampled_from(("vehicle", "vehicle", "vehicle", "job")))
        kinds = ("listed", "listed", "numbers", "days")
        kind = draw(st.sampled_from(kinds if sum(fact.is_range for fact in found) < 2 else ("listed",)))
        if kind == "listed":
            values = draw(st.lists(st.sampled_from(VALUES), min_size=2, max_size=4, unique=True))
            fact = Fact(name, of, values=tuple(values))
        elif kind == "numbers":
            low = draw(st.sampled_from((0, 1, 7)))
            fact = Fact(name, of, first=low, last=low + draw(st.integers(0, 8)))
        else:
            day = draw(st.sampled_from(FIRST_DAYS))
            fact = Fact(name, of, first=day, last=day + timedelta(days=draw(st.integers(0, 11))))
        found.append(replace(fact, groups=draw(_groups(fact))))
    return tuple(found)


@st.composite
def _groups(draw: st.DrawFn, fact: Fact) -> dict[str, tuple[str, ...]]:
    names = draw(st.lists(st.sampled_from(GROUPS), max_size=2, unique=True))
    members = _alternatives(fact) if fact.is_range else st.sampled_from(fact.domain())
    several = st.lists(members, min_size=1, max_size=3, unique=True).map(tuple)
    return {name: draw(several) for name in names}


@st.composite
def _alternatives(draw: st.DrawFn, fact: Fact) -> str:
    """One alternative of a cell: a value, a group, or a part of a range."""
    domain = fact.domain()
    low = draw(st.integers(0, len(domain) - 1))
    shapes = ["value", *("group" for _ in fact.groups)]
    if fact.is_range:
        shapes += ["from", "up to", "to"]
    shape = draw(st.sampled_from(shapes))
    if shape == "group":
        return draw(st.sampled_from(sorted(fact.groups)))
    if shape == "to":
        return f"{domain[low]} to {domain[draw(st.integers(low, len(domain) - 1))]}"
    return domain[low] if shape == "value" else f"{shape} {domain[low]}"


@st.composite
def cells(draw: st.DrawFn, fact: Fact, most: int = 3, may_leave_none: bool = False) -> str:
    """A condition cell of up to `most` alternatives; it isn't empty and, unless it may, leaves some value."""
    alternatives = draw(st.lists(_alternatives(fact), min_size=1, max_size=most))
    cell = " or ".join(alternatives)
    negated = f"not {cell}"
    if draw(st.integers(0, 3)) == 3 and (may_leave_none or cell_values(fact, negated)):
        return negated
    return cell


@st.composite
def conditions(draw: st.DrawFn, of: tuple[Fact, ...], least: int = 0, most: int = 2) -> dict[str, str]:
    """Condition cells over some of the facts, sometimes with spaces around them."""
    chosen = draw(st.permutations(of))[: draw(st.integers(least, most))]
    pad = draw(st.sampled_from(("", "", "", " ")))
    return {fact.name: f"{pad}{draw(cells(fact))}{pad}" for fact in chosen}


@st.composite
def tables(draw: st.DrawFn, of: tuple[Fact, ...]) -> tuple[Table, ...]:
    """Up to three tables that one world at least agrees with; shares as section 1 wants them."""
    anchor = {fact.name: draw(st.sampled_from(fact.domain())) for fact in of}
    read = Conditions(Spec(of, (), ()))
    found = []
    for letter in draw(st.sampled_from(("a", "ba", "", "a", "acb"))):
        side = draw(st.sampled_from(of)).of
        members = tuple(fact for fact in of if fact.of == side)
        several = st.permutations(members).map(lambda some: tuple(some[:3]))
        wanted = draw(st.one_of(several, several.map(lambda some: some[:2])))
        rows = [_around(draw(_table_rows(wanted)), anchor, read)]
        rows += draw(st.lists(_table_rows(wanted), min_size=1, max_size=4))
        shares: list[str] = []
        if draw(st.booleans()):
            rows = _disjoint(rows, read, {fact.name: fact for fact in of})
            shares = [draw(st.sampled_from(SHARES)) for _ in rows]
        used = tuple(fact.name for fact in of if any(fact.name in row for row in rows))
        found.append(Table(f"combinations/{letter}.csv", used, tuple(rows), tuple(shares), draw(layouts())))
    return _with_valid_shares(of, found, read)


@st.composite
def _table_rows(draw: st.DrawFn, members: tuple[Fact, ...]) -> dict[str, str]:
    """A row with one cell at least: a wholly empty one would be no row."""
    row = {fact.name: draw(cells(fact, most=2)) for fact in members if draw(st.integers(0, 5)) < 5}
    return row or {members[0].name: draw(cells(members[0]))}


def _around(row: dict[str, str], anchor: World, read: Conditions) -> dict[str, str]:
    """The row, widened or moved so that it matches the anchor."""
    return {
        fact: cell if anchor[fact] in read.values(fact, cell) else anchor[fact] for fact, cell in row.items()
    }


def _disjoint(rows: list[dict[str, str]], read: Conditions, by_name: dict[str, Fact]) -> list[dict[str, str]]:
    """The rows in turn, without those that overlap one before them."""
    kept: list[dict[str, str]] = []
    for row in rows:
        if all(
            any(
                not read.values(fact, row.get(fact, "")) & read.values(fact, other.get(fact, ""))
                for fact in by_name
            )
            for other in kept
        ):
            kept.append(row)
    return kept


def _with_valid_shares(of: tuple[Fact, ...], found: list[Table], read: Conditions) -> tuple[Table, ...]:
    """At most one table with shares among those joined, and no share without a world."""
    bare = [replace(table, shares=()) for table in found]
    possible = [world for world, _ in worlds(Spec(of, (), (), tables=tuple(bare)))]
    shared = set()
    for _, inside in joined_tables(Spec(of, (), ()), found):
        shared |= {table.file for table in [table for table in inside if table.shares][:1]}
    result = []
    for table, plain in zip(found, bare, strict=True):
        if table.file not in shared:
            result.append(plain)
            continue
        pairs = zip(table.rows, table.shares, strict=True)
        kept = [pair for pair in pairs if any(read.hold(pair[0], world) for world in possible)]
        rows, shares = tuple(row for row, _ in kept), tuple(share for _, share in kept)
        result.append(replace(table, rows=rows, shares=shares))
    return tuple(result)


@st.composite
def statements(draw: st.DrawFn, spec: Spec) -> tuple[Statement, ...]:
    """Up to four statements, at most one a fact from the register; they may contradict each other."""
    found: list[Statement] = []
    world, _ = draw(st.sampled_from(worlds(spec)))
    for _ in range(draw(st.integers(0, 4))):
        fact = draw(st.sampled_from(spec.facts))
        source = draw(st.sampled_from(("told", "seen", "register")))
        if source == "register" and any(one.fact == fact.name and one.source == source for one in found):
            source = "told"
        cell = draw(cells(fact, may_leave_none=True))
        if world[fact.name] not in cell_values(fact, cell) and draw(st.integers(0, 2)) < 2:
            cell = world[fact.name]
        found.append(Statement(fact.name, cell, source))
    return tuple(found)
