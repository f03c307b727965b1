"""How long stages take with the waiting for sealant to cure, against adding it up in every world."""

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.stages import StageMinutes, stage_minutes
from kitbuilder.vehicle.statements import Statement
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge
from tests.specs import Fact, Finding, Fit, FitFile, Include, Item, Job, Requirement, Role, Spec


def minutes(spec, job, statements=(), keys=None):
    """The stages of a job; `keys` are further lines of roles in roles.toml."""
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        roles = Path(folder) / "roles.toml"
        text = roles.read_text(encoding="utf-8")
        for name, more in (keys or {}).items():
            text = text.replace(f"[roles.{name}]\n", f"[roles.{name}]\n{more}\n")
        roles.write_text(text, encoding="utf-8")
        edition = read_edition(Path(folder))
    return stage_minutes(edition, job, [Statement(one.fact, one.cell, one.source) for one in statements])


def plainly(judge, cures, advised=frozenset(), select=None):
    """In every world: a stage's work (30 minutes in a job's first stage, then 15 more for each), then the longest cure
    of its lines. Fastest item and nothing that is waited for at least; slowest item and everything at most."""
    found = []
    for number, world in enumerate(judge.worlds):
        work = dict.fromkeys(judge.job.stages, 0)
        for way in judge.ways:
            if judge.holds(way, world):
                for place, stage in enumerate(way.job.stages):
                    work[way.stages[stage]] += 30 + 15 * place
        least, most = dict.fromkeys(work, 0), dict.fromkeys(work, 0)
        for role, there in judge.there[number].items():
            fastest = {}
            for line in there.lines:
                times = [cures.get(item, 0) for item in judge.acceptable(line.key)] if not line.key.is_nothing else []
                if times:
                    most[line.stage] = max(most[line.stage], max(times))
                    if not line.key.finding and role not in advised:
                        fastest.setdefault(line.stage, []).append(min(times))
            for stage, times in fastest.items():
                used = sorted(times)[: (select or {}).get(role) or len(times)]
                least[stage] = max(least[stage], *used)
        found.append({stage: (work[stage], work[stage] + least[stage], work[stage] + most[stage]) for stage in work})
    answers = []
    for stage in judge.job.stages:
        lows, highs = [one[stage] for one in found], [one[stage] for one in found]
        least, most = min(low[0] for low in lows), max(high[0] for high in highs)
        answers.append(StageMinutes(
            stage, least, most, min(low[1] for low in lows) - least, max(high[2] for high in highs) - most))
    return answers


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_least_and_most_are_those_of_the_worlds(data):
    spec = data.draw(draws.specs())
    # any item may be made a sealant: its kind doesn't matter to where it goes, unless a requirement asks for that
    cures = {item.number: data.draw(st.sampled_from((0, 10, 45, 120))) for item in spec.items if not item.kind}
    items = tuple(
        Item(item.number, item.unit, item.rank, "sealant", {"cure": f"{cures[item.number]} min"})
        if cures.get(item.number) else item for item in spec.items)
    spec = Spec(spec.facts, spec.jobs, spec.roles, items, spec.fits, spec.tables, spec.findings, spec.requirements,
                spec.cautions)
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    advised = frozenset(role.name for role in spec.roles if data.draw(st.integers(0, 3)) == 0)
    note(repr((spec, advised)))
    try:
        judge = Judge(spec, job, statements)
    except brute_worlds.Contradiction:
        assume(False)
    keys = dict.fromkeys(advised, "advised = true")
    assert minutes(spec, job, statements, keys) == plainly(judge, cures, advised)


PLACE = Fact("place", "job", values=("workshop", "road"))
SLOW, FAST = (Item(name, "mL", kind="sealant", properties={"base": "silicone", "cure": cure})
              for name, cure in (("slow", "2 h"), ("fast", "15 min")))
ANY = Fit("seal", requirement="glue", amount="20", unit="mL")


def sealed(*fits, takes="any", findings=()):
    include = Include("reach", {"reach it": "seal"}, {"place": "workshop"})
    return Spec((PLACE,), (Job("work", ("seal", "refit"), {"seal": "seal"}, (include,)), Job("reach", ("reach it",))),
                (Role("seal", takes),), (SLOW, FAST), (FitFile("fits/a.csv", fits),), findings=findings,
                requirements=(Requirement("glue", "sealant", {"base": "silicone"}),))


def test_the_fastest_item_counts_at_least_and_the_slowest_at_most():
    assert minutes(sealed(ANY), "work") == [StageMinutes("seal", 30, 60, 15, 120), StageMinutes("refit", 45, 45)]


def test_work_and_waiting_are_taken_together_in_each_world():
    # on the road there is less work and more waiting: the least of both together is neither's least alone
    spec = sealed(Fit("seal", "slow", amount="1", unit="mL", when={"place": "road"}),
                  Fit("seal", "fast", amount="1", unit="mL", when={"place": "workshop"}), takes="one")
    assert minutes(spec, "work")[0] == StageMinutes("seal", 30, 60, 75 - 30, 150 - 60)


def test_what_cures_side_by_side_is_waited_for_once():
    spec = sealed(Fit("seal", "slow", amount="1", unit="mL"), Fit("seal", "fast", amount="1", unit="mL"))
    assert minutes(spec, "work")[0] == StageMinutes("seal", 30, 60, 120, 120)


def test_of_what_is_selected_from_the_fastest_counts_at_least():
    spec = sealed(Fit("seal", "slow", amount="1", unit="mL"), Fit("seal", "fast", amount="1", unit="mL"))
    assert minutes(spec, "work", keys={"seal": "select = 1"})[0] == StageMinutes("seal", 30, 60, 15, 120)
    assert minutes(spec, "work", keys={"seal": "select = 2"})[0] == StageMinutes("seal", 30, 60, 120, 120)


def test_what_waits_for_a_finding_or_a_choice_counts_only_at_most():
    spec = sealed(Fit("seal", "slow", amount="1", unit="mL", finding="leak"), findings=(Finding("leak", "0.1"),))
    assert minutes(spec, "work")[0] == StageMinutes("seal", 30, 60, 0, 120)
    assert minutes(sealed(ANY), "work", keys={"seal": "advised = true"})[0] == StageMinutes("seal", 30, 60, 0, 120)
