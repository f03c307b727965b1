"""Tools that are needed at one time by more bookings than there are of them."""

from __future__ import annotations

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.stock.tools import DoubleUse, ToolUse, choices, double_uses
from tests.stock.draw_sourcing import hours


def use(booking, start, end, tool="puller", count=1):
    return ToolUse(tool, hours(start), hours(end), booking, count)


def test_two_bookings_that_need_one_tool_at_one_time_are_told():
    found = double_uses([use(1, 0, 4), use(2, 3, 6), use(3, 6, 8)], {"puller": 1})
    assert found == [DoubleUse("puller", hours(3), hours(4), (1, 2), 2, 1)]


def test_a_tool_that_comes_back_at_ten_is_there_at_ten():
    assert double_uses([use(1, 0, 4), use(2, 4, 6)], {}) == []


def test_a_booking_uses_one_tool_for_two_lines_at_one_time():
    assert double_uses([use(1, 0, 4), use(1, 2, 6)], {}) == []


def test_where_there_are_two_a_third_booking_is_one_too_many():
    found = double_uses([use(1, 0, 9), use(2, 0, 9), use(3, 2, 3)], {"puller": 2})
    assert found == [DoubleUse("puller", hours(2), hours(3), (1, 2, 3), 3, 2)]


@given(st.lists(st.tuples(
    st.integers(1, 4), st.integers(0, 10), st.integers(0, 10), st.sampled_from("ab"), st.integers(1, 2)), max_size=8),
    st.integers(0, 3))
def test_each_hour_is_told_as_counting_that_hour_says(drawn, there):
    uses = [use(booking, start, end, tool, count) for booking, start, end, tool, count in drawn]
    found = double_uses(uses, {"a": there, "b": there})
    for tool in "ab":
        for hour in range(10):
            wants = {}
            for booking, start, end, of, count in drawn:
                if of == tool and start <= hour < end:
                    wants[booking] = max(count, wants.get(booking, 0))
            told = [one for one in found if one.tool == tool and one.start <= hours(hour) < one.end]
            assert [(one.wanted, one.bookings) for one in told] == (
                [(sum(wants.values()), tuple(sorted(wants)))] if sum(wants.values()) > there else [])


@given(st.lists(st.frozensets(st.sampled_from("ABCD"), min_size=1, max_size=3), min_size=1, max_size=6),
       st.fixed_dictionaries({tool: st.integers(0, 2) for tool in "ABCD"}))
def test_each_can_have_one_of_its_tools_just_if_every_choice_is_enough(sets, there):
    """Judged by trying every way to give them out."""
    pieces = [tool for tool, count in there.items() for _ in range(count)]
    together = any(
        all(pieces[piece] in wanted for piece, wanted in zip(chosen, sets, strict=True))
        for chosen in permutations(range(len(pieces)), len(sets)))
    enough = all(
        sum(wanted <= tools for wanted in sets) <= sum(there[tool] for tool in tools) for tools in choices(set(sets)))
    assert enough == together


def test_very_many_choices_are_looked_at_alone_and_all_together():
    chain = {frozenset({f"T{number:02}", f"T{number + 1:02}"}) for number in range(60)}
    found = choices(chain)
    assert set(found) == chain | {frozenset(f"T{number:02}" for number in range(61))}
