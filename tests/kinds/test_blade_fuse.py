"""Blade fuses against ISO 8820-3 as tests/outside/iso_8820_3.py has it."""

from decimal import Decimal

import pytest

from kitbuilder.kinds import blade_fuse
from tests.outside.iso_8820_3 import BODIES, LARGEST_RATING, RATED_VOLTAGES, RATINGS, SAME_COLOUR, UNSURE


def test_bodies_are_those_of_the_standard():
    assert set(blade_fuse.RATINGS) == set(BODIES)


@pytest.mark.parametrize("body", BODIES)
def test_every_rating_on_which_sources_agree_is_taken_and_no_other(body):
    taken = {Decimal(rating) for rating in blade_fuse.RATINGS[body]}
    doubtful = {rating for of, rating, _ in UNSURE if of == body}
    assert set(RATINGS[body]) <= taken <= set(RATINGS[body]) | doubtful
    assert max(taken) <= LARGEST_RATING


@pytest.mark.parametrize(("body", "rating"), [(body, str(rating)) for body in BODIES for rating in RATINGS[body]])
def test_a_rating_of_a_body_is_right(body, rating):
    assert blade_fuse.rating_exists({"body": body, "rating": blade_fuse.read_rating(rating)}) is None


@pytest.mark.parametrize(("body", "rating"), [("maxi", "15"), ("miniature", "40"), ("medium", "50"), ("medium", "7")])
def test_a_rating_that_the_body_has_not_is_told_with_those_it_has(body, rating):
    wrong = blade_fuse.rating_exists({"body": body, "rating": rating})
    assert wrong is not None
    assert wrong[0] == "rating"
    assert all(str(known) in wrong[1] for known in RATINGS[body])


@pytest.mark.parametrize(("one", "other"), [(one, other) for _, one, other in SAME_COLOUR])
def test_one_colour_stands_for_different_ratings(one, other):
    for body, rating in (one, other):
        assert blade_fuse.rating_exists({"body": body, "rating": str(rating)}) is None
    assert one[1] != other[1]


@pytest.mark.parametrize(("text", "read"), [
    ("15", "15"), ("15 A", "15"), ("15A", "15"), ("7.5", "7.5"), ("7.50 A", "7.5"), ("015", "15"), ("30.0", "30"),
    (" 10 ", "10")])
def test_a_rating_reads_in_one_form(text, read):
    assert blade_fuse.read_rating(text) == read


@pytest.mark.parametrize("volts", RATED_VOLTAGES)
def test_a_voltage_reads_with_and_without_its_unit(volts):
    assert {blade_fuse.read_voltage(f"{volts}{unit}") for unit in ("", "V", " V")} == {str(volts)}


@pytest.mark.parametrize("text", ["", "0", "-5", "A", "15 V", "15 a", "1e1", "ten", "15 A A", "9" * 5000, "٣"])
def test_what_is_no_rating_is_refused(text):
    with pytest.raises(ValueError, match="a number of A more than zero"):
        blade_fuse.read_rating(text)


def test_a_decimal_comma_is_refused_and_the_point_offered():
    with pytest.raises(ValueError, match=r"a decimal point: 7\.5 A"):
        blade_fuse.read_rating("7,5 A")


@pytest.mark.parametrize(("text", "offered"), [("medum", "medium"), ("mini", "miniature"), ("red", "")])
def test_an_unknown_body_is_refused_with_the_nearest(text, offered):
    with pytest.raises(ValueError, match=offered or "a body"):
        blade_fuse.read_body(text)


def test_a_body_reads_in_any_case():
    assert blade_fuse.read_body(" Medium ") == "medium"
