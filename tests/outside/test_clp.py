"""Hazard codes, against CLP as clp.py has it (with its sources)."""

import pytest

from kitbuilder.kinds import hazards
from tests.outside import clp


def test_pictograms_are_the_nine():
    assert hazards.PICTOGRAMS == clp.PICTOGRAMS


@pytest.mark.parametrize("code", [*clp.STATEMENTS, *clp.FROM_MEMORY])
def test_a_statement_says_what_the_lists_say(code):
    words = {**clp.STATEMENTS, **clp.FROM_MEMORY}[code]
    assert hazards.read_statement(code) == code
    assert hazards.statement_text(code) == f"{words}."


@pytest.mark.parametrize(("pictograms", "statements", "letter"), clp.PRECEDENCE)
def test_pictograms_that_cannot_stand_together_are_told(pictograms, statements, letter):
    told = hazards.contradictions(pictograms, statements)
    assert len(told) == (1 if letter else 0)
    if letter:
        words = {"b": "stand beside GHS06", "c": "alone beside GHS05", "d": "alone beside GHS08 for H334"}
        assert words[letter] in told[0]
        assert "CLP, Article 26" in told[0]
