"""Commands as they are typed: what a shell makes of them is what was meant."""

import subprocess

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.show.command import command_lines, pair, quoted
from kitbuilder.show.paper import Paper

TEXT = st.text(st.characters(min_codepoint=32, exclude_categories=("C", "Z")) | st.just(" "), max_size=20)


def in_bash(text: str) -> list[str]:
    """The words that bash makes of a text."""
    script = 'kitbuilder() { printf "%s\\0" "$@"; }\n' + text
    out = subprocess.run(["bash", "-c", script], capture_output=True, check=True).stdout
    return out.decode().split("\0")[:-1]


@pytest.mark.parametrize(
    ("word", "typed"),
    [
        ("clutch-kit", "clutch-kit"),
        ("Euro V", '"Euro V"'),
        ("2013-06-14", "2013-06-14"),
        ("/tmp/a.b", "/tmp/a.b"),
        ("", '""'),
        ("a;b", '"a;b"'),
        ("5$", "'5$'"),
        ("customer's", '"customer\'s"'),
        ("Größe", "Größe"),
    ],
)
def test_a_word_is_quoted_only_where_it_must(word: str, typed: str) -> None:
    assert quoted(word) == typed


def test_a_pair_is_quoted_behind_its_sign() -> None:
    assert pair("emissions", "before Euro VI") == 'emissions="before Euro VI"'
    assert pair("place", "on-site") == "place=on-site"


@settings(max_examples=60, deadline=None)
@given(st.lists(TEXT, max_size=6), st.lists(st.tuples(st.just("fact"), TEXT), max_size=4), st.integers(60, 100))
def test_bash_takes_a_command_for_the_words_that_were_meant(
    words: list[str], facts: list[tuple[str, str]], width: int
) -> None:
    meant = ["kit", *words, *(word for name, value in facts for word in ("--fact", f"{name}={value}"))]
    lines = command_lines(meant, Paper(width))
    assert in_bash("\n".join(lines)) == meant


def test_an_option_stays_with_its_value_and_the_line_within_its_width() -> None:
    lines = command_lines(
        ("kit", "actuator-replace", "--vehicle", "DEMO 004", "--fact", "access=in the frame", "--source"),
        Paper(60),
        "  $ ",
    )
    assert lines == [
        '  $ kitbuilder kit actuator-replace --vehicle "DEMO 004" \\',
        '      --fact access="in the frame" --source',
    ]
