"""VINs, against the published examples of vin.py (with its sources) and the library vininfo."""

import string

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from vininfo import Vin
from vininfo.common import UnsupportedBrand
from vininfo.dicts import REGIONS
from vininfo.exceptions import ValidationError

from kitbuilder.errors import WrongUse
from kitbuilder.vehicle.vin import check_digit, check_digit_warning, read_vin
from tests.outside import vin

ALPHABET = "".join(char for char in string.digits + string.ascii_uppercase if char not in "IOQ")
VINS = st.text(ALPHABET, min_size=17, max_size=17)


class Judge(Vin):
    """The library without its tables of makers, some of which it takes to have no check digits."""

    assembler = UnsupportedBrand()  # type: ignore[assignment]


@pytest.mark.parametrize(("number", "products", "total", "remainder"), vin.WORKED)
def test_a_worked_example_comes_out(number, products, total, remainder):
    values = [int(char) if char.isdigit() else vin.VALUES[char] for char in number]
    assert tuple(value * weight for value, weight in zip(values, vin.WEIGHTS, strict=True)) == products
    assert (sum(products), sum(products) % 11) == (total, remainder)
    assert check_digit(number) == str(remainder) == number[8]
    assert check_digit_warning(number) == ""


@pytest.mark.parametrize("number", vin.RIGHT)
def test_published_numbers_have_the_right_digit(number):
    assert read_vin(number) == number
    assert check_digit(number) == number[8]


@pytest.mark.parametrize(("number", "digit"), vin.NO_CHECK_DIGIT)
def test_where_no_check_digit_is_asked_for_none_is_missed(number, digit):
    assert check_digit(number) == digit != number[8]
    assert check_digit_warning(number) == ""


@given(VINS)
def test_the_check_digit_is_the_library_s(number):
    with_digit = number[:8] + check_digit(number) + number[9:]
    assert Judge(with_digit).verify_checksum(check_year=False)
    assert Judge(number).verify_checksum(check_year=False) == (check_digit(number) == number[8])


@given(VINS, st.integers(0, 16), st.sampled_from(ALPHABET))
def test_one_wrong_place_is_found_unless_the_table_gives_both_characters_one_value(number, place, char):
    number = number[:8] + check_digit(number) + number[9:]
    wrong = number[:place] + char + number[place + 1:]
    values = {one: str(vin.VALUES.get(one, one)) for one in (number[place], char)}
    assume(place != 8 and values[number[place]] != values[char])
    # every weight but that of place 9 and 11 itself being prime, no change of one value is a multiple of 11
    assert check_digit(wrong) != wrong[8]


@given(st.one_of(VINS, VINS.map(str.lower), st.text(ALPHABET + "IOQ?é", min_size=15, max_size=18), st.text()))
def test_the_form_is_the_library_s(text):
    assume(not any(char.isspace() or char in "-‐‑" for char in text.strip()))  # which are dropped here
    try:
        expected = Vin.validate(text)
    except ValidationError:
        with pytest.raises(WrongUse):
            read_vin(text)
    else:
        assert read_vin(text) == expected


@pytest.mark.parametrize("first", "12345")
def test_north_america_is_warned_of_a_wrong_digit(first):
    assert [name for chars, name in REGIONS.items() if first in chars] == ["North America"]
    number = first + "M8GDM9AXKP042788"
    right = number[:8] + check_digit(number) + number[9:]
    wrong = number[:8] + ("0" if right[8] != "0" else "1") + number[9:]
    assert check_digit_warning(right) == ""
    assert f"its check digit, {right[8]}" in check_digit_warning(wrong)


@pytest.mark.parametrize("first", [char for char in ALPHABET if char not in "12345"])
def test_elsewhere_nothing_is_warned_of(first):
    assert check_digit_warning(first + "M8GDM9A0KP042788") == check_digit_warning(first + "M8GDM9A1KP042788") == ""
