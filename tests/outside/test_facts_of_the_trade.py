"""Facts of the trade on the demo catalogue: common practice, no source.

- The light automated gearbox family's actuator unit is fused in line, at the gearbox, for Euro V; Euro VI
  has no such fuse.
- The oil fill of that unit's own circuit comes to about 1.5 litres: 1.0 at first, the remainder once clutch
  actuator and shifter are bled and under pressure.
"""

from decimal import Decimal
from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.build import build_kit
from kitbuilder.vehicle.statements import Statement

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
IN_LINE = {"line-fuse-holder", "line-fuse"}
UNIT_JOBS = ("actuator-replace", "actuator-repair")


@pytest.fixture(scope="module")
def edition():
    """The demo catalogue."""
    return read_edition(DEMO)


def told(edition, job, **facts):
    """A kit under statements that were told."""
    return build_kit(edition, job, [Statement(fact, cell, "told") for fact, cell in facts.items()])


@pytest.mark.parametrize("job", UNIT_JOBS)
def test_on_euro_v_the_unit_is_fused_in_line_at_the_gearbox(edition, job):
    kit = told(edition, job, gearbox="light automated", emissions="Euro V")
    fused = {line.role: line for line in kit.lines if line.role in IN_LINE}
    assert set(fused) == IN_LINE
    assert {line.certainty for line in fused.values()} == {"certain"}
    assert (fused["line-fuse"].requirement, fused["line-fuse"].amount) == ("line-fuse", "1")
    assert not IN_LINE & {one.role for one in kit.nothing}


@pytest.mark.parametrize("job", UNIT_JOBS)
def test_on_euro_vi_no_such_fuse_is_needed_and_the_kit_says_so(edition, job):
    kit = told(edition, job, gearbox="light automated", emissions="Euro VI")
    assert not IN_LINE & {line.role for line in kit.lines}
    stated = {one.role: one.certainty for one in kit.nothing}
    assert {role: stated[role] for role in IN_LINE} == dict.fromkeys(IN_LINE, "certain")


@pytest.mark.parametrize("job", UNIT_JOBS)
def test_with_the_generation_unknown_the_fuse_hangs_on_it(edition, job):
    kit = told(edition, job, gearbox="light automated", emissions="Euro V or Euro VI")
    (fuse,) = [line for line in kit.lines if line.role == "line-fuse"]
    assert (fuse.certainty, fuse.hangs_on, fuse.when) == ("possible", ("emissions",), ({"emissions": ("Euro V",)},))


@pytest.mark.parametrize("job", UNIT_JOBS)
@pytest.mark.parametrize("emissions", ["Euro V", "Euro VI"])
def test_the_units_own_oil_is_a_litre_at_first_and_half_a_litre_once_it_is_bled(edition, job, emissions):
    kit = told(edition, job, gearbox="light automated", emissions=emissions)
    oil = [line for line in kit.lines if line.role.startswith("unit-oil-")]
    assert [line.role for line in oil] == ["unit-oil-first-fill", "unit-oil-remainder"]
    assert {(line.unit, line.certainty) for line in oil} == {("L", "certain")}
    first, remainder = (Decimal(line.amount) for line in oil)
    assert (first, remainder) == (Decimal("1.0"), Decimal("0.5"))
    assert first + remainder == Decimal("1.5")
    stages = [stage.name for stage in edition.job(job).job.stages]
    assert stages.index(oil[0].stage) < stages.index(oil[1].stage)
    assert oil[1].stage == "fill and bleed"
    assert oil[0].requirement == oil[1].requirement and oil[0].acceptable
