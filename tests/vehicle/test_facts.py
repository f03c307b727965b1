"""Cells of conditions: every form that they may have, what is refused, and what is offered instead."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.vehicle.facts import CellError, name_fault
from kitbuilder.vehicle.values import outside
from tests import draw_worlds
from tests.brute_values import shown_values
from tests.brute_worlds import cell_values
from tests.specs import Fact
from tests.vehicle import spaces

EMISSIONS = spaces.fact(Fact(
    "emissions", values=("Euro III", "Euro IV", "Euro V", "Euro VI"), groups={"before Euro VI": (
        "Euro III", "Euro IV", "Euro V"), "urea": ("Euro VI", "Euro IV")}))
REGISTERED = spaces.fact(Fact(
    "registered", first=date(2012, 2, 1), last=date(2012, 3, 31),
    groups={"the leap days": ("2012-02-28 to 2012-03-01",)}))
WEIGHT = spaces.fact(Fact(
    "weight", first=-5, last=30, groups={"light": ("up to 3", "5"), "odd lots": ("7", "9 to 11")}))


@pytest.mark.parametrize(("cell", "places"), [
    ("", {0, 1, 2, 3}),
    ("  ", {0, 1, 2, 3}),
    ("Euro V", {2}),
    ("  Euro V  ", {2}),
    ("before Euro VI", {0, 1, 2}),
    ("urea", {1, 3}),
    ("Euro III or Euro VI", {0, 3}),
    ("Euro VI or Euro III or urea", {0, 1, 3}),
    ("Euro III   or\tEuro VI", {0, 3}),
    ("not Euro V", {0, 1, 3}),
    ("not  Euro V", {0, 1, 3}),
    ("not\tEuro V", {0, 1, 3}),
    ("not\nEuro V", {0, 1, 3}),
    ("not Euro V or urea", {0}),
    ("not before Euro VI or urea", set()),
])
def test_a_cell_of_a_list_is_read(cell, places):
    assert spaces.places(EMISSIONS.read(cell)) == places


@pytest.mark.parametrize(("cell", "numbers"), [
    ("", range(-5, 31)),
    ("-5", [-5]),
    ("0", [0]),
    ("12", [12]),
    ("from 28", [28, 29, 30]),
    ("from  28", [28, 29, 30]),
    ("up to -4", [-5, -4]),
    ("up  to -4", [-5, -4]),
    ("-1 to 1", [-1, 0, 1]),
    ("7 to 7", [7]),
    ("light", [-5, -4, -3, -2, -1, 0, 1, 2, 3, 5]),
    ("light or 4", [*range(-5, 6)]),
    ("not up to 27 or 29", [28, 30]),
    ("3 to 4 or from 30 or up to -5 or odd lots", [-5, 3, 4, 7, 9, 10, 11, 30]),
])
def test_a_cell_of_whole_numbers_is_read(cell, numbers):
    assert spaces.places(WEIGHT.read(cell)) == {number + 5 for number in numbers}


@pytest.mark.parametrize(("cell", "cells"), [
    ("2012-02-29", ["2012-02-29"]),
    ("from 2012-03-30", ["2012-03-30 to 2012-03-31"]),
    ("up to 2012-02-02", ["2012-02-01 to 2012-02-02"]),
    ("2012-02-27 to 2012-03-01", ["2012-02-27 to 2012-03-01"]),
    ("the leap days", ["2012-02-28 to 2012-03-01"]),
    ("not the leap days", ["2012-02-01 to 2012-02-27", "2012-03-02 to 2012-03-31"]),
    ("2012-02-28 or 2012-03-01", ["2012-02-28", "2012-03-01"]),
    ("2012-02-28 or 2012-02-29", ["2012-02-28 to 2012-02-29"]),
    ("", ["2012-02-01 to 2012-03-31"]),
])
def test_a_cell_of_days_is_read_and_shown_as_runs(cell, cells):
    assert REGISTERED.cells(REGISTERED.read(cell)) == cells


@pytest.mark.parametrize(("fact", "cell", "expected"), [
    (EMISSIONS, "euro v", "'Euro V'?"),
    (EMISSIONS, "Euro VII", "'Euro VI'?"),
    (EMISSIONS, "befor Euro VI", "'before Euro VI'?"),
    (EMISSIONS, "Euro V or", "'Euro V'?"),
    (EMISSIONS, "or Euro V", "'Euro V'?"),
    (EMISSIONS, "not", "one of: Euro III, Euro IV, Euro V, Euro VI, before Euro VI, urea"),
    (EMISSIONS, "not not Euro V", "'Euro V'?"),
    (EMISSIONS, "Euro III to Euro V", "Euro III, Euro IV, Euro V, Euro VI"),
    (WEIGHT, "30 to 12", "the earlier end first: 12 to 30"),
    (WEIGHT, "from 3 to 5", "3 to 5 (a run is written without 'from')"),
    (WEIGHT, "31", "the largest is 30"),
    (WEIGHT, "up to 99", "the largest is 30"),
    (WEIGHT, "-6 to 3", "the smallest is -5"),
    (WEIGHT, "2.5", "a whole number such as -5, from -5 to 30"),
    (WEIGHT, "1,000", "a whole number such as -5"),
    (WEIGHT, "from 007", "7, written without zeros before it"),
    (WEIGHT, "not", "a whole number such as -5"),
    (WEIGHT, "lihgt", "'light'?"),
    (WEIGHT, "007", "7, written without zeros before it"),
    (WEIGHT, "-0", "0, written without"),
    (WEIGHT, "\u0667", "a whole number such as -5"),
    (WEIGHT, "+7", "a whole number such as -5"),
    (WEIGHT, "9" * 5000, "a whole number such as -5"),
    (REGISTERED, "2012-02-30", "a day that exists, as in 2012-02-01"),
    (REGISTERED, "2012-2-3", "a day such as 2012-02-01, from 2012-02-01 to 2012-03-31"),
    (REGISTERED, "20120203", "a day such as 2012-02-01"),
    (REGISTERED, "03.02.2012", "a day such as 2012-02-01"),
    (REGISTERED, "2012-W05-5", "a day such as 2012-02-01"),
    (REGISTERED, "\u0662\u0660\u0661\u0662-02-03", "a day such as 2012-02-01"),
    (REGISTERED, "2011-12-31", "the earliest is 2012-02-01"),
    (REGISTERED, "from 2012-04-01", "the latest is 2012-03-31"),
    (REGISTERED, "2012-03-01 to 2012-02-29", "the earlier end first: 2012-02-29 to 2012-03-01"),
])
def test_what_cannot_be_read_is_refused_with_the_nearest_thing_that_can(fact, cell, expected):
    with pytest.raises(CellError) as raised:
        fact.read(cell)
    assert expected in str(raised.value)


@given(st.data())
def test_any_cell_means_what_looking_at_every_value_says(data):
    spec = data.draw(st.sampled_from(data.draw(draw_worlds.facts())))
    cell = data.draw(draw_worlds.cells(spec, may_leave_none=True))
    domain = spec.domain()
    assert {domain[place] for place in spaces.places(spaces.fact(spec).read(cell))} == cell_values(spec, cell)


@given(st.data())
def test_a_set_is_shown_so_that_it_reads_back(data):
    spec = data.draw(st.sampled_from(data.draw(draw_worlds.facts())))
    fact = spaces.fact(spec)
    some = data.draw(st.sets(st.sampled_from(spec.domain()), min_size=1))
    values = fact.read(" or ".join(some))
    assert spaces.places(values) == {spec.domain().index(value) for value in some}
    assert fact.cells(values) == shown_values(spec, some)
    assert fact.read(" or ".join(fact.cells(values))) == values
    assert fact.read(fact.words(values)) == values
    assert [fact.value(place) for place in range(fact.size)] == spec.domain()


@pytest.mark.parametrize(("fact", "cell", "words"), [
    (EMISSIONS, "Euro III or Euro IV or Euro V", "before Euro VI"),
    (EMISSIONS, "Euro IV or Euro VI", "urea"),
    (EMISSIONS, "not Euro IV", "not Euro IV"),
    (EMISSIONS, "Euro III or Euro IV", "Euro III or Euro IV"),
    (EMISSIONS, "Euro V", "Euro V"),
    (WEIGHT, "-5 to 3 or 5", "light"),
    (WEIGHT, "-5 to 12", "up to 12"),
    (WEIGHT, "12 to 30", "from 12"),
    (WEIGHT, "7", "7"),
    (WEIGHT, "-5", "up to -5"),
    (WEIGHT, "12 or 14 to 15", "12 or 14 to 15"),
    (WEIGHT, "", "-5 to 30"),
    (EMISSIONS, "", "Euro III or Euro IV or Euro V or Euro VI"),
    (REGISTERED, "from 2012-03-02", "from 2012-03-02"),
])
def test_a_set_is_said_as_a_person_says_it(fact, cell, words):
    assert fact.words(fact.read(cell)) == words


def test_two_values_are_said_themselves_and_not_as_all_but_the_other():
    place = spaces.fact(Fact("place", values=("workshop", "yard")))
    assert place.words(place.read("yard")) == "yard"


@pytest.mark.parametrize("name", ["notched", "Not fitted", "tower", "orbit", "fromage", "up", "update to-day", "Or"])
def test_words_of_conditions_inside_other_words_are_fine(name):
    assert name_fault(name) is None
    fact = spaces.fact(Fact("kind", values=(name, "other", "third")))
    assert spaces.places(fact.read(f"{name} or third")) == {0, 2}
    assert fact.read(f"not {name}") == outside(fact.read(name), 3)


@pytest.mark.parametrize("name", [
    "", " ", " a", "a ", "this or that", "3 to 5", "or", "to", "not", "not this", "from", "from 3", "up to", "up to 3",
    "not\tthis", "up  to 3",
])
def test_a_name_that_a_cell_could_not_tell_from_a_condition_is_refused(name):
    assert name_fault(name) is not None
