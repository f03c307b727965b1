"""Amounts and money: exact, in their units, never a float."""

from decimal import ROUND_CEILING, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder import amount

QUANTITIES = (("L", "mL"), ("kg", "g"), ("m", "mm"))
MEASURED = [unit for pair in QUANTITIES for unit in pair]
#: How many of the smaller unit one is; what the prefixes milli and kilo mean.
IN_SMALLER = {"L": 1000, "mL": 1, "kg": 1000, "g": 1, "m": 1000, "mm": 1}


def refused(text: str, unit: str, shown_in: str | None = None) -> str:
    with pytest.raises(ValueError) as raised:
        amount.parse(text, unit, shown_in or unit)
    return str(raised.value)


decimals = st.decimals(min_value=Decimal("0.000000001"), max_value=Decimal("999999999"),
                       places=9).map(lambda one: f"{one:f}")


@given(decimals, st.sampled_from(QUANTITIES), st.booleans(), st.booleans())
def test_measured_units_convert_within_a_quantity_rounded_up_to_a_thousandth(text, pair, from_small, to_small):
    unit, shown_in = pair[from_small], pair[to_small]
    exact = Fraction(text) * IN_SMALLER[unit] / IN_SMALLER[shown_in]
    milli = amount.parse(text, unit, shown_in)
    assert Fraction(milli, 1000) >= exact > Fraction(milli - 1, 1000)


@given(st.integers(1, 10**11), st.sampled_from(amount.COUNTED))
def test_counted_units_are_whole(count, unit):
    assert amount.parse(f"{count}.000", unit, unit) == count * 1000
    assert refused(f"{count}.5", unit) == f"a whole number of {unit}"


@pytest.mark.parametrize(("unit", "shown_in"), [
    (one, other) for one in amount.UNITS for other in amount.UNITS
    if one != other and not any({one, other} == set(pair) for pair in QUANTITIES)])
def test_units_of_other_quantities_do_not_convert(unit, shown_in):
    assert refused("1", unit, shown_in) == f"a unit that converts to {shown_in}"


@pytest.mark.parametrize("text", ["", "0", "0.0", "-1", "+1", ".5", "5.", "1e3", "nan", "inf", "1_000", "½", "２",
                                  "1 L", " 1", "1\n",
                                  "1,2,3", "1,000.5", "9" * 13, f"0.{'1' * 19}"])
@pytest.mark.parametrize("unit", amount.UNITS)
def test_what_is_no_decimal_more_than_zero_is_refused(text, unit):
    assert refused(text, unit) == "a decimal more than zero, such as 1 or 0.5"


@pytest.mark.parametrize(("text", "offered"), [("1,5", "1.5"), ("0,25", "0.25"), ("1,000", "1.000")])
def test_a_decimal_comma_is_refused_and_the_point_offered(text, offered):
    assert refused(text, "L") == f"a decimal point: {offered}"
    with pytest.raises(ValueError, match=f"a decimal point: {offered}"):
        amount.parse_money(text, "EUR")


def test_the_largest_and_the_smallest_amount_fit_a_database():
    assert amount.parse("9" * 12, "L", "mL") < 2**63
    assert amount.parse("0." + "0" * 17 + "1", "mL", "L") == 1


@given(st.integers(-10**15, 10**15))
def test_an_amount_is_shown_without_exponent_or_needless_zeros(milli):
    text = amount.show(milli)
    assert Decimal(text) == Decimal(milli).scaleb(-3)
    assert "e" not in text.lower()
    assert not text.endswith(".") and ("." not in text or not text.endswith("0"))


@given(decimals)
def test_what_is_shown_reads_as_the_same(text):
    milli = amount.parse(text, "L", "L")
    assert milli == int(Decimal(text).scaleb(3).to_integral_value(ROUND_CEILING))
    assert amount.parse(amount.show(milli), "L", "L") == milli


@pytest.mark.parametrize(("milli", "unit", "shown_in", "converted"), [
    (1500, "L", "L", 1500), (1500, "L", "mL", 1_500_000), (1_500_999, "mL", "L", 1500), (999, "mm", "m", 0),
    (7, "each", "each", 7)])
def test_what_is_to_hand_is_converted_rounded_down(milli, unit, shown_in, converted):
    assert amount.convert(milli, unit, shown_in) == converted


@pytest.mark.parametrize(("text", "currency", "minor"), [
    ("4.20", "EUR", 420), ("4.2", "EUR", 420), ("4", "EUR", 400), ("0", "EUR", 0), ("0.01", "EUR", 1),
    ("4.200", "EUR", 420),
    ("420", "JPY", 420), ("420.0", "JPY", 420), ("1.234", "KWD", 1234)])
def test_money_is_whole_minor_units(text, currency, minor):
    assert amount.parse_money(text, currency) == minor


@pytest.mark.parametrize(("text", "currency", "words"), [
    ("4.205", "EUR", "at most 2 decimal places in EUR"), ("0.5", "JPY", "at most 0 decimal places in JPY"),
    ("-1", "EUR", "such as 4.20"), ("", "EUR", "such as 4.20"), ("free", "EUR", "such as 4.20"),
    ("1e2", "EUR", "such as 4.20")])
def test_what_is_no_price_is_refused(text, currency, words):
    with pytest.raises(ValueError, match=words):
        amount.parse_money(text, currency)


@given(st.integers(0, 10**12 - 1), st.sampled_from(["EUR", "JPY", "KWD"]))
def test_money_that_is_shown_reads_as_the_same(minor, currency):
    assert amount.parse_money(amount.show_money(minor, currency), currency) == minor


def test_money_owed_is_shown_with_its_sign():
    assert [amount.show_money(minor, "EUR") for minor in (-5, -420, 420)] == ["-0.05", "-4.20", "4.20"]
