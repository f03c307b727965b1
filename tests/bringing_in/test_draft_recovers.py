"""What a draft recovers of a catalogue that is known, from jobs that were done by it."""

import functools

import pytest

from kitbuilder.bringing_in.draft_job import drafted
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.compiled import compile_content
from kitbuilder.catalogue.content import read_content
from kitbuilder.catalogue.edition import Edition
from kitbuilder.cli.catalogue_import import catalogue_files
from kitbuilder.demo.workshop import demo_catalogue
from kitbuilder.kit.build import build_kit
from kitbuilder.model.bringing_in import Drafted
from kitbuilder.proof.check import check_catalogue
from kitbuilder.vehicle.statements import TOLD, Statement
from tests.bringing_in.editions import in_memory
from tests.bringing_in.past_jobs import Done, done_jobs, items_of, rows_of

FILES = catalogue_files(demo_catalogue())


@functools.cache
def truth() -> Edition:
    return read_edition(demo_catalogue())


def draft_of(job: str, count: int, slips: float = 0.0) -> tuple[list[Done], Drafted, Edition]:
    jobs = list(done_jobs(truth(), job, count, 1, slips))
    answer = drafted("drafted", "Drafted", "drafted", rows_of(jobs, truth()), (), FILES)
    assert (answer.faults, answer.catalogue) == ((), ())
    files = {**FILES, **{path: text.encode() for path, text in answer.files.items()}}
    return jobs, answer, in_memory(compile_content(read_content("", files)))


def told(facts: dict[str, str]) -> list[Statement]:
    return [Statement(name, value, TOLD) for name, value in facts.items()]


def recovered(job: str, new: Edition) -> tuple[float, float, float]:
    """Over vehicles that the draft never saw: the share of its certain items that are right, the share of the right
    ones that it has, and of these the share with the right amount."""
    right = drafts = truths = amounts = 0
    for one in done_jobs(truth(), job, 40, 2):
        want, have = items_of(one.kit), items_of(build_kit(new, "drafted", told(one.facts)))
        both = want.keys() & have.keys()
        right, drafts, truths = right + len(both), drafts + len(have), truths + len(want)
        amounts += sum(abs(want[item] - have[item]) < 1e-6 for item in both)
    return right / drafts, right / truths, amounts / right


@pytest.mark.parametrize("job, count, least", [
    ("gearbox-mountings", 60, (1.0, 1.0, 1.0)),
    ("rear-hub-reseal", 60, (1.0, 1.0, 0.99)),
    ("shift-unit-replace", 60, (1.0, 1.0, 1.0)),
    # a gearbox whose amount few jobs had is no reason to set them aside
    ("gearbox-oil-change", 60, (1.0, 1.0, 1.0)),
    ("actuator-replace", 60, (0.99, 0.95, 0.95)),
    # one fluid in two roles, the second of them on a finding
    ("coolant-pump-replace", 60, (1.0, 0.99, 0.97)),
    pytest.param("clutch-replace", 60, (1.0, 0.99, 0.99), marks=pytest.mark.long),
    pytest.param("actuator-repair", 60, (0.99, 0.95, 0.95), marks=pytest.mark.long),
    pytest.param("actuator-replace", 150, (0.995, 0.99, 0.97), marks=pytest.mark.long),
])
def test_vehicles_that_the_draft_never_saw_get_their_kit(
        job: str, count: int, least: tuple[float, float, float], capsys: pytest.CaptureFixture[str]) -> None:
    jobs, answer, new = draft_of(job, count)
    got = recovered(job, new)
    with capsys.disabled():
        print(f"\n{job}, {count} jobs: precision {got[0]:.3f}, recall {got[1]:.3f}, amounts {got[2]:.3f}, "
              f"{len(answer.questions)} questions")
    assert all(one >= bound for one, bound in zip(got, least, strict=True)), got
    findings = [one.name for one in answer.findings]
    for one in jobs:
        kit = build_kit(new, "drafted", told(one.facts))
        assert set(one.used) <= set(items_of(kit, findings)), one.name


@pytest.mark.parametrize("job", ["gearbox-mountings", "shift-unit-replace"])
def test_lines_that_were_forgotten_cost_questions_not_the_kit(job: str, capsys: pytest.CaptureFixture[str]) -> None:
    _, answer, new = draft_of(job, 80, slips=0.01)
    got = recovered(job, new)
    with capsys.disabled():
        print(f"\n{job}, 80 jobs, one line in a hundred forgotten: precision {got[0]:.3f}, recall {got[1]:.3f}")
    assert got[0] >= 0.98
    assert got[1] >= 0.95
    assert any("orgotten" in one or "ooked wrongly" in one for one in answer.questions)


def test_the_check_runs_on_a_draft_and_shows_what_no_job_told() -> None:
    """Twelve jobs don't see every gearbox: what is missing is a gap with a witness, never silently no line."""
    jobs, answer, new = draft_of("shift-unit-replace", 12)
    seen = {one.facts["gearbox"] for one in jobs}
    gearbox = next(fact for fact in new.facts if fact.name == "gearbox")
    never = set(gearbox.values) - seen
    assert never
    gaps = [one for one in check_catalogue(new).problems if one.job == "drafted"]
    assert gaps
    assert {one.kind for one in gaps} == {"gap"}
    assert any(one.witness["gearbox"] in never for one in gaps)
    assert any(all(value in question for value in never) for question in answer.questions if "No job with" in question)
