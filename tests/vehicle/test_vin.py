"""VINs: how they may be typed, what is wrong with one, what the catalogue's rows say of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.errors import WrongUse
from kitbuilder.model.catalogue import Condition
from kitbuilder.vehicle.statements import REGISTER, Statement
from kitbuilder.vehicle.vin import LETTERS, VinPattern, by_vin, is_vin, matched, of_vin, read_vin, vin_places

VIN = "000DALSN00M144441"


@pytest.mark.parametrize("typed", [
    VIN, VIN.lower(), f"  {VIN} ", "000-DALSN0-0M144441", "000 DALSN0 0M144441", "000\u2011DALSN0\u20100M\u00a0144441"])
def test_capitals_spaces_and_hyphens_do_not_count(typed):
    assert read_vin(typed) == VIN


@pytest.mark.parametrize(("typed", "words"), [
    ("", "has 0 places. Expected 17"), (VIN[:-1], "has 16 places. Expected 17"), (VIN + "1", "has 18 places"),
    ("OOODALSN00M144441", "has the letter O at place 1. A VIN has no I, O or Q: is it a 0?"),
    ("000 DALSN00 MI44441", "has the letter I at place 12. A VIN has no I, O or Q: is it a 1?"),
    ("000DALSN00M14444q", "has the letter Q at place 17. A VIN has no I, O or Q: is it a 0?"),
    ("000DALSN00M1444.1", "has '.' at place 16. A VIN has the letters A to Z and digits only."),
    ("000DALSN00M14444Ä", "has 'Ä' at place 17."), ("000DALSN00M14444٣", "has '٣' at place 17."),
])
def test_what_is_wrong_is_told_with_its_place(typed, words):
    with pytest.raises(WrongUse) as told:
        read_vin(typed)
    assert words in str(told.value)
    assert not is_vin(typed)


def row(pattern, serial=None, line=2, **facts):
    cells = tuple(Condition(fact, cell) for fact, cell in facts.items())
    return VinPattern(matched(vin_places(pattern)), cells, line, serial)


def test_all_rows_that_match_speak_and_rank_as_a_register():
    rows = [row("000DA????????????", line=2, axles="4x2"), row("000DB????????????", line=3, axles="6x2"),
            row("000D?L???????????", line=4, gearbox="light", brakes="disc")]
    assert of_vin(rows, VIN) == [
        Statement("axles", "4x2", REGISTER, "vin.csv line 2"),
        Statement("gearbox", "light", REGISTER, "vin.csv line 4"),
        Statement("brakes", "disc", REGISTER, "vin.csv line 4")]


@pytest.mark.parametrize(("last", "matches"), [
    ("144440", False), ("144441", True), ("150000", True), ("150001", False), ("999999", True), ("000000", False),
    ("14444A", False)])
def test_a_serial_is_the_last_six_places_as_a_number(last, matches):
    one = row("000D?????????????", ((144441, 150000), (999999, 999999)))
    assert one.matches(VIN[:-6] + last) == matches
    assert row("000D?????????????").matches(VIN[:-6] + last)


PATTERNS = (row("000DA????????????", axles="4x2"),)


def test_the_typed_vin_counts_before_those_of_registers():
    found, warnings = by_vin(PATTERNS, VIN.lower(), ["000DB000000000001"])
    assert [one.cell for one in found] == ["4x2"]
    assert warnings == [f"The register has another VIN for this vehicle, 000DB000000000001; {VIN} counts."]
    assert by_vin(PATTERNS, VIN, [VIN]) == (found, [])


def test_of_registers_that_disagree_the_first_counts_and_the_others_are_told():
    found, warnings = by_vin(PATTERNS, None, [VIN, "000DB000000000001"])
    assert [one.cell for one in found] == ["4x2"]
    assert "another VIN for this vehicle, 000DB000000000001" in warnings[0]


def test_a_typed_vin_of_which_nothing_is_known_is_told():
    assert by_vin(PATTERNS, "000X" + VIN[4:], []) == (
        [], [f"No row of the catalogue's vin.csv matches the VIN 000X{VIN[4:]}; it narrows nothing."])
    assert by_vin((), VIN, []) == ([], [f"The catalogue has no vin.csv for the VIN {VIN}; it narrows nothing."])


def test_a_register_s_vin_of_which_nothing_is_known_is_not():
    assert by_vin((), None, [VIN]) == by_vin((), None, []) == ([], [])


def test_a_check_digit_that_is_wrong_warns_and_the_vin_counts_all_the_same():
    found, warnings = by_vin((row("1M8??????????????", axles="4x2"),), "1M8GDM9A1KP042788", [])
    assert [one.cell for one in found] == ["4x2"]
    assert warnings == [
        "The VIN 1M8GDM9A1KP042788 has 1 at place 9, where a North American one has its check digit, X. Read it again."]


@given(st.text(LETTERS, min_size=17, max_size=17), st.integers(1, 16), st.sampled_from([" ", "-", "  ", " - "]))
def test_any_vin_is_read_as_it_is_however_it_is_parted(vin, at, between):
    assert read_vin(vin[:at] + between + vin[at:].lower()) == vin
