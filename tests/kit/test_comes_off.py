"""What comes off, in which worlds and why, against looking into every world."""

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st
from msgspec import UNSET

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.build import build_kit
from kitbuilder.vehicle.statements import Statement
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge
from tests.kit.brute_waste import Waste, comes_off, write
from tests.specs import Fact, Finding, Fit, FitFile, Include, Item, Job, Role, Spec


def kit_of(spec, wastes, job, statements=(), advised=frozenset()):
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        roles = Path(folder) / "roles.toml"
        text = roles.read_text(encoding="utf-8")
        for name in advised:
            text = text.replace(f"[roles.{name}]\n", f"[roles.{name}]\nadvised = true\n")
        roles.write_text(text, encoding="utf-8")
        if wastes:
            write(wastes, Path(folder))
        edition = read_edition(Path(folder))
    return build_kit(edition, job, [Statement(one.fact, one.cell, one.source) for one in statements])


@st.composite
def wastes_of(draw, spec):
    """Rows of every sort: of a job, of a role, of a role in a job; some alike."""
    found = []
    for _ in range(draw(st.integers(1, 5))):
        job = draw(st.sampled_from(spec.jobs))
        role = draw(st.sampled_from(sorted(job.roles))) if job.roles and draw(st.booleans()) else ""
        of_job = job.name if not role or draw(st.booleans()) else ""
        found.append(Waste(draw(st.sampled_from(("oil", "rags"))), of_job, role, draw(st.sampled_from(("", "1"))),
                           draw(draw_worlds.conditions(spec.facts)) if draw(st.booleans()) else {}))
    return tuple(found)


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_it_comes_off_in_the_worlds_that_say_so(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    wastes = data.draw(wastes_of(spec))
    advised = frozenset(role.name for role in spec.roles if data.draw(st.integers(0, 3)) == 0)
    note(repr((spec, wastes, advised)))
    try:
        judge = Judge(spec, job, statements)
    except brute_worlds.Contradiction:
        assume(False)
    kit = kit_of(spec, wastes, job, statements, advised)
    wanted = comes_off(judge, wastes, advised)
    if not wanted:
        assert kit.comes_off is UNSET
        return
    got = [
        (one.what, one.amount or "", [reason.row for reason in one.because], one.advised is True,
         list(one.findings or ()), one.certainty, list(one.hangs_on),
         [{fact: list(cells) for fact, cells in branch.items()} for branch in one.when]) for one in kit.comes_off]
    assert got == [
        (what, amount, rows, chosen, findings, "certain" if judge.certain(thing) else "possible",
         judge.hangs_on(thing) if not judge.certain(thing) else [],
         judge.when(thing) if not judge.certain(thing) else [])
        for what, amount, rows, chosen, findings, thing in wanted]
    plain = kit_of(spec, (), job, statements, advised)
    assert kit.fingerprint == plain.fingerprint
    assert kit.lines == plain.lines


PLACE = Fact("place", "job", values=("workshop", "road"))


def drained(*fits, findings=()):
    top = Job("work", ("work",), {"oil": "work"}, (Include("drain", {"work": "work"}, {"place": "workshop"}),))
    return Spec((PLACE,), (top, Job("drain")), (Role("oil", "any"),), (Item("X", "L"),), (FitFile("fits/a.csv", fits),),
                findings=findings)


ALWAYS = Fit("oil", "X", amount="1", unit="L")


def test_it_has_its_code_with_title_and_hazard():
    kit = kit_of(drained(ALWAYS), (Waste("old oil", role="oil", amount="1.5"),), "work")
    (one,) = kit.comes_off
    assert (one.code, one.hazardous, one.amount, one.unit, one.role) == ("13 02 05*", True, "1.5", "L", "oil")
    assert one.title == "mineral-based non-chlorinated engine, gear and lubricating oils"  # 2000/532/EC
    assert (one.certainty, one.because[0].file, one.because[0].row) == ("certain", "waste.csv", 2)


def test_a_row_of_an_included_job_follows_its_conditions():
    (one,) = kit_of(drained(ALWAYS), (Waste("old oil", "drain"),), "work").comes_off
    assert (one.certainty, one.hangs_on, one.when) == ("possible", ("place",), ({"place": ("workshop",)},))


def test_a_row_of_a_role_waits_for_what_its_lines_wait_for():
    spec = drained(Fit("oil", "X", amount="1", unit="L", finding="leak"), findings=(Finding("leak", "0.5"),))
    (one,) = kit_of(spec, (Waste("old oil", role="oil"),), "work").comes_off
    assert (one.certainty, one.findings, one.advised) == ("certain", ("leak",), UNSET)
    (one,) = kit_of(spec, (Waste("old oil", role="oil"),), "work", advised={"oil"}).comes_off
    assert (one.findings, one.advised) == (("leak",), True)


@pytest.mark.parametrize("waste", [Waste("oil", role="oil", amount="1"), Waste("oil", "work", amount="1")])
def test_amounts_of_different_roles_and_jobs_never_merge(waste):
    other = Waste("oil", "drain", amount="1")
    kit = kit_of(drained(ALWAYS), (waste, other), "work")
    assert [one.certainty for one in kit.comes_off] == ["certain", "possible"]
    same = kit_of(drained(ALWAYS), (waste, waste), "work")
    assert [[reason.row for reason in one.because] for one in same.comes_off] == [[2, 3]]
