"""Canonical JSON of fingerprints, against RFC 8785: its published examples, and the library rfc8785."""

import json

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kit.fingerprint import canonical
from tests.brute_values import canonical as plain_canonical
from tests.outside import rfc_8785

LARGEST_WHOLE = 2**53 - 1  # section 3.2.2.3 with I-JSON: whole numbers that every reader keeps exact
SCALARS = st.none() | st.booleans() | st.integers(-LARGEST_WHOLE, LARGEST_WHOLE) | st.text()
VALUES = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=5), max_leaves=25)


@pytest.mark.parametrize(("written", "wanted"), [
    (rfc_8785.SORTING_INPUT, rfc_8785.SORTING_CANONICAL.encode()),
    (rfc_8785.WEIRD_INPUT, rfc_8785.WEIRD_CANONICAL),
], ids=["section 3.2.3", "weird.json"])
def test_a_published_example_comes_out_byte_for_byte(written, wanted):
    value = json.loads(written)
    assert canonical(value) == wanted
    assert rfc8785.dumps(value) == wanted
    assert json.loads(wanted) == value


def test_the_published_strings_and_literals_come_out_byte_for_byte():
    """Section 3.2.2 without its numbers: a kit holds none but whole ones."""
    value = json.loads(rfc_8785.SAMPLE_INPUT)
    assert rfc8785.dumps(value) == rfc_8785.SAMPLE_CANONICAL.encode()
    del value["numbers"]
    numbers = '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    assert numbers in rfc_8785.SAMPLE_CANONICAL
    assert canonical(value) == rfc_8785.SAMPLE_CANONICAL.replace(numbers, "").encode()


@pytest.mark.parametrize(
    "point", [*range(0x20), 0x22, 0x2F, 0x5C, 0x7F, 0x80, 0x2028, 0x2029, 0xFEFF, 0xFFFF, 0x10FFFF])
def test_each_character_that_writers_of_json_differ_on_comes_out_as_the_library_says(point):
    assert canonical({chr(point): chr(point)}) == rfc8785.dumps({chr(point): chr(point)})


def test_keys_are_sorted_by_their_utf_16_units_and_not_by_code_point():
    in_order = list(json.loads(canonical(json.loads(rfc_8785.SORTING_INPUT))))
    assert tuple(in_order) == rfc_8785.SORTED_KEYS
    assert in_order != sorted(in_order)


@given(VALUES)
def test_any_value_comes_out_as_the_library_says(value):
    assert canonical(value) == rfc8785.dumps(value)


@given(VALUES)
def test_the_plain_judge_of_kits_writes_the_same(value):
    assert plain_canonical(value).encode() == rfc8785.dumps(value)


def test_a_tuple_is_written_as_a_list():
    assert canonical({"when": ({"place": ("yard", "workshop")},)}) == b'{"when":[{"place":["yard","workshop"]}]}'
