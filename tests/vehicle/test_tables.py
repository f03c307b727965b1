"""Combinations tables: which are joined, what a join allows, and what can't be joined."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.vehicle.tables import MOST_BOXES, Row, Table, TableFault, clusters, join, meet
from kitbuilder.vehicle.values import union
from kitbuilder.vehicle.worlds import Space
from tests import specs
from tests.vehicle import spaces


def table(name, facts, rows, shares=None):
    """A table whose rows are boxes."""
    return Table(f"combinations/{name}.csv", tuple(facts), tuple(
        Row(place + 2, box, shares[place] if shares else None) for place, box in enumerate(rows)))


def run(first, last=None):
    """A set of one run."""
    return ((first, first if last is None else last),)


def test_tables_are_put_together_where_they_share_facts_also_through_others():
    chain = [table("d", [4, 5], []), table("c", [0, 1], []), table("b", [6], []), table("a", [1, 4], [])]
    assert [[one.file[13] for one in some] for some in sorted(clusters(chain), key=len)] == [["b"], ["a", "c", "d"]]


def test_boxes_meet_where_every_fact_does():
    assert meet({0: run(0, 3)}, {0: run(2, 5), 1: run(7)}) == {0: run(2, 3), 1: run(7)}
    assert meet({0: run(0, 3), 1: run(1)}, {0: run(4, 5)}) is None


def many(count):
    """Two tables over a common fact whose rows all meet each other."""
    side = [{0: run(0, 9), 1: run(place)} for place in range(count)]
    other = [{0: run(0, 9), 2: run(place)} for place in range(100)]
    return [table("left", [0, 1], side), table("right", [0, 2], other)]


def test_a_join_of_ten_thousand_meetings_is_made_and_one_more_row_is_a_fault_that_names_the_tables():
    assert MOST_BOXES == 10_000
    assert len(join(many(100), [10, 200, 100]).boxes) == 10_000
    with pytest.raises(TableFault, match="at most 10,000 combinations of rows") as raised:
        join(many(101), [10, 200, 100])
    assert raised.value.files == ("combinations/left.csv", "combinations/right.csv")


def test_only_meetings_that_are_not_empty_count():
    apart = [{0: run(place), 1: run(0, 9)} for place in range(150)]
    joint = join([table("a", [0, 1], apart), table("b", [0, 2], [{0: run(place)} for place in range(150)])],
                 [150, 10, 10])
    assert len(joint.boxes) == 150 < MOST_BOXES < 150 * 150


def test_shares_of_two_joined_tables_are_a_fault_that_names_both_and_no_other():
    three = [
        table("a", [0], [{0: run(0)}], [(1, 1)]), table("b", [0, 1], [{1: run(0)}]),
        table("c", [1], [{1: run(0)}], [(1, 2)]),
    ]
    with pytest.raises(TableFault, match="in one of the joined tables at most") as raised:
        join(three, [2, 2])
    assert raised.value.files == ("combinations/a.csv", "combinations/c.csv")


def test_rows_with_shares_that_overlap_are_a_fault_with_both_rows():
    rows = [{0: run(0, 1), 1: run(0)}, {0: run(2), 1: run(0, 1)}, {0: run(1, 2), 1: run(1)}]
    with pytest.raises(TableFault, match="overlaps line 3") as raised:
        join([table("a", [0, 1], rows, [(1, 1)] * 3)], [3, 2])
    assert (raised.value.files, raised.value.row) == (("combinations/a.csv",), 4)


def test_a_share_without_a_vehicle_is_a_fault_with_its_row():
    shared = table("a", [0], [{0: run(0)}, {0: run(1)}], [(1, 1), (3, 1)])
    with pytest.raises(TableFault, match="a row with a share that some vehicle can match") as raised:
        join([shared, table("b", [0, 1], [{0: run(0)}])], [2, 2])
    assert (raised.value.files, raised.value.row) == (("combinations/a.csv",), 3)


def chance(space, fact, value):
    """The chance of a value with nothing known."""
    (masks,) = space.all().spread([{fact: run(value)}]).values()
    return masks.get(1, 0) / sum(masks.values())


def test_shares_stay_what_they_say_though_another_table_takes_worlds_away():
    """Of 10 in 'old' and 30 in 'new' a quarter is old, however few worlds the second table leaves there."""
    shared = table("a", [0], [{0: run(0)}, {0: run(1)}], [(10, 1), (30, 1)])
    taking = table("b", [0, 1], [{0: run(0), 1: run(0)}, {0: run(1)}])
    for tables in ([shared], [shared, taking]):
        facts = [spaces.fact(specs.Fact("age", values=("old", "new"))), spaces.fact(specs.Fact("n", first=0, last=99))]
        space = Space(facts, [join(some, [2, 100]) for some in clusters(tables)])
        assert chance(space, 0, 0) == 0.25
        assert chance(space, 1, 0) == (0.2575 if len(tables) == 2 else 0.01)


def test_without_shares_all_worlds_of_a_join_weigh_the_same_though_its_boxes_overlap():
    overlapping = table("a", [0, 1], [{0: run(0)}, {0: run(0, 1), 1: run(0, 1)}])
    facts = [spaces.fact(specs.Fact("x", first=0, last=1)), spaces.fact(specs.Fact("y", first=0, last=3))]
    space = Space(facts, [join([overlapping], [2, 4])])
    assert chance(space, 0, 0) == 4 / 6
    assert chance(space, 1, 0) == 2 / 6


def test_long_tables_that_share_a_fact_are_joined_by_what_they_share():
    """Each row of one meets one of the other; trying all pairs would be 25 million."""
    size = 5_000
    one = Table("one.csv", (0, 1), tuple(
        Row(place + 2, {0: ((place, place),), 1: ((place % 7, place % 7),)}, (1, 1)) for place in range(size)))
    other = Table("other.csv", (0, 2), tuple(
        Row(place + 2, {0: ((place, place),), 2: ((place % 5, place % 5),)}) for place in range(size)))
    joint = join([one, other], [size, 7, 5])
    assert [box[0][0][0] for box in joint.boxes] == list(range(size))
    assert all(box[1] == ((at % 7, at % 7),) and box[2] == ((at % 5, at % 5),) for at, box in enumerate(joint.boxes))


@given(st.data())
def test_a_join_has_just_the_pairs_of_rows_that_meet(data):
    runs = st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), max_size=3).map(
        lambda ends: union([(min(pair), max(pair)) for pair in ends]))
    boxes = st.lists(st.dictionaries(st.integers(0, 2), runs, max_size=3), min_size=1, max_size=6)
    drawn = [data.draw(boxes), data.draw(boxes)]
    wanted = [
        met for one in drawn[0] for other in drawn[1]
        if (met := meet(one, other)) is not None and all(met.values())]
    made = [Table(f"{n}.csv", (0, 1, 2), tuple(Row(at + 2, box) for at, box in enumerate(some)))
            for n, some in enumerate(drawn)]
    assert list(join(made, [10, 10, 10]).boxes) == wanted
