"""Worlds counted without being walked, against worlds that are walked one by one."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.vehicle.slices import Slices
from kitbuilder.vehicle.worlds import Worlds
from tests import brute_worlds, draw_worlds, specs
from tests.vehicle import spaces


def narrowed(data, spec) -> tuple[Worlds, brute_worlds.Weighted]:
    """Some of a spec's worlds, both ways: by conditions that are drawn, perhaps none."""
    worlds, walked = spaces.space(spec).all(), brute_worlds.worlds(spec)
    statements = [one for one in data.draw(draw_worlds.statements(spec)) if one.source != "register"]
    for one in statements:
        number = next(place for place, fact in enumerate(spec.facts) if fact.name == one.fact)
        worlds = worlds.where(number, spaces.fact(spec.facts[number]).read(one.cell))
        walked = brute_worlds.agree(spec, walked, [one])
    return worlds, walked


def share(weights: dict[int, int]) -> dict[int, Fraction]:
    """Weights as parts of their sum."""
    total = sum(weights.values())
    return {mask: Fraction(weight, total) for mask, weight in weights.items()}


def walked_share(spec, rows, walked) -> dict[int, Fraction]:
    """The same by looking at every world."""
    found: dict[int, Fraction] = {}
    for world, weight in walked:
        mask = spaces.mask(spec, rows, world)
        found[mask] = found.get(mask, Fraction(0)) + weight
    total = sum(found.values())
    return {mask: weight / total for mask, weight in found.items()}


@given(st.data())
def test_what_is_open_is_what_some_world_has(data):
    spec = data.draw(spaces.drawn())
    worlds, walked = narrowed(data, spec)
    assert worlds.empty == (not walked)
    for number, fact in enumerate(spec.facts):
        still = {world[fact.name] for world, _ in walked}
        assert spaces.words(spec, number, worlds.opened(number)) == still
        assert worlds.settled(number) == (len(still) == 1)


@given(st.data())
def test_weights_under_rows_are_those_of_the_worlds_there(data):
    spec = data.draw(spaces.drawn())
    rows = data.draw(spaces.rows(spec))
    worlds, walked = narrowed(data, spec)
    boxes = [spaces.box(spec, row) for row in rows]
    assert worlds.masks(boxes) == {spaces.mask(spec, rows, world) for world, _ in walked}
    if walked:
        spread = worlds.spread(boxes)
        assert set(spread) == {0}
        assert share(spread[0]) == walked_share(spec, rows, walked)


@given(st.data())
def test_weights_parted_by_a_fact_are_those_of_the_worlds_with_these_values(data):
    spec = data.draw(spaces.drawn())
    rows = data.draw(spaces.rows(spec))
    worlds, walked = narrowed(data, spec)
    if not walked:
        return
    by = data.draw(st.integers(0, len(spec.facts) - 1))
    boxes = [spaces.box(spec, row) for row in rows]
    spread = worlds.spread(boxes, by=by)
    cells = worlds.cells(boxes, [by])[by]
    total = sum(weight for masks in spread.values() for weight in masks.values())
    everything = sum(weight for _, weight in walked)
    covered = 0
    for part, masks in spread.items():
        values = spaces.words(spec, by, cells[part].values)
        there = [(world, weight) for world, weight in walked if world[spec.facts[by].name] in values]
        covered += len(there)
        assert share(masks) == walked_share(spec, rows, there)
        assert Fraction(sum(masks.values()), total) == sum(weight for _, weight in there) / everything
    assert covered == len(walked)


@given(st.data())
def test_within_a_box_are_the_worlds_that_meet_its_conditions(data):
    spec = data.draw(spaces.drawn())
    conditions = data.draw(draw_worlds.conditions(spec.facts, most=3))
    worlds, walked = narrowed(data, spec)
    there = [world for world, _ in walked if spaces.mask(spec, [conditions], world)]
    inside = worlds.within(spaces.box(spec, conditions))
    assert inside.empty == (not there)
    for number, fact in enumerate(spec.facts):
        assert spaces.words(spec, number, inside.opened(number)) == {world[fact.name] for world in there}


