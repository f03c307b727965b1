"""The notation of patterns, judged by the standard library's fnmatch and by looking into every text."""

from fnmatch import fnmatchcase
from itertools import product

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kitbuilder.vehicle.pattern import PatternFault, bare, overlap, read_pattern, written
from kitbuilder.vehicle.vin import LETTERS, VinPattern, matched, vin_places

#: Over three characters; the fourth stands for all that the pieces don't name.
PIECES = st.sampled_from(["A", "B", "1", "?", "*", "[AB]", "[!A]", "[A-B]", "[!A-B1]", "[1]"])
PATTERNS = st.lists(PIECES, max_size=3).map("".join)
#: Each character of the shortest text that matches two patterns brings one of them on: six are enough.
TEXTS = ["".join(chars) for size in range(7) for chars in product("AB1C", repeat=size)]


@given(PATTERNS)
def test_what_is_read_and_written_matches_what_the_pattern_matches(pattern):
    again = written(read_pattern(pattern))
    assert [text for text in TEXTS if fnmatchcase(text, again)] == [
        text for text in TEXTS if fnmatchcase(text, pattern)]
    assert written(read_pattern(again)) == again


@given(PATTERNS, PATTERNS)
@example("A*", "*1")
@example("*A", "B*")
def test_two_patterns_overlap_if_some_text_matches_both(one, other):
    expected = any(fnmatchcase(text, one) and fnmatchcase(text, other) for text in TEXTS)
    assert overlap(read_pattern(one), read_pattern(other)) == expected


@pytest.mark.parametrize(("one", "other", "found"), [
    ("", "", True), ("", "*", True), ("A", "", False), ("A*", "*A", True), ("A*B", "*BA", False), ("A?", "AB*", True),
    ("[!A-C]*", "[AB]*", False), ("[!A]", "[!B]", True), ("*A*", "*B*", True), ("TL61*", "TL6[2-4]*", False),
])
def test_overlaps(one, other, found):
    assert overlap(read_pattern(one), read_pattern(other)) == found


@pytest.mark.parametrize(("pattern", "text"), [
    ("TL6-1*", "tl6 1207"), ("tl6-1*", "TL6-1"), ("TL 6 [2 - 4]?", "TL6-3X"), ("A.B/C!", "a.b/c!"), ("Ä?", "ä1"),
])
def test_spelling_does_not_count(pattern, text):
    assert fnmatchcase(bare(text), written(read_pattern(pattern)))


@pytest.mark.parametrize(("pattern", "words"), [
    ("[AB", "a set that ends"), ("A]", "a set that begins"), ("[]", "a set with something in it"),
    ("[!]", "a set with something in it"),
    ("[C-A]", "the earlier end first: A-C"), ("[0-Z]", "a run of letters or of digits, such as A-F or 0-3, not 0-Z"),
    ("[A.]", "letters, digits and runs"), ("[-A]", "letters, digits"), ("[A-]", "letters, digits"), (r"\*", "quoted"),
    ("[A[B]", "letters, digits"),
])
def test_what_is_wrong_with_a_pattern_is_told(pattern, words):
    with pytest.raises(PatternFault, match=words.replace("[", r"\[")):
        read_pattern(pattern)


# VINs have places


@pytest.mark.parametrize(("text", "place", "chars"), [
    ("000DA*", 5, "A"), ("000DA*", 6, LETTERS), ("000d[a-c]*", 5, "ABC"), ("000D[G-K]*", 5, "GHJK"),
    ("000D[!A-H]*", 5, "".join(char for char in LETTERS if char not in "ABCDEFGH")), ("*", 1, LETTERS),
    ("000DALSN00M144441", 17, "1"), ("000-DA-*", 5, "A"), ("000DALSN00M144441*", 17, "1"),
])
def test_each_place_of_a_vin_s_pattern(text, place, chars):
    places = vin_places(text)
    assert len(places) == 17
    assert places[place - 1] == set(chars)


@pytest.mark.parametrize(("text", "words"), [
    ("000DA", "a pattern of 17 places (this has 5), or of fewer with a * at the end"),
    ("", "a pattern of 17 places (this has 0)"), ("?" * 18, "(this has 18)"), ("?" * 18 + "*", "(this has 18)"),
    ("000*M*", "one * at most, at the end"), ("*000", "one * at most, at the end"),
    ("00ODA*", "a pattern without O, which no VIN has; is it a 0?"), ("000[i]*", "without I"),
    ("000.A*", "'.' at place 4"), ("000Ä*", "'Ä' at place 4"), ("[AB", "a set that ends"),
    ("000[!0-9A-Z]*", "something that a VIN may have at place 4"),
])
def test_what_is_wrong_with_a_vin_s_pattern_is_told(text, words):
    with pytest.raises(PatternFault) as told:
        vin_places(text)
    assert words in str(told.value)


@given(st.lists(st.sampled_from(["A", "7", "?", "[A-D]", "[!0-8]", "[P-S]"]), min_size=17, max_size=17),
       st.text(LETTERS, min_size=17, max_size=17))
def test_a_vin_matches_if_each_of_its_places_does(pieces, vin):
    places = vin_places("".join(pieces))
    expected = all(fnmatchcase(char, piece) for char, piece in zip(vin, pieces, strict=True))
    assert all(char in chars for char, chars in zip(vin, places, strict=True)) == expected
    assert VinPattern(matched(places), (), 2).matches(vin) == expected
