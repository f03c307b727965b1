"""Grades of engine oil, against SAE J300 as sae_j300.py has it (with its sources)."""

from decimal import Decimal

import pytest

from kitbuilder.kinds import contradictions, engine_oil, gear_oil
from kitbuilder.model.catalogue import Item
from tests.outside import sae_j300


def oil(grade: str, kv100: str) -> Item:
    return Item("E-1", "Oil", "L", kind="engine oil", properties={"grade": grade, "kv100": kv100})


def test_the_limits_are_those_of_the_standard():
    assert engine_oil.WINTER == sae_j300.W_GRADES
    assert engine_oil.SUMMER == sae_j300.GRADES


@pytest.mark.parametrize("grade", [*sae_j300.IN_USE, *sae_j300.W_GRADES, *sae_j300.GRADES])
def test_a_grade_in_use_reads_as_itself(grade):
    assert engine_oil.read_grade(grade) == grade


@pytest.mark.parametrize(("written", "grade"), sae_j300.SPELLINGS)
def test_however_it_is_written_it_is_the_same_grade(written, grade):
    assert engine_oil.read_grade(written) == grade


@pytest.mark.parametrize("grade", sae_j300.NO_SUCH_GRADE)
def test_what_is_no_grade_of_engine_oil_is_refused(grade):
    with pytest.raises(ValueError, match="grade of SAE J300"):
        engine_oil.read_grade(grade)


@pytest.mark.parametrize("grade", ["15W-40", "5W-30", "60"])
def test_a_grade_of_engine_oil_is_none_of_gear_oil(grade):
    with pytest.raises(ValueError, match="grade of SAE J306"):
        gear_oil.read_grade(grade)


@pytest.mark.parametrize("grade", sae_j300.GRADES)
def test_a_band_holds_its_lower_end_and_not_its_upper_one(grade):
    least, top = sae_j300.GRADES[grade]
    a_hair = Decimal("0.001")
    assert contradictions(oil(grade, f"{least}")) == contradictions(oil(grade, f"{top - a_hair}")) == ()
    for outside in (least - a_hair, top):
        assert contradictions(oil(grade, f"{outside}")) == (
            f"E-1 (Oil): its data sheet gives {outside} mm²/s at 100 °C, and grade {grade} has from {least} to "
            f"below {top} (SAE J300).",)


def test_an_oil_too_thin_for_its_w_grade_is_told():
    assert contradictions(oil("25W", "9.2")) == (
        "E-1 (Oil): its data sheet gives 9.2 mm²/s at 100 °C, and 25W needs 9.3 at least (SAE J300).",)


@pytest.mark.parametrize("grade", ["25W-20", "25W-16", "25W-8"])
def test_a_pair_that_no_oil_can_meet_is_refused(grade):
    with pytest.raises(ValueError, match="a pair that an oil can meet"):
        engine_oil.read_grade(grade)
