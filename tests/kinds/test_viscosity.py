"""Grades by viscosity: bands part the line, one spelling for each, and figures that speak against a claim."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds import engine_oil, gear_oil
from kitbuilder.kinds.viscosity import Grades, parts

FIGURES = st.decimals(Decimal("0.001"), Decimal(60), places=3)
COLD = st.one_of(st.none(), st.decimals(-70, 20, places=1))
BOTH = pytest.mark.parametrize("grades", [gear_oil.GRADES, engine_oil.GRADES], ids=lambda one: one.standard)


def spellings(grade: str) -> st.SearchStrategy[str]:
    """Ways in which people write a designation."""
    winter, summer = parts(grade)
    between = st.sampled_from(["", " ", "-", " - ", "–"])
    lead = st.sampled_from(["", "SAE", "sae ", "SAE-", " Sae "])
    letter = st.sampled_from(["W", "w", " W", "-w"])
    if not winter:
        return lead.map(lambda one: one + summer)
    number = winter.removesuffix("W")
    if not summer:
        return st.tuples(lead, letter).map(lambda one: f"{one[0]}{number}{one[1]}")
    return st.tuples(lead, letter, between).map(lambda one: f"{one[0]}{number}{one[1]}{one[2]}{summer}")


def designations(grades: Grades) -> list[str]:
    """All that can exist."""
    pairs = [f"{winter}-{summer}" for winter, least in grades.winter.items()
             for summer, (_, top) in grades.summer.items() if top is None or top > least]
    return [*grades.winter, *grades.summer, *pairs]


@BOTH
@given(data=st.data())
def test_every_spelling_reads_to_one_form_and_that_to_itself(grades, data):
    grade = data.draw(st.sampled_from(designations(grades)))
    assert grades.read(data.draw(spellings(grade))) == grade
    assert grades.read(grade) == grade


@given(FIGURES)
def test_the_bands_of_gear_oil_part_the_line(kv100):
    assert len(gear_oil.GRADES.bands(kv100)) == (1 if kv100 >= Decimal("3.8") else 0)


@given(FIGURES)
def test_the_bands_of_engine_oil_leave_no_hole_and_overlap_only_among_the_thin(kv100):
    bands = engine_oil.GRADES.bands(kv100)
    assert (len(bands) >= 1) is (Decimal("4.0") <= kv100 < Decimal("26.1"))
    assert len(bands) <= (3 if kv100 < Decimal("8.2") else 2 if kv100 < Decimal("9.3") else 1)


@given(FIGURES, COLD)
def test_the_designation_of_an_oil_is_never_contradicted_by_its_own_figures(kv100, cold150):
    grade = gear_oil.classify(kv100, cold150)
    figures = {"kv100": f"{kv100}"} | ({} if cold150 is None else {"cold150": f"{cold150}"})
    if grade:
        assert gear_oil.read_grade(grade) == grade
        assert gear_oil.contradictions({"grade": grade, **figures}) == ()
    else:
        assert kv100 < Decimal("3.8")


@given(FIGURES, st.decimals(-70, 20, places=1), st.decimals(0, 20, places=1))
def test_an_oil_that_stays_thin_in_deeper_cold_never_gets_a_higher_w_grade(kv100, cold150, colder):
    order = ["70W", "75W", "80W", "85W", ""]
    first, second = (parts(gear_oil.classify(kv100, one) or "0")[0] for one in (cold150 - colder, cold150))
    assert order.index(first) <= order.index(second)


@BOTH
@given(data=st.data(), kv100=FIGURES)
def test_a_grade_is_contradicted_just_where_its_limits_are_not_met(grades, data, kv100):
    grade = data.draw(st.sampled_from(designations(grades)))
    winter, summer = parts(grade)
    least = max((grades.winter[winter] if winter else Decimal(0)), grades.summer[summer][0] if summer else Decimal(0))
    top = grades.summer[summer][1] if summer else None
    met = least <= kv100 and (top is None or kv100 < top)
    assert (grades.against(grade, kv100) == ()) is met


def test_nothing_is_said_of_an_oil_without_figures_or_without_a_grade():
    for contradictions in (gear_oil.contradictions, engine_oil.contradictions):
        assert contradictions({}) == contradictions({"grade": "30"}) == contradictions({"kv100": "9.9"}) == ()
    assert gear_oil.contradictions({"grade": "90", "cold150": "0"}) == ()
