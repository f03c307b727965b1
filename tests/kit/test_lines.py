"""The lines alone are those of the whole kit, on drawn catalogues and whatever is known."""

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder import amount
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import Contradiction, KitbuilderError, WrongUse
from kitbuilder.kit import lines, regions
from kitbuilder.kit.build import build_kit
from kitbuilder.vehicle.statements import Statement
from tests import draw_worlds, draws, spec_files


def read(spec):
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        return read_edition(Path(folder))


def of_kit(kit):
    """Lines of a whole kit in the form of the lines alone."""
    return [
        (one.stage, one.role, one.item, one.requirement, one.amount, one.unit, one.finding,
         one.certainty == "certain", tuple((row.file, row.row) for row in one.because))
        for one in kit.lines
    ]


def of_lines(found):
    return [
        (one.stage, one.role, one.key.item, one.key.requirement, amount.show(one.key.amount), one.key.unit,
         one.key.finding, one.certain, one.rows)
        for one in found
    ]


def rows_sorted(found):
    return [(*one[:-1], tuple(sorted(one[-1]))) for one in found]


def agree(edition, job, told):
    both = []
    alone = lines.KitLines(edition)
    for make in (lambda: of_kit(build_kit(edition, job, told)), lambda: of_lines(alone.lines(job, told))):
        try:
            both.append(rows_sorted(make()))
        except Contradiction as contradiction:
            both.append(str(contradiction))
    assert both[0] == both[1]
    return both[0]


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_lines_are_those_of_the_whole_kit(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    note(repr(spec))
    edition = read(spec)
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    wanted = agree(edition, job, told)
    known = {one.fact: one.cell for one in statements if one.source == "told"}
    if len(known) == len(statements):
        found = lines.KitLines(edition)
        for _ in range(2):
            try:
                got = rows_sorted(of_lines(found.job(job).lines(known)))
            except Contradiction as contradiction:
                got = str(contradiction)
            assert got == wanted


@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=30)
@given(st.data())
def test_roles_that_fall_into_too_many_boxes_are_looked_at_afresh(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    edition = read(spec)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(regions, "_MOST_BOXES", 0)
        agree(edition, job, told)


DEMO = Path(__file__).parents[2] / "demo_catalog"


@pytest.fixture(scope="module")
def demo():
    return read_edition(DEMO)


@pytest.mark.parametrize("known", [
    {},
    {"emissions": "Euro V"},
    {"emissions": "before Euro VI", "place": "workshop"},
    {"registered": "from 2015-01-01", "access": "in the frame", "place": "workshop"},
    {"registered": "2011-05-04", "gearbox": "Tarnholt light 6 late"},
])
def test_the_demo_s_kits_have_the_same_lines(demo, known):
    told = [Statement(fact, cell, "told") for fact, cell in known.items()]
    found = lines.KitLines(demo)
    for job, _, _ in demo.heading.jobs:
        wanted = agree(demo, job, told)
        assert rows_sorted(of_lines(found.job(job).lines(known))) == wanted


@pytest.mark.parametrize("known", [
    {"emisions": "Euro V"}, {"emissions": "Euro 5"}, {"emissions": " "}, {"registered": "2011-02-30"},
    {"registered": "20110504"}, {"registered": "1950-01-01"}, {"registered": "2011-W01-1"},
    {"emissions": "Euro VI", "registered": "2003-01-01"}, {"place": "roadside", "access": "gearbox out"},
])
def test_what_a_kit_refuses_the_lines_refuse_in_the_same_words(demo, known):
    job = demo.heading.jobs[0][0]
    told = [Statement(fact, cell, "told") for fact, cell in known.items()]
    with pytest.raises(KitbuilderError) as wanted:
        build_kit(demo, job, told)
    with pytest.raises(type(wanted.value)) as got:
        lines.KitLines(demo).job(job).lines(known)
    assert str(got.value) == str(wanted.value)


def test_an_unknown_job_is_refused(demo):
    with pytest.raises(WrongUse):
        lines.KitLines(demo).lines("no-such-job")


def test_no_more_job_types_are_kept_than_there_is_room_for(demo, monkeypatch):
    monkeypatch.setattr(lines, "_KEPT_JOBS", 2)
    found = lines.KitLines(demo)
    names = [name for name, _, _ in demo.heading.jobs][:4]
    first = [found.lines(name) for name in names]
    assert len(found._jobs) == 2
    assert [found.lines(name) for name in names] == first
