"""Waste codes: one form for each, and help with what is no code."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds import waste

GAPS = st.sampled_from(["", " ", ".", "-", "  "])


@given(st.sampled_from(waste.codes()), GAPS, GAPS, st.sampled_from(["", " "]), st.booleans())
def test_every_spelling_reads_to_one_form_and_that_to_itself(code, first, second, before, marked):
    digits = code.removesuffix("*").replace(" ", "")
    star = f"{before}*" if marked and waste.hazardous(code) else ""
    assert waste.read_code(f" {digits[:2]}{first}{digits[2:4]}{second}{digits[4:]}{star} ") == code
    assert waste.read_code(code) == code


def test_codes_stand_in_order_each_once_with_a_title():
    codes = [code.removesuffix("*") for code in waste.codes()]
    assert codes == sorted(set(codes))
    assert all(waste.title(code).strip() == waste.title(code) != "" for code in waste.codes())


@pytest.mark.parametrize(("text", "words"), [
    ("16 01 05", ("near it are 16 01 04* (end-of-life vehicles) and 16 01 06",)),
    ("13 02 09*", ("near it are 13 02 07*", "13 02 08* (other engine, gear and lubricating oils)")),
    ("02 01 01", ("of a group that is held here: those of chapters 08, 12 to 17 and 20",)),
    ("13 06 01", ("of a group that is held here: 13 01, 13 02, 13 03, 13 04, 13 05, 13 07, 13 08",)),
    ("oil", ("a code of the European List of Waste, such as 13 02 05*",)),
    ("13 02", ("such as 13 02 05*",)),
    ("1302055", ("such as 13 02 05*",)),
    ("15 02 03*", ("15 02 03 without *, for it isn't hazardous", "(15 02 02* is)")),
    ("16 01 03*", ("16 01 03 without *, for it isn't hazardous: end-of-life tyres",)),
])
def test_what_is_no_code_is_refused_with_what_there_is(text, words):
    with pytest.raises(ValueError) as refused:
        waste.read_code(text)
    for word in words:
        assert word in str(refused.value)


def test_a_title_that_names_a_twin_is_helped_with():
    with pytest.raises(ValueError, match=r"16 01 15 without \*.*\(16 01 14\* is\)"):
        waste.read_code("160115*")
