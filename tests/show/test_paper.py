"""Wrapping, counting and listing."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.show.paper import Paper, counted, listed

WORDS = st.lists(
    st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=30), min_size=1, max_size=30
)


@given(WORDS, st.integers(20, 100), st.integers(0, 19), st.sampled_from(["", "  -", "  a-label"]))
def test_a_paragraph_keeps_its_words_and_its_width(words: list[str], width: int, indent: int, first: str) -> None:
    lines = Paper(width).wrap(" ".join(words), indent, first)
    start = first.ljust(indent) if first else " " * indent
    assert lines[0].startswith(start)
    assert [word for line in (lines[0][len(start) :], *lines[1:]) for word in line.split()] == words
    assert all(line[:indent].isspace() for line in lines[1:] if indent)
    for number, line in enumerate(lines):
        said = line[len(start) :] if number == 0 else line
        # only a word that is too long by itself may stick out
        assert len(line) <= width or len(said.split()) <= 1


def test_an_empty_paragraph_is_a_line() -> None:
    assert Paper(80).wrap("") == [""]
    assert Paper(80).wrap("", 4, "  -") == ["  - "]


def test_headings_are_bold_only_where_they_may_be() -> None:
    assert Paper(80).heading("KIT") == "KIT"
    assert Paper(80, bold=True).heading("KIT") == "\x1b[1mKIT\x1b[0m"


@pytest.mark.parametrize(("number", "words"), [(0, "0 lines"), (1, "1 line"), (2, "2 lines")])
def test_counted(number: int, words: str) -> None:
    assert counted(number, "line") == words
    assert counted(number, "switch", "switches") == words.replace("lines", "switches").replace("line", "switch")


def test_listed() -> None:
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a or b", "a, b or c"]
    assert listed(("a", "b"), "and") == "a and b"
