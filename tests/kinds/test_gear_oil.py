"""Gear oil grades against SAE J306 as tests/outside/sae_j306.py has it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds.gear_oil import SUMMER, WINTER, read_grade
from tests.outside.sae_j306 import CAN_EXIST, CANNOT_EXIST, GRADES, NO_SUCH_GRADE, SEEN_IN_USE, SPELLINGS, W_GRADES


def test_the_limits_are_those_of_the_standard():
    assert {one.name: one.at_least for one in W_GRADES} == WINTER
    assert {one.name: (one.at_least, one.below) for one in GRADES} == SUMMER


@pytest.mark.parametrize("grade", [*CAN_EXIST, *WINTER, *SUMMER, *(grade for grade, _ in SEEN_IN_USE)])
def test_a_grade_that_can_exist_reads_as_itself(grade):
    assert read_grade(grade) == grade


@pytest.mark.parametrize("grade", CANNOT_EXIST)
def test_a_pair_that_no_oil_can_meet_is_refused(grade):
    with pytest.raises(ValueError, match="a pair that an oil can meet"):
        read_grade(grade)


@pytest.mark.parametrize("grade", [*NO_SUCH_GRADE, "", "W", "SAE", "75W-90-140", "7 5W-90", "75W-9 0", "8-0", "-90",
                                   "75W90LS", "²5W-90"])
def test_what_is_no_grade_is_refused(grade):
    with pytest.raises(ValueError, match="grade of SAE J306"):
        read_grade(grade)


@pytest.mark.parametrize(("written", "grade"), SPELLINGS)
def test_spellings_of_the_world_read_as_one(written, grade):
    assert read_grade(written) == grade


@given(st.sampled_from(CAN_EXIST), st.sampled_from(["", "SAE", "sae ", "Sae-", " SAE  "]),
       st.sampled_from(["W", "w", " W", " w"]),
       st.sampled_from(["", "-", " ", " - ", "–"]))
def test_case_spaces_hyphens_and_sae_do_not_matter(grade, lead, letter, between):
    winter, summer = grade.split("W-")
    assert read_grade(f"{lead}{winter}{letter}{between}{summer}") == grade
