"""How long stages take, at least and at most, against adding them up in every world."""

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import Contradiction, WrongUse
from kitbuilder.kit.stages import StageMinutes, stage_minutes
from kitbuilder.vehicle.statements import Statement
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge
from tests.specs import Fact, Fit, FitFile, Include, Item, Job, Role, Spec


def minutes(spec, job, statements=()):
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        edition = read_edition(Path(folder))
    return stage_minutes(edition, job, [Statement(one.fact, one.cell, one.source) for one in statements])


def plainly(judge):
    """The minutes of each stage in the open worlds; a job has 30 in its first stage, then 15 more for each."""
    found = []
    for world in judge.worlds:
        sums = dict.fromkeys(judge.job.stages, 0)
        for way in judge.ways:
            if judge.holds(way, world):
                for number, stage in enumerate(way.job.stages):
                    sums[way.stages[stage]] += 30 + 15 * number
        found.append(sums)
    return [
        StageMinutes(stage, min(sums[stage] for sums in found), max(sums[stage] for sums in found))
        for stage in judge.job.stages
    ]


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_least_and_most_are_those_of_the_worlds(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    try:
        judge = Judge(spec, job, statements)
    except brute_worlds.Contradiction:
        with pytest.raises(Contradiction):
            minutes(spec, job, statements)
        return
    note(repr(spec))
    assert minutes(spec, job, statements) == plainly(judge)


PLACE = Fact("place", "job", values=("workshop", "road"))


def access(*includes):
    long = Job("gearbox-out", ("take out", "stand it up"))
    short = Job("on-the-road", ("reach it",))
    top = Job("work", ("gain access", "work"), {"seal": "work"}, includes)
    return Spec(
        facts=(PLACE,),
        jobs=(top, long, short),
        roles=(Role("seal", "any"),),
        items=(Item("X"),),
        fits=(FitFile("fits/fits.csv", (Fit("seal", "X", amount="1", unit="each"),)),),
    )


OUT = {"take out": "gain access", "stand it up": "gain access"}


def test_of_includes_that_exclude_each_other_every_world_takes_one():
    spec = access(
        Include("gearbox-out", OUT, {"place": "workshop"}),
        Include("on-the-road", {"reach it": "gain access"}, {"place": "road"}),
    )
    assert minutes(spec, "work") == [StageMinutes("gain access", 30 + 30, 30 + 75), StageMinutes("work", 45, 45)]


def test_an_include_twice_takes_its_minutes_twice():
    spec = access(Include("on-the-road", {"reach it": "gain access"}), Include("on-the-road", {"reach it": "work"}))
    assert minutes(spec, "work") == [StageMinutes("gain access", 60, 60), StageMinutes("work", 75, 75)]


def test_an_include_whose_condition_no_open_world_meets_takes_nothing():
    spec = access(Include("gearbox-out", OUT, {"place": "workshop"}))
    told = [Statement("place", "road", "told")]
    assert minutes(spec, "work", told)[0] == StageMinutes("gain access", 30, 30)
    assert minutes(spec, "work")[0] == StageMinutes("gain access", 30, 105)


def test_an_unknown_job_is_told():
    with pytest.raises(WrongUse, match="no job 'wok'"):
        minutes(access(), "wok")
