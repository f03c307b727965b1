"""Sets of places as runs, against Python's own sets."""

from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.vehicle import values
from kitbuilder.vehicle.values import NONE, Values
from tests.vehicle.spaces import places

SIZE = 24
RUNS = st.lists(
    st.tuples(st.integers(0, SIZE - 1), st.integers(0, SIZE - 1)).map(lambda run: (min(run), max(run))), max_size=6)
SETS = st.sets(st.integers(0, SIZE - 1))


def runs_of(some: set[int]) -> Values:
    """The only form that a set may have: runs in order that neither touch nor overlap."""
    starts = sorted(place for place in some if place - 1 not in some)
    ends = sorted(place for place in some if place + 1 not in some)
    return tuple(zip(starts, ends, strict=True))


@given(RUNS)
def test_a_union_is_the_set_of_all_places_in_its_one_form(runs):
    assert values.union(runs) == runs_of({place for first, last in runs for place in range(first, last + 1)})


@given(RUNS, st.randoms())
def test_a_union_does_not_depend_on_the_order_of_its_runs(runs, random):
    turned = list(runs)
    random.shuffle(turned)
    assert values.union(turned) == values.union(runs)


@given(SETS, SETS)
def test_both_is_the_intersection(one, other):
    assert values.both(runs_of(one), runs_of(other)) == runs_of(one & other)


@given(SETS)
def test_outside_is_the_complement(some):
    assert values.outside(runs_of(some), SIZE) == runs_of(set(range(SIZE)) - some)
    assert values.outside(values.outside(runs_of(some), SIZE), SIZE) == runs_of(some)


@given(SETS)
def test_count_is_the_number_of_places(some):
    assert values.count(runs_of(some)) == len(some)
    assert places(runs_of(some)) == some


def test_nothing_is_the_empty_set():
    assert values.union([]) == values.both(((0, 3),), ((4, 9),)) == values.outside(((0, 4),), 5) == NONE
    assert values.outside(NONE, 5) == ((0, 4),)
    assert values.count(NONE) == 0


def test_neighbours_are_one_run_and_a_hole_is_not():
    assert values.union([(5, 6), (0, 2), (3, 3)]) == ((0, 3), (5, 6))
