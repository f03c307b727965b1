"""Things that lead back to themselves are found, each circle once."""

from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.catalogue.circles import circles, reached


def test_a_circle_is_told_once_and_by_its_first():
    assert circles({"x": ["a"], "a": ["b"], "b": ["a", "c"], "c": []}) == [["a", "b"]]


def test_two_circles_are_two_and_one_of_one_is_one():
    assert circles({"a": ["a"], "b": ["c", "unknown"], "c": ["b"]}) == [["a"], ["b", "c"]]


def test_what_only_leads_to_a_circle_is_not_in_it():
    assert reached("x", {"x": ["a"], "a": ["b"], "b": ["a"]}) == {"a", "b"}


@given(st.dictionaries(st.sampled_from("abcde"), st.lists(st.sampled_from("abcdef"))))
def test_a_name_is_in_a_circle_if_some_way_leads_back_to_it(edges):
    def leads(start: str, end: str, steps: int) -> bool:
        return any(other == end or (steps and leads(other, end, steps - 1)) for other in edges.get(start, ()))

    found = circles(edges)
    assert sorted(name for group in found for name in group) == sorted(name for name in edges
                                                                       if leads(name, name, len(edges)))
