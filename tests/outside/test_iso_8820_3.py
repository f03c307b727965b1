"""Blade fuses, against ISO 8820-3 as iso_8820_3.py has it (with its sources)."""

from decimal import Decimal

import pytest

from kitbuilder.kinds import KINDS, blade_fuse, contradictions, satisfies
from kitbuilder.model.catalogue import Item, Requirement
from tests.outside import iso_8820_3

FUSE = KINDS["blade fuse"]
OURS = {body: {Decimal(rating) for rating in ratings} for body, ratings in blade_fuse.RATINGS.items()}
SURE = {body: set(colours) for body, colours in iso_8820_3.RATINGS.items()}
UNSURE = {(body, rating) for body, rating, _ in iso_8820_3.UNSURE}


def test_the_bodies_are_the_three_of_the_standard():
    assert set(OURS) == set(iso_8820_3.BODIES)
    for body in iso_8820_3.BODIES:
        assert blade_fuse.read_body(body.upper()) == body


@pytest.mark.parametrize("body", iso_8820_3.BODIES)
def test_every_rating_that_is_sure_to_exist_can_be_asked_for(body):
    assert SURE[body] <= OURS[body]
    for rating in SURE[body]:
        read = {"body": body, "rating": FUSE.properties["rating"].read(f"{rating} A")}
        assert read["rating"] == str(rating)
        assert FUSE.together(read) is None


def test_what_is_taken_beyond_the_sure_ratings_is_one_on_which_sources_differ():
    beyond = {(body, rating) for body, ratings in OURS.items() for rating in ratings - SURE[body]}
    assert beyond <= UNSURE
    assert beyond == {("medium", Decimal(35))}
    assert not {(body, rating) for body, rating in UNSURE if rating in SURE[body]}


def test_no_rating_is_above_what_the_standard_covers():
    assert max(max(ratings) for ratings in OURS.values()) <= iso_8820_3.LARGEST_RATING


@pytest.mark.parametrize(("body", "rating"), [("miniature", "1"), ("medium", "50"), ("maxi", "15"), ("maxi", "7.5")])
def test_a_rating_that_a_body_is_not_made_with_is_refused(body, rating):
    assert Decimal(rating) not in SURE[body] and (body, Decimal(rating)) not in UNSURE
    told = FUSE.together({"body": body, "rating": rating})
    assert told is not None
    assert told[0] == "rating" and told[1].startswith(f"a rating of a {body} blade fuse")


@pytest.mark.parametrize(("colour", "one", "other"), iso_8820_3.SAME_COLOUR)
def test_fuses_of_one_colour_do_not_stand_in_for_each_other(colour, one, other):
    assert iso_8820_3.RATINGS[one[0]][one[1]] == iso_8820_3.RATINGS[other[0]][other[1]] == colour
    asked = {"body": one[0], "rating": str(one[1])}
    wanted = Requirement("fuse", "Fuse", "blade fuse", equal=asked)
    assert satisfies(Item("F-1", colour, "each", kind="blade fuse", properties=asked), wanted)
    swapped = {"body": other[0], "rating": str(other[1])}
    assert not satisfies(Item("F-2", colour, "each", kind="blade fuse", properties=swapped), wanted)


@pytest.mark.parametrize("least", iso_8820_3.RATED_VOLTAGES)
def test_a_fuse_for_more_volts_stands_in_but_never_one_for_fewer(least):
    wanted = Requirement("fuse", "Fuse", "blade fuse", least={"voltage": str(least)})
    fitting = [
        volts for volts in iso_8820_3.RATED_VOLTAGES
        if satisfies(Item("F", "Fuse", "each", kind="blade fuse", properties={"voltage": str(volts)}), wanted)
    ]
    assert fitting == [volts for volts in (32, 58) if volts >= least]


def test_colours_are_the_chart_s_where_sources_agree():
    unsure = iso_8820_3.COLOUR_UNSURE
    sure = {body: {rating: colour for rating, colour in colours.items() if (body, rating) not in unsure}
            for body, colours in iso_8820_3.RATINGS.items()}
    ours = {body: {Decimal(rating): colour for rating, colour in colours.items()}
            for body, colours in blade_fuse.COLOURS.items()}
    assert ours == sure


def fuse(body: str, rating: Decimal, colour: str) -> Item:
    return Item("F-1", "Fuse", "each", kind="blade fuse",
                properties={"body": body, "rating": f"{rating}", "colour": blade_fuse.read_colour(colour)})


@pytest.mark.parametrize(("colour", "one", "other"), iso_8820_3.SAME_COLOUR)
def test_a_colour_agrees_with_both_fuses_that_have_it_and_no_other(colour, one, other):
    for body, rating in (one, other):
        assert contradictions(fuse(body, rating, colour)) == ()
        if (body, rating) not in iso_8820_3.COLOUR_UNSURE:
            assert len(contradictions(fuse(body, rating, "violet"))) == 1


def test_a_fuse_of_the_wrong_colour_is_told_what_that_colour_is():
    assert contradictions(fuse("maxi", Decimal(20), "red")) == (
        "F-1 (Fuse): it is said to be red, and a maxi blade fuse of 20 A is yellow; red is 50 A (ISO 8820-3).",)


@pytest.mark.parametrize(("body", "rating"), iso_8820_3.COLOUR_UNSURE)
def test_nothing_is_held_against_a_colour_on_which_sources_differ(body, rating):
    for colour in ("tan", "brown", "blue"):
        assert contradictions(fuse(body, rating, colour)) == ()
