"""Hazard codes: one form for each, and help with what is no code."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds import KINDS, hazards


@given(st.sampled_from(sorted(hazards.STATEMENTS)), st.sampled_from(["", " "]), st.booleans())
def test_every_spelling_of_a_statement_reads_to_one_form_and_that_to_itself(code, gap, lower):
    letters = "EUH" if code.startswith("EUH") else "H"
    rest = code.removeprefix(letters)
    assert hazards.read_statement(f" {letters.lower() if lower else letters}{gap}{rest} ") == code
    assert hazards.statement_text(code) == hazards.STATEMENTS[code]


def test_statements_are_whole_sentences():
    assert all(words[0].isupper() and words.endswith(".") for words in hazards.STATEMENTS.values())


@pytest.mark.parametrize(("text", "code"), [
    ("ghs02", "GHS02"), ("GHS 2", "GHS02"), (" GHS09 ", "GHS09"), ("ghs7", "GHS07")])
def test_a_pictogram_reads_in_one_form(text, code):
    assert hazards.read_pictogram(text) == code


@pytest.mark.parametrize("text", ["GHS00", "GHS10", "GHS", "flame", "", "GHS002"])
def test_what_is_no_pictogram_is_refused(text):
    with pytest.raises(ValueError, match="a pictogram, GHS01 to GHS09"):
        hazards.read_pictogram(text)


@pytest.mark.parametrize(("text", "offered"), [
    ("H360fd", "did you mean 'H360FD'?"), ("H361FD", "did you mean 'H361fd'?"), ("H350I", "did you mean 'H350i'?"),
    *((text, "a hazard statement of CLP, Annex III, such as H222, EUH066 or H302+H312")
      for text in ("H999", "P210", "R10", "H302+H411", "H302+", "", "EUH67", "222")),
])
def test_what_is_no_statement_is_refused(text, offered):
    with pytest.raises(ValueError) as refused:
        hazards.read_statement(text)
    assert offered in str(refused.value)


@pytest.mark.parametrize(("text", "code"), [("h302 + h312", "H302+H312"), ("H301+H311+H331", "H301+H311+H331")])
def test_statements_of_several_ways_of_uptake_read_in_one_form(text, code):
    assert hazards.read_statement(text) == code


def test_a_signal_word_is_one_of_two():
    assert [hazards.read_signal(text) for text in ("Danger", " WARNING ")] == ["danger", "warning"]
    with pytest.raises(ValueError, match="a signal word: one of danger, warning"):
        hazards.read_signal("caution")


def test_no_kind_has_a_hazard():
    assert not any("hazard" in name or "statement" in name or "pictogram" in name
                   for kind in KINDS.values() for name in kind.properties)
