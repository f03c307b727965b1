"""The judge is judged: amounts and chances."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.brute_values import chance_text, shown_amount


@pytest.mark.parametrize(
    ("amount", "unit", "shown_in", "shown"),
    [
        ("0.5", "mL", "L", "1/1000"),
        ("1500", "mL", "L", "3/2"),
        ("1.0005", "L", "L", "1001/1000"),
        ("2", "m", "mm", "2000"),
    ],
)
def test_an_amount_is_shown_in_the_items_unit_rounded_up(
    amount: str, unit: str, shown_in: str, shown: str
) -> None:
    assert shown_amount(amount, unit, shown_in) == Fraction(shown)


def test_counted_units_are_not_converted() -> None:
    with pytest.raises(ValueError, match="can't be shown"):
        shown_amount("1", "each", "set")


@pytest.mark.parametrize(
    ("chance", "text"),
    [
        ("1", "1"),
        ("0", "0"),
        ("1/3", "0.3333"),
        ("0.00005", "0"),
        ("0.00015", "0.0002"),
        ("0.00025", "0.0002"),
    ],
)
def test_a_chance_is_rounded_half_to_even(chance: str, text: str) -> None:
    assert chance_text(Fraction(chance)) == text
