"""Threads, against ISO 261 as iso_261.py has it (with its sources)."""

from decimal import Decimal

import pytest

from kitbuilder.kinds import threads
from tests.outside import iso_261


def test_coarse_pitches_are_those_of_two_sources():
    assert {diameter: threads.COARSE[diameter] for diameter in iso_261.COARSE} == iso_261.COARSE
    assert [threads.read_thread(size.partition("-")[0]) for size in iso_261.BOLTS] == [
        size.replace("-", "x") for size in iso_261.BOLTS]


@pytest.mark.parametrize("diameter", iso_261.FINE)
def test_every_fine_pitch_that_was_seen_is_known(diameter):
    assert set(iso_261.FINE[diameter]) <= set(threads.FINE[diameter])
    for pitch in iso_261.FINE[diameter]:
        assert threads.read_thread(f"M{diameter} x {pitch}") == f"M{diameter}x{pitch}"


def test_nothing_else_is_known_than_what_was_seen_or_is_marked_as_remembered():
    assert threads.COARSE == {**iso_261.COARSE, **iso_261.COARSE_FROM_MEMORY}
    fine = {diameter: {*iso_261.FINE.get(diameter, ()), *iso_261.FROM_MEMORY.get(diameter, ())}
            for diameter in {**iso_261.FINE, **iso_261.FROM_MEMORY}}
    assert {diameter: set(known) for diameter, known in threads.FINE.items()} == fine
    assert not any(set(seen) & set(iso_261.FROM_MEMORY.get(diameter, ())) for diameter, seen in iso_261.FINE.items())


@pytest.mark.parametrize("thread", iso_261.ON_VEHICLES)
def test_what_a_heavy_vehicle_has_is_known(thread):
    assert threads.read_thread(thread) == thread


@pytest.mark.parametrize(("written", "thread"), iso_261.SPELLINGS)
def test_however_it_is_written_it_is_the_same_thread(written, thread):
    assert threads.read_thread(written) == thread


@pytest.mark.parametrize("written", iso_261.NO_SUCH_THREAD)
def test_what_is_no_thread_of_the_standard_is_refused(written):
    with pytest.raises(ValueError, match="ISO 261"):
        threads.read_thread(written)


@pytest.mark.parametrize("thread", iso_261.CHART_DRILLS)
def test_drills_are_those_of_the_chart(thread):
    assert threads.tapping_drill(thread)[1] == Decimal(iso_261.CHART_DRILLS[thread])


@pytest.mark.parametrize("thread", iso_261.LIBRARY_DRILLS)
def test_drills_are_those_of_a_library_to_its_precision(thread):
    assert threads.read_thread(thread) == thread
    exact, drill = threads.tapping_drill(thread)
    theirs = Decimal(iso_261.LIBRARY_DRILLS[thread])
    assert abs(exact - theirs) <= Decimal("0.05")
    assert abs(drill - theirs) <= Decimal("0.05")


@pytest.mark.parametrize("thread", iso_261.DRILLS_THAT_DIFFER)
def test_where_the_library_is_off_the_trade_is_followed(thread):
    theirs, ours = iso_261.DRILLS_THAT_DIFFER[thread]
    assert threads.tapping_drill(thread)[1] == Decimal(ours) != Decimal(theirs)