@given(st.data())
def test_the_first_world_is_the_first_by_facts_and_then_by_values(data):
    spec = data.draw(spaces.drawn())
    rows = data.draw(spaces.rows(spec))
    worlds, walked = narrowed(data, spec)
    boxes = [spaces.box(spec, row) for row in rows]
    wanted = data.draw(st.sets(st.integers(0, (1 << len(rows)) - 1)))
    there = [world for world, _ in walked if spaces.mask(spec, rows, world) in wanted]
    assert worlds.first(boxes, wanted.__contains__) == (there[0] if there else None)


@given(st.data())
def test_the_fewest_facts_that_decide_and_their_branches_are_those_found_by_trying_all(data):
    spec = data.draw(spaces.drawn())
    rows = data.draw(spaces.rows(spec))
    worlds, walked = narrowed(data, spec)
    named = sorted({number for row in rows for number in spaces.box(spec, row)})
    masks = sorted({spaces.mask(spec, rows, world) for world, _ in walked})
    if len(masks) < 2:
        return
    inside = frozenset(data.draw(st.sets(st.sampled_from(masks), min_size=1, max_size=len(masks) - 1)))
    slices = Slices(worlds, [spaces.box(spec, row) for row in rows], named)
    states = [(world, spaces.mask(spec, rows, world) in inside) for world, _ in walked]
    wanted = fewest(spec, named, states)
    facts = slices.fewest(inside)
    assert facts == wanted
    branches = [
        {fact: spaces.words(spec, fact, values) for fact, values in branch.items()}
        for branch in slices.branches(facts, inside)
    ]
    assert branches == sliced(spec, list(wanted), {project(spec, wanted, world) for world, is_in in states if is_in})
    for branch in branches:
        assert set(branch) == set(facts)


def project(spec: specs.Spec, facts, world) -> tuple[str, ...]:
    """A world's values of some facts."""
    return tuple(world[spec.facts[fact].name] for fact in facts)


def fewest(spec: specs.Spec, named, states) -> tuple[int, ...]:
    """The smallest subset of the named facts whose values decide, the first in the order of facts."""
    subsets = [
        tuple(fact for place, fact in enumerate(named) if chosen >> place & 1) for chosen in range(1 << len(named))
    ]
    for facts in sorted(subsets, key=lambda some: (len(some), some)):
        seen: dict[tuple[str, ...], bool] = {}
        if all(seen.setdefault(project(spec, facts, world), is_in) == is_in for world, is_in in states):
            return facts
    raise AssertionError("all named facts decide")


def sliced(spec: specs.Spec, facts, tuples) -> list[dict[int, set[str]]]:
    """Slice by the first fact, merge values with the same rest, in order of their first value."""
    if not facts:
        return [{}]
    rests: dict[frozenset[tuple[str, ...]], set[str]] = {}
    for value in spec.facts[facts[0]].domain():
        rest = frozenset(one[1:] for one in tuples if one[0] == value)
        if rest:
            rests.setdefault(rest, set()).add(value)
    return [
        {facts[0]: values, **branch} for rest, values in rests.items() for branch in sliced(spec, facts[1:], set(rest))
    ]


def test_the_drawn_spaces_are_worth_the_name():
    """Among drawn spaces there are joined tables, shares and ranges; else the checks above say little."""
    seen = set()

    @settings(derandomize=True, deadline=None)
    @given(spaces.drawn())
    def look(spec):
        space = spaces.space(spec)
        seen.update({
            "range": any(fact.is_range for fact in spec.facts),
            "shares": any(table.shares for table in spec.tables),
            "uneven": any(weights is not None for weights in space.weights),
            "joined": any(len(joint.files) > 1 for joint in space.joints),
            "free": len(space.joint_of) < len(spec.facts),
            "impossible": any(
                fact.size > sum(last - first + 1 for first, last in space.all().opened(number))
                for number, fact in enumerate(space.facts)),
        }.items())

    look()
    assert {name for name, there in seen if there} == {"range", "shares", "uneven", "joined", "free", "impossible"}
