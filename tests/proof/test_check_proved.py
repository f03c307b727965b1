"""What a check says of random catalogues, proved by a solver: all that is told is so, and nothing else is."""

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import z3
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.proof.check import Check, check_catalogue
from tests import draws, spec_files
from tests.proof.solver import Formulas
from tests.specs import Job, Spec


def checked(spec: Spec) -> Check:
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        return check_catalogue(read_edition(Path(folder)))


def problems_are_just_those(formulas: Formulas, check: Check) -> None:
    told = {(one.job, one.kind, one.role or one.circuit): one for one in check.problems}
    assert len(told) == len(check.problems)
    for job in formulas.jobs:
        for (kind, name), there in formulas.problems(job).items():
            one = told.pop((job, kind, name), None)
            if one is None:
                assert not formulas.possible(there), f"{job}: {kind} of {name} is not told"
                continue
            certain = one.certainty == "certain"
            assert formulas.possible(formulas.world(one.witness), there)
            assert formulas.same(there, formulas.told(one.when, certain))
            # what is certain says no branches; what is possible is not so somewhere
            assert certain or formulas.possible(z3.Not(there))
    assert not told


def lists(formulas: Formulas) -> Iterator[tuple[Job, str]]:
    for job in formulas.jobs.values():
        for role in job.roles:
            yield job, role


def what_is_caught_is_just_that(formulas: Formulas, check: Check) -> None:
    told = {(one.job, one.role): one for one in check.otherwise}
    assert len(told) == len(check.otherwise)
    for job, role in lists(formulas):
        for one in formulas.fits(role, job):
            if one.fit.otherwise and formulas.possible(formulas.applies(one, job)):
                caught = told.pop((job.name, role))
                assert (caught.row.file, caught.row.row) == (one.file, one.row)
                certain = caught.certainty == "certain"
                assert formulas.same(formulas.applies(one, job), formulas.told(caught.when, certain))
    assert not told


def dead_rows_are_just_those(formulas: Formulas, check: Check) -> None:
    """A row is dead in a job if it applies in no world in which any job reaches its role through that one. A row with
    conditions is then dead in all jobs; what catches the rest may be so in one of several."""
    told = {(row.file, row.row) for one in check.remarks if one.kind == "dead fit" for row in one.rows}
    dead, alive = set(), set()
    for job, role in lists(formulas):
        first = [where for top in formulas.jobs for way, where in formulas.reached(role, top) if way.job is job]
        for one in formulas.fits(role, job):
            applies = formulas.applies(one, job)
            lives = any(formulas.possible(where, applies) for where in first)
            (alive if lives else dead).add((one.file, one.row))
            assert lives or one.fit.otherwise or not formulas.possible(applies)
    assert told == dead
    never = {(one.file, one.row) for one in formulas.placed if not one.fit.otherwise}
    assert not dead & alive & never


def includes_never_made_are_just_those(formulas: Formulas, check: Check) -> None:
    told = sum(one.kind == "dead include" for one in check.remarks)
    texts = {
        (job.name, include.job, number) for job in formulas.jobs.values() for number, include in enumerate(job.includes)
        if not formulas.possible(formulas.hold(include.when))}
    # the file's line is no part of the drawn values; two alike on one line are told once
    assert {(one.job, one.text.split(" never includes ")[1].split(":")[0]) for one in check.remarks
            if one.kind == "dead include"} == {(job, inner) for job, inner, _ in texts}
    assert told <= len(texts)


def twins_are_just_those(formulas: Formulas, check: Check) -> None:
    told = {frozenset((row.file, row.row) for row in one.rows) for one in check.remarks if one.kind == "twin rows"}
    proved = set()
    for job, role in lists(formulas):
        by_key: dict[object, list] = {}
        for one in formulas.fits(role, job):
            if not one.fit.otherwise:
                by_key.setdefault(formulas._keys.key(one), []).append(one)
        for rows in by_key.values():
            hold = {(one.file, one.row): formulas.applies(one, job) for one in rows}
            for one, other in combinations(hold, 2):
                together = formulas.possible(hold[one], hold[other])
                assert together == any({one, other} <= some for some in told), (one, other)
            for some in told:
                if some <= set(hold) and formulas.possible(
                        *(applies if place in some else z3.Not(applies) for place, applies in hold.items())):
                    proved.add(some)
    assert proved == told


def prove(spec: Spec) -> None:
    note(repr(spec))
    check, formulas = checked(spec), Formulas(spec)
    assert check.jobs == len(spec.jobs)
    problems_are_just_those(formulas, check)
    what_is_caught_is_just_that(formulas, check)
    dead_rows_are_just_those(formulas, check)
    includes_never_made_are_just_those(formulas, check)
    twins_are_just_those(formulas, check)


@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=40)
@given(st.data())
def test_a_solver_proves_a_check(data: st.DataObject) -> None:
    prove(data.draw(draws.specs()))


@pytest.mark.long
@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=3000)
@given(st.data())
def test_a_solver_proves_thousands_of_checks(data: st.DataObject) -> None:
    prove(data.draw(draws.specs()))
