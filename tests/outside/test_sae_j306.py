"""Grades of gear oil, against SAE J306 as sae_j306.py has it (with its sources)."""

from decimal import Decimal

import pytest

from kitbuilder.kinds import gear_oil
from tests.outside import sae_j306

DESIGNATIONS = (
    *sae_j306.CAN_EXIST,
    *(grade.name for grade in sae_j306.W_GRADES),
    *(grade.name for grade in sae_j306.GRADES),
)


def test_the_limits_are_those_of_the_standard():
    winter = {name: Decimal(str(least)) for name, least in gear_oil.WINTER.items()}
    assert winter == {grade.name: grade.at_least for grade in sae_j306.W_GRADES}
    summer = {
        name: (Decimal(str(least)), None if top is None else Decimal(str(top)))
        for name, (least, top) in gear_oil.SUMMER.items()
    }
    assert summer == {grade.name: (grade.at_least, grade.below) for grade in sae_j306.GRADES}


def test_bands_join_without_a_hole_or_an_overlap():
    for lower, upper in zip(sae_j306.GRADES, sae_j306.GRADES[1:], strict=False):
        assert gear_oil.SUMMER[lower.name][1] == gear_oil.SUMMER[upper.name][0]


@pytest.mark.parametrize("grade", DESIGNATIONS)
def test_a_grade_that_can_exist_is_read_as_it_is_usually_written(grade):
    assert gear_oil.read_grade(grade) == grade


def test_different_designations_stay_different():
    assert len({gear_oil.read_grade(grade) for grade in DESIGNATIONS}) == len(set(DESIGNATIONS)) == 33 + 4 + 10


@pytest.mark.parametrize(("written", "grade"), sae_j306.SPELLINGS)
def test_however_it_is_written_it_is_the_same_grade(written, grade):
    assert gear_oil.read_grade(written) == grade


@pytest.mark.parametrize("grade", [name for name, _ in sae_j306.SEEN_IN_USE] + list(sae_j306.IN_USE_FROM_MEMORY))
def test_what_is_sold_in_the_world_can_be_asked_for(grade):
    assert gear_oil.read_grade(grade) == grade


def test_all_pairs_of_the_standard_are_told_possible_or_not_as_the_limits_say():
    pairs = {f"{winter.name}-{grade.name}" for winter in sae_j306.W_GRADES for grade in sae_j306.GRADES}
    assert pairs == {*sae_j306.CAN_EXIST, *sae_j306.CANNOT_EXIST}
    assert len(pairs) == len(sae_j306.CAN_EXIST) + len(sae_j306.CANNOT_EXIST) == 40


@pytest.mark.parametrize("grade", sae_j306.CANNOT_EXIST)
def test_a_pair_that_no_oil_can_meet_is_refused_and_says_why(grade):
    winter, other = grade.split("-")
    with pytest.raises(ValueError, match=rf"a pair that an oil can meet .*{winter} is thicker .* than {other}"):
        gear_oil.read_grade(grade)


@pytest.mark.parametrize("grade", sae_j306.NO_SUCH_GRADE)
def test_what_is_no_grade_of_gear_oil_is_refused(grade):
    with pytest.raises(ValueError, match=r"a .*grade of SAE J306"):
        gear_oil.read_grade(grade)


@pytest.mark.parametrize("grade", ["", " ", "SAE", "-", "W", "oil", "75W-90 75W-90", "7\u0665W-90", "0075W-90"])
def test_what_is_no_designation_at_all_is_refused(grade):
    with pytest.raises(ValueError, match="grade of SAE J306"):
        gear_oil.read_grade(grade)


def test_the_cold_limits_are_those_of_the_standard():
    assert {grade.name: grade.celsius for grade in sae_j306.W_GRADES} == gear_oil.COLDEST


@pytest.mark.parametrize(("kv100", "cold150", "designation"), sae_j306.CLASSIFIED)
def test_an_oil_is_named_by_its_figures(kv100, cold150, designation):
    assert gear_oil.classify(Decimal(kv100), None if cold150 is None else Decimal(cold150)) == designation


@pytest.mark.parametrize(("kv100", "cold150", "designation"), sae_j306.CLASSIFIED)
def test_figures_speak_against_every_other_grade_that_exists(kv100, cold150, designation):
    figures = {"kv100": kv100} | ({} if cold150 is None else {"cold150": cold150})
    agreeing = {grade for grade in DESIGNATIONS if not gear_oil.contradictions({"grade": grade, **figures})}
    names = set(designation.split("-")) - {""}
    if cold150 is None:
        # nothing is known of the cold: whatever has that band, or is a W grade that thin, agrees
        assert {grade for grade in agreeing if not grade.endswith("W")} == {
            grade for grade in DESIGNATIONS if grade.split("-")[-1] in names}
    else:
        assert agreeing == ({designation} | names) - {""}


@pytest.mark.parametrize("older", sae_j306.OLDER_GRADES)
def test_an_oil_of_an_older_edition_may_be_told_to_contradict_today_s_grade(older):
    assert gear_oil.contradictions({"grade": older.name, "kv100": f"{older.at_least}"}) == ()
    assert older.below is not None
    almost = older.below - Decimal("0.1")
    assert f"grade {older.name} has" in gear_oil.contradictions({"grade": older.name, "kv100": f"{almost}"})[0]


def test_what_contradicts_a_grade_is_told_with_figures():
    told = gear_oil.contradictions({"grade": "75W-90", "kv100": "12.9", "cold150": "-38"})
    assert told == (
        "Its data sheet gives 12.9 mm²/s at 100 °C, and grade 90 has from 13.5 to below 18.5 (SAE J306).",
        "Its data sheet has it reach 150,000 mPa·s at -38 °C already, and 75W may do so at -40 °C at the highest "
        "(SAE J306).")
    assert gear_oil.contradictions({"grade": "80W-90", "kv100": "14.5", "cold150": "-42"}) == (
        "By its data sheet (14.5 mm²/s at 100 °C, 150,000 mPa·s at -42 °C) it meets 75W, and only the lowest W grade "
        "met may be named (SAE J306): 75W-90.",)
