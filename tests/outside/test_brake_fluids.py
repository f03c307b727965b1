"""Brake fluids, against FMVSS 116 and ISO 4925 as brake_fluids.py has them (with its sources)."""

import pytest

from kitbuilder.kinds import KINDS, brake_fluid, contradictions, satisfies
from kitbuilder.model.catalogue import Item, Requirement
from tests.outside import brake_fluids

GLYCOL = tuple(grade for grade in brake_fluids.GRADES if grade not in brake_fluids.SILICONE)


def fluid(kind: str, **properties: str) -> Item:
    read = {name.replace("_", "-"): KINDS[kind].properties[name.replace("_", "-")].read(text)
            for name, text in properties.items()}
    return Item("B-1", "Fluid", "L", kind=kind, properties=read)


def test_the_boiling_points_are_those_of_the_standards():
    ours = {**brake_fluid.GLYCOL_GRADES, **brake_fluid.SILICONE_GRADES}
    assert ours == {grade: celsius for grade, (celsius, _) in brake_fluids.GRADES.items()}
    assert brake_fluid.CLASSES == brake_fluids.CLASSES
    assert set(brake_fluid.SILICONE_GRADES) == set(brake_fluids.SILICONE)


@pytest.mark.parametrize("grade", brake_fluids.GRADES)
def test_both_units_of_the_standard_say_the_same(grade):
    for celsius, fahrenheit in zip(*brake_fluids.GRADES[grade], strict=True):
        assert celsius == round((fahrenheit - 32) * 5 / 9)


@pytest.mark.parametrize(("grade", "wrong"), brake_fluids.WRONG_COPIES)
def test_wrong_copies_were_not_copied(grade, wrong):
    assert {**brake_fluid.GLYCOL_GRADES, **brake_fluid.SILICONE_GRADES}[grade] != wrong


@pytest.mark.parametrize(("written", "grade"), brake_fluids.SPELLINGS)
def test_however_it_is_written_it_is_the_same_grade(written, grade):
    assert brake_fluid.read_glycol_grade(written) == grade


@pytest.mark.parametrize(("written", "name"), brake_fluids.CLASS_SPELLINGS)
def test_however_it_is_written_it_is_the_same_class(written, name):
    assert brake_fluid.read_class(written) == name


@pytest.mark.parametrize("written", brake_fluids.NO_GRADE)
def test_what_is_no_grade_is_refused_for_both_kinds(written):
    for read in (brake_fluid.read_glycol_grade, brake_fluid.read_silicone_grade):
        with pytest.raises(ValueError, match=r"FMVSS 116|another kind"):
            read(written)


@pytest.mark.parametrize("written", ["5", "2", "8", "class", "6-1", "DOT 4"])
def test_what_is_no_class_is_refused(written):
    with pytest.raises(ValueError, match="a class of ISO 4925: 3, 4, 5-1, 6, 7"):
        brake_fluid.read_class(written)


def test_a_glycol_fluid_is_never_dot_5_nor_a_silicone_fluid_anything_else():
    with pytest.raises(ValueError, match=r"DOT 5 is a grade of silicone brake fluid, another kind"):
        brake_fluid.read_glycol_grade("DOT 5")
    for grade in GLYCOL:
        with pytest.raises(ValueError, match=rf"{grade} is a grade of glycol brake fluid, another kind"):
            brake_fluid.read_silicone_grade(grade)


def test_silicone_fluid_never_stands_in_for_glycol_however_high_it_boils():
    silicone = fluid("silicone brake fluid", grade="DOT 5", boiling_dry="400", boiling_wet="400")
    mineral = Item("B-2", "Fluid", "L", kind="mineral brake fluid")
    asked = [Requirement("x", "x", "glycol brake fluid", least={"boiling-dry": "205", "boiling-wet": "140"}),
             Requirement("x", "x", "glycol brake fluid"),
             *(Requirement("x", "x", "glycol brake fluid", equal={"grade": grade}) for grade in GLYCOL)]
    assert not any(satisfies(item, one) for one in asked for item in (silicone, mineral))
    glycol = fluid("glycol brake fluid", grade="DOT 5.1", boiling_dry="400", boiling_wet="400")
    assert not satisfies(glycol, Requirement("x", "x", "silicone brake fluid"))


def test_a_grade_must_be_equal_and_boiling_points_let_a_better_one_in():
    better = fluid("glycol brake fluid", grade="DOT 5.1", boiling_dry="268", boiling_wet="183")
    plain = fluid("glycol brake fluid", grade="DOT 4", boiling_dry="235", boiling_wet="158")
    poor = fluid("glycol brake fluid", grade="DOT 3", boiling_dry="232", boiling_wet="145")
    silent = fluid("glycol brake fluid", grade="DOT 4")
    by_grade = Requirement("x", "x", "glycol brake fluid", equal={"grade": "DOT 4"})
    assert [satisfies(one, by_grade) for one in (better, plain, poor, silent)] == [False, True, False, True]
    by_figures = Requirement("x", "x", "glycol brake fluid", least={"boiling-dry": "230", "boiling-wet": "155"})
    assert [satisfies(one, by_figures) for one in (better, plain, poor, silent)] == [True, True, False, False]


@pytest.mark.parametrize("grade", brake_fluids.GRADES)
def test_a_fluid_at_the_limit_agrees_with_its_grade_and_one_below_does_not(grade):
    kind = "silicone brake fluid" if grade in brake_fluids.SILICONE else "glycol brake fluid"
    dry, wet = brake_fluids.GRADES[grade][0]
    assert contradictions(fluid(kind, grade=grade, boiling_dry=f"{dry}", boiling_wet=f"{wet}")) == ()
    assert contradictions(fluid(kind, grade=grade, boiling_dry=f"{dry - 1}", boiling_wet=f"{wet}")) == (
        f"B-1 (Fluid): its data sheet has it boil at {dry - 1} °C dry, and {grade} needs {dry} °C at least "
        "(FMVSS 116).",)
    assert contradictions(fluid(kind, grade=grade, boiling_dry=f"{dry}", boiling_wet=f"{wet - 1}")) == (
        f"B-1 (Fluid): its data sheet has it boil at {wet - 1} °C wet, and {grade} needs {wet} °C at least "
        "(FMVSS 116).",)


def test_a_fluid_of_dot_4_and_class_6_is_held_against_both():
    assert contradictions(fluid("glycol brake fluid", grade="DOT 4", **{"class": "6"}, boiling_dry="240")) == (
        "B-1 (Fluid): its data sheet has it boil at 240 °C dry, and class 6 needs 250 °C at least (ISO 4925).",)
