"""What goes with a booking besides parts, on the demo's catalogue: old units and their day, waste, hazards."""

from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.demo.workshop import demo_catalogue
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.stages import stage_minutes
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.beside import comes_off, goes_back, hazards
from kitbuilder.workshop.picking import pick_list
from tests.workshop.making import booking, hold, work_kit_of


@pytest.fixture(scope="module")
def edition() -> Edition:
    return read_edition(Path(demo_catalogue()))


def told(**facts: str) -> list[Statement]:
    return [Statement(name, cell, TOLD) for name, cell in facts.items()]


@pytest.fixture(scope="module")
def kit(edition):
    return build_kit(edition, "actuator-replace", told(
        gearbox="Tarnholt light 6 early", emissions="Euro V", place="workshop", access="in the frame"))


def test_the_old_unit_goes_back_within_its_term_from_the_planned_start(kit):
    assert goes_back(booking(), kit, {"TH-10110"}) == (
        "Actuator unit, Tarnholt light 6 early, exchange (TH-10110): the old unit goes back by 2026-04-10 drained, "
        "plugged, boxed, the very one taken off; deposit 450.00 EUR each",)
    assert goes_back(booking(start_wall="2026-12-15T08:00:00"), kit, {"TH-10110"})[0].split(" by ")[1].startswith(
        "2027-01-14")
    assert goes_back(booking(), kit, {"CO-50310"}) == ()


def test_what_comes_off_has_its_code(kit):
    assert "Oil of the actuator unit, drained, 1.5 L: 13 01 11* (hazardous)" in comes_off(kit)
    assert "Brake fluid, 0.5 L: 16 01 13* (hazardous)" in comes_off(kit)


def test_what_may_come_off_says_perhaps(edition):
    open_ = build_kit(edition, "actuator-replace", told(gearbox="Tarnholt light 6 early", emissions="Euro V"))
    assert "Gearbox oil, lost on the way, 1 L: 13 02 06* (hazardous), perhaps" in comes_off(open_)


def test_hazards_are_those_of_what_is_fetched_and_of_sheets_that_name_any(kit):
    assert hazards(kit, {"CO-50310", "CO-50110", "TH-10110"}) == (
        "Brake cleaner, can (CO-50310): DANGER: flame (GHS02), exclamation mark (GHS07), environment (GHS09) "
        "H222 H229 H315 H336 H411; see its sheet",)


def test_the_pick_list_has_them_for_what_is_held(kit):
    holds = [hold("actuator-unit:TH-10110", "TH-10110", number=1), hold("brake-cleaner:CO-50310", "CO-50310", number=2)]
    picks = pick_list(booking(), work_kit_of(), holds, {}, (), built=kit)
    assert [len(part) for part in (picks.back, picks.hazards)] == [1, 1]
    assert picks.comes_off == comes_off(kit)
    plain = pick_list(booking(), work_kit_of(), holds, {}, ())
    assert (plain.back, plain.comes_off, plain.hazards) == ((), (), ())


def test_an_early_engine_s_pump_waits_for_its_silicone(edition):
    """The demo's sealant CO-50230 cures 60 minutes; later engines have a gasket."""
    early, late = (
        {one.name: one.cure_least for one in stage_minutes(edition, "coolant-pump-replace", told(emissions=cell))}
        for cell in ("Euro III", "Euro VI"))
    assert sum(early.values()) == 60
    assert sum(late.values()) == 0
