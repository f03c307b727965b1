"""Viscosity grades of hydraulic fluid, against ISO 3448 as iso_3448.py has it (with its sources)."""

from decimal import Decimal

import pytest

from kitbuilder.kinds import contradictions, hydraulic_fluid
from kitbuilder.model.catalogue import Item
from tests.outside import iso_3448


def fluid(grade: str, kv40: Decimal) -> Item:
    return Item("H-1", "Fluid", "L", kind="hydraulic fluid", properties={"grade": grade, "kv40": f"{kv40}"})


@pytest.mark.parametrize("grade", iso_3448.LIMITS)
def test_a_grade_reaches_a_tenth_below_and_above_its_number(grade):
    assert hydraulic_fluid.read_grade(grade) == grade
    least, most = iso_3448.LIMITS[grade]
    a_hair = Decimal("0.01")
    assert contradictions(fluid(grade, least)) == contradictions(fluid(grade, most)) == ()
    for outside in (least - a_hair, most + a_hair):
        assert contradictions(fluid(grade, outside)) == (
            f"H-1 (Fluid): its data sheet gives {outside} mm²/s at 40 °C, and {grade} has from {least} to {most} "
            "(ISO 3448).",)


def test_no_other_grade_is_known():
    assert {f"VG {name}" for name in hydraulic_fluid.GRADES} == {
        *iso_3448.LIMITS, *(f"VG {name}" for name in iso_3448.FROM_MEMORY)}


@pytest.mark.parametrize(("written", "grade"), iso_3448.SPELLINGS)
def test_however_it_is_written_it_is_the_same_grade(written, grade):
    assert hydraulic_fluid.read_grade(written) == grade


@pytest.mark.parametrize("written", iso_3448.NO_SUCH_GRADE)
def test_what_is_no_grade_is_refused(written):
    with pytest.raises(ValueError, match="a viscosity grade of ISO 3448"):
        hydraulic_fluid.read_grade(written)
