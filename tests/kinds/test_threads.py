"""Threads: one form for each, and help with what is no thread."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds.threads import COARSE, FINE, diameter_of, pitches, read_thread, tapping_drill

THREADS = [f"M{diameter}x{pitch}" for diameter in {**COARSE, **FINE} for pitch in pitches(diameter)]


@given(st.sampled_from(THREADS), st.sampled_from(["M", "m", "M "]), st.sampled_from(["x", "X", " x ", "×", "*"]),
       st.sampled_from(["", "0", "00"]), st.sampled_from([("", ""), ("-LH", "-LH"), (" lh", "-LH"), ("LH", "-LH")]))
def test_every_spelling_reads_to_one_form_and_that_to_itself(thread, letter, between, zeros, hand):
    diameter, _, pitch = thread[1:].partition("x")
    longer = pitch + ("." if "." not in pitch else "") + zeros if zeros else pitch
    assert read_thread(f" {letter}{diameter}{between}{longer}{hand[0]} ") == thread + hand[1]
    assert read_thread(thread + hand[1]) == thread + hand[1]


@given(st.sampled_from(sorted(COARSE)))
def test_without_a_pitch_the_coarse_one_is_meant(diameter):
    assert read_thread(f"M{diameter}") == f"M{diameter}x{COARSE[diameter]}"


def test_pitches_stand_coarse_first_and_no_pitch_twice():
    for diameter in {**COARSE, **FINE}:
        known = [Decimal(pitch) for pitch in pitches(diameter)]
        assert known == sorted(set(known), reverse=True)
        assert known[0] < Decimal(diameter)


@pytest.mark.parametrize(("text", "told"), [
    ("M14x1.7", "a pitch that ISO 261 has for M14: M14x2, M14x1.5, M14x1.25, M14x1"),
    ("M13x1.5", "a diameter of ISO 261; next to M13 it has M12 and M14"),
    ("M100", "a diameter of ISO 261; next to M100 it has M64 and M65"),
    ("M26", "a pitch behind it, for M26 has no coarse one in ISO 261: M26x1.5"),
    ("M14x1,5", "a decimal point: M14x1.5"),
    ("M14-1.5", "a metric thread of ISO 261, such as M14x1.5"),
    ("M14x1.5-6H", "a metric thread of ISO 261, such as M14x1.5"),
    ("M0", "a diameter of ISO 261; next to M0 it has M1 and M1.2"),
    ("٣M14", "a metric thread of ISO 261, such as M14x1.5"),
])
def test_what_is_no_thread_is_refused_with_what_there_is(text, told):
    with pytest.raises(ValueError) as refused:
        read_thread(text)
    assert str(refused.value) == told


@pytest.mark.parametrize("thread", THREADS)
def test_a_drill_is_the_diameter_less_the_pitch_to_a_tenth(thread):
    exact, drill = tapping_drill(thread)
    assert exact == diameter_of(thread) - Decimal(thread.partition("x")[2])
    assert abs(drill - exact) <= Decimal("0.05") and drill == round(drill, 1)
    assert tapping_drill(f"{thread}-LH") == (exact, drill)
