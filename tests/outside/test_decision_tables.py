"""Gaps and overlaps of three published decision tables (decision_tables.py has the source).

Each is written as a catalogue: two facts of whole numbers, one role that takes one, a fit a rule with
an item of its own, so that a gap of the table is a gap of the role and an overlap is a clash.
"""

from collections.abc import Iterable
from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.proof.check import check_catalogue
from tests import spec_files
from tests.outside.decision_tables import ANY, TABLES, Box, Interval, Table, points
from tests.specs import Fact, Fit, FitFile, Item, Job, Role, Spec

Points = frozenset[tuple[int, int]]
Places = dict[str, int]
by_name = pytest.mark.parametrize("table", TABLES, ids=[table.name for table in TABLES])


def found(table: Table, folder: Path) -> tuple[dict[str, Points], dict[str, set[str]]]:
    """For each kind of problem: the points where it is, and the rules that its witness names."""
    catalogue(table, folder)
    rules = {place + 2: rule for place, rule in enumerate(table.rules)}
    where: dict[str, Points] = {}
    named: dict[str, set[str]] = {}
    for problem in check_catalogue(read_edition(folder)).problems:
        assert problem.role == "decision" and problem.kind not in where
        assert set(problem.hangs_on) <= {"x", "y"} and problem.certainty == "possible"
        regions = [region(table.domain, branch) for branch in problem.when]
        where[problem.kind] = frozenset().union(*regions)
        assert sum(map(len, regions)) == len(where[problem.kind]), "branches of a problem overlap"
        named[problem.kind] = {rules[row.row] for row in problem.rows}
        assert (int(problem.witness["x"]), int(problem.witness["y"])) == min(where[problem.kind])
    return where, named


def catalogue(table: Table, folder: Path, item: str = "") -> None:
    """Write the table as a catalogue; each rule has an item of its own, or all have the one that is given."""
    facts = [Fact(name, first=ends[0], last=ends[1])
             for name, ends in zip("xy", map(points, table.domain), strict=True)]
    fits = [Fit("decision", item or rule, amount="1", unit="each", when={"x": cell(box[0]), "y": cell(box[1])})
            for rule, box in table.rules.items()]
    spec_files.write(Spec(
        tuple(facts), (Job("decide", roles={"decision": "work"}),), (Role("decision", "one"),),
        tuple(Item(rule) for rule in table.rules), (FitFile("fits/rules.csv", tuple(fits)),)), folder)


def cell(interval: Interval) -> str:
    """An interval as a cell; any is an empty one."""
    if interval == ANY:
        return ""
    first, last = points(interval)
    return str(first) if first == last else f"{first} to {last}"


def region(domain: Box, branch: dict[str, tuple[str, ...]]) -> Points:
    """The points of a branch of a problem's `when`; a fact that it doesn't name may be anything."""
    sides = []
    for name, interval in zip("xy", domain, strict=True):
        first, last = points(interval)
        cells = branch.get(name, (f"{first} to {last}",))
        sides.append([at for run in cells for at in numbers(run)])
    return frozenset((x, y) for x in sides[0] for y in sides[1])


def numbers(run: str) -> range:
    """The numbers of a cell that a kit shows."""
    first, _, last = run.partition(" to ")
    return range(int(first), int(last or first) + 1)


def published(domain: Box, boxes: Iterable[Box]) -> Points:
    """The points of published boxes, cut to the domain."""
    parts: list[Points] = []
    for box in boxes:
        sides = [
            range(max(points(side)[0], points(whole)[0]), min(points(side)[1], points(whole)[1]) + 1)
            for side, whole in zip(box, domain, strict=True)
        ]
        parts.append(frozenset((x, y) for x in sides[0] for y in sides[1]))
        assert parts[-1], "a published box lies outside the domain"
    return frozenset().union(*parts)


def agrees(table: Table, folder: Path) -> bool:
    """Whether gaps and overlaps of the table's rules are just the published ones."""
    where, named = found(table, folder)
    return (
        where.get("gap", frozenset()) == published(table.domain, table.gaps)
        and where.get("clash", frozenset()) == published(table.domain, (one.box for one in table.overlaps))
        and named.get("clash", set()) == {rule for one in table.overlaps for rule in one.rules}
        and set(where) <= {"gap", "clash"}
    )


@by_name
def test_gaps_and_overlaps_are_the_published_ones(table, tmp_path):
    where, named = found(table, tmp_path)
    assert where["gap"] == published(table.domain, table.gaps)
    assert where.get("clash", frozenset()) == published(table.domain, (one.box for one in table.overlaps))
    assert [set(one.rules) for one in table.overlaps] == ([named["clash"]] if "clash" in named else [])
    assert named["gap"] == set()
    assert agrees(table, tmp_path)


@by_name
def test_every_published_gap_is_found_and_no_two_of_them_overlap(table, tmp_path):
    gap = found(table, tmp_path)[0]["gap"]
    single = [published(table.domain, [box]) for box in table.gaps]
    for box, points_of in zip(table.gaps, single, strict=True):
        assert points_of <= gap, box
    assert sum(map(len, single)) == len(gap)


@by_name
def test_the_comparison_fails_when_a_rule_is_left_out(table, tmp_path):
    for gone in table.rules:
        fewer = table._replace(rules={name: box for name, box in table.rules.items() if name != gone})
        assert not agrees(fewer, tmp_path / gone)


@by_name
def test_the_comparison_fails_when_an_end_of_a_rule_is_moved_by_one_point(table, tmp_path):
    tried = 0
    for name, box in table.rules.items():
        for side in (0, 1):
            left, low, high, right = box[side]
            flips: list[Interval] = []
            if low is not None and (low, high) != (0, 0):
                flips.append(("(" if left == "[" else "[", low, high, right))
            if high is not None and (low, high) != (0, 0):
                flips.append((left, low, high, ")" if right == "]" else "]"))
            for flip in flips:
                moved = (flip, box[1]) if side == 0 else (box[0], flip)
                tried += 1
                assert not agrees(table._replace(rules=table.rules | {name: moved}), tmp_path / str(tried))
    assert tried >= 4


def test_rules_that_say_the_same_do_not_clash(tmp_path):
    """Two rows with one key are one fit: overlaps show only where they differ."""
    catalogue(TABLES[0], tmp_path, item="R1")
    (problem,) = check_catalogue(read_edition(tmp_path)).problems
    assert problem.kind == "gap"
