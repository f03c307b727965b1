"""Waste codes, against the European List of Waste as list_of_waste.py has it (with its sources)."""

import pytest

from kitbuilder.kinds import waste
from tests.outside import list_of_waste

IN_LAW = {f"{group} {last}" for group, lasts in list_of_waste.AVV.items() for last in lasts.split()}


def test_the_chapters_whose_law_was_seen_are_complete_and_marked_as_the_law_has_them():
    ours = {code for code in waste.codes() if "12" <= code[:2] <= "17"}
    assert ours == IN_LAW | set(list_of_waste.NEW_IN_2014)
    assert IN_LAW.isdisjoint(list_of_waste.NEW_IN_2014)


@pytest.mark.parametrize("code", list_of_waste.NEW_IN_2014)
def test_what_the_amendment_brought_is_there(code):
    assert waste.read_code(code) == code


@pytest.mark.parametrize(("plain", "hazardous"), list_of_waste.SECOND_COPY)
def test_marks_agree_with_a_second_copy(plain, hazardous):
    assert waste.hazardous(waste.read_code(plain)) is hazardous


@pytest.mark.parametrize(("what", "code", "word"), list_of_waste.WORKSHOP)
def test_what_a_workshop_has_goes_by_the_code_that_the_guidance_gives(what, code, word):
    assert waste.read_code(code) == code, what
    assert word in waste.title(code)


@pytest.mark.parametrize(("written", "code"), list_of_waste.SPELLINGS)
def test_however_it_is_written_it_is_the_same_code(written, code):
    assert waste.read_code(written) == code


def test_oil_filters_of_a_vehicle_have_a_code_of_their_own():
    assert waste.title("16 01 07*") == "oil filters"
    assert "oil filters not otherwise specified" in waste.title("15 02 02*")
