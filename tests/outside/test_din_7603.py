"""Sealing rings, against DIN 7603 as din_7603.py has it (with its sources, which are weak)."""

import pytest

from kitbuilder.kinds import contradictions, sealing_ring
from kitbuilder.kinds.threads import COARSE
from kitbuilder.model.catalogue import Item
from tests.outside import din_7603


def ring(thread: str, size: str) -> Item:
    return Item("R-1", "Ring", "each", kind="sealing ring", properties={"thread": thread, "size": size})


@pytest.mark.parametrize("diameter", [*din_7603.SEEN, *din_7603.FROM_MEMORY])
def test_the_usual_ring_for_a_thread_is_the_table_s(diameter):
    written = {**din_7603.SEEN, **din_7603.FROM_MEMORY}[diameter]
    assert sealing_ring.usual_ring(f"M{diameter}x1.5") == sealing_ring.read_size(written)


def test_nothing_is_said_where_sources_differ():
    assert set(sealing_ring.USUAL) == {*din_7603.SEEN, *din_7603.FROM_MEMORY}
    assert [sealing_ring.usual_ring(f"M{diameter}x1.5") for diameter in din_7603.LEFT_OUT] == [None]
    assert set(din_7603.SEEN) <= set(COARSE)


def test_a_ring_called_by_its_thread_and_one_measured_are_the_same():
    written = ("14x18x1.5", "14.2x18x1.5", "14.2 X 18 x 1.50 mm")
    assert {sealing_ring.read_size(text) for text in written} == {"14x18x1.5"}


@pytest.mark.parametrize(("size", "thread"), din_7603.SOLD)
def test_rings_that_are_sold_for_a_thread_suit_it(size, thread):
    assert contradictions(ring(thread, sealing_ring.read_size(size))) == ()


def test_a_ring_for_another_thread_is_told():
    assert contradictions(ring("M14x1.5", "12x16x1.5")) == (
        "R-1 (Ring): it is said to be for M14x1.5, and its hole of 12 mm doesn't pass over that thread; the usual ring "
        "is 14x18x1.5 (DIN 7603).",)
    assert contradictions(ring("M24x1.5", "26x31x2")) == (
        "R-1 (Ring): it is said to be for M24x1.5, and its hole of 26 mm is too wide for that thread.",)


def test_materials_are_those_that_rings_are_made_of():
    assert sealing_ring.MATERIALS == din_7603.MATERIALS
    for material in din_7603.MATERIALS:
        assert sealing_ring.read_material(material.upper()) == material
