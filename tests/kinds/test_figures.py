"""Figures and names of data sheets read to one form."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds.brake_fluid import read_boiling_point
from kitbuilder.kinds.figures import read_celsius, read_minutes, read_viscosity


@pytest.mark.parametrize(("read", "text", "figure"), [
    (read_viscosity, "14.50", "14.5"), (read_viscosity, "14.5 mm²/s", "14.5"), (read_viscosity, "14.5cSt", "14.5"),
    (read_viscosity, "014", "14"), (read_viscosity, "0.5 mm2/s", "0.5"),
    (read_celsius, "-40", "-40"), (read_celsius, "−40 °C", "-40"), (read_celsius, "-0.0", "0"),
    (read_celsius, "5C", "5"),
    (read_minutes, "30", "30"), (read_minutes, "24 h", "1440"), (read_minutes, "1.5 hours", "90"),
    (read_minutes, "0.25h", "15"), (read_minutes, "7 d", "10080"), (read_minutes, "2.50 min", "2.5"),
    (read_boiling_point, "230", "230"), (read_boiling_point, "230.0 °C", "230"),
])
def test_a_figure_reads_in_one_form(read, text, figure):
    assert read(text) == figure
    assert read(figure) == figure


@pytest.mark.parametrize(("read", "text", "told"), [
    (read_viscosity, "thick", "a number of mm²/s more than zero, such as 14.5"),
    (read_viscosity, "0", "a number of mm²/s more than zero, such as 14.5"),
    (read_viscosity, "-1", "a number of mm²/s more than zero, such as 14.5"),
    (read_viscosity, "14.5 °C", "a number of mm²/s more than zero, such as 14.5"),
    (read_viscosity, "1e1", "a number of mm²/s more than zero, such as 14.5"),
    (read_viscosity, "14,5", "a decimal point: 14.5"),
    (read_celsius, "cold", "a number of °C, such as -40"),
    (read_celsius, "-40 F", "a number of °C, such as -40"),
    (read_minutes, "overnight", "a number of min more than zero, such as 30"),
    (read_boiling_point, "446 °F", "a number of °C more than zero, such as 230"),
    (read_boiling_point, "-5", "a number of °C more than zero, such as 230"),
])
def test_what_is_no_figure_is_refused(read, text, told):
    with pytest.raises(ValueError) as refused:
        read(text)
    assert str(refused.value) == told


@given(st.decimals(Decimal("-999.999"), Decimal("999.999"), places=3))
def test_a_figure_keeps_its_value_and_loses_its_needless_zeros(figure):
    read = read_celsius(f"{figure}")
    assert Decimal(read) == figure
    assert read == f"{figure.normalize():f}" or figure == 0
    assert read_celsius(read) == read


@given(st.decimals(Decimal("0.001"), Decimal(999), places=3))
def test_hours_and_days_are_so_many_minutes(figure):
    assert Decimal(read_minutes(f"{figure} h")) == figure * 60
    assert Decimal(read_minutes(f"{figure}d")) == figure * 1440
