"""What is drawn and written is what the rules accept, and what was meant."""

from __future__ import annotations

import csv
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.brute import Contradiction, kit, open_worlds, worlds
from tests.brute_values import chance_text, quantity
from tests.brute_worlds import Conditions, cell_values
from tests.draws import specs, statements
from tests.spec_files import write
from tests.specs import (
    Fit,
    FitFile,
    Job,
    Layout,
    Spec,
    placed,
)


def test_rows_are_counted_as_an_editor_counts_them(tmp_path: Path) -> None:
    # Header 1, blank 2, A on 3 and 4 (its note has two lines), blank 5 and 6, B on 7.
    rows = (Fit("unit", "A", note="on two\nlines"), Fit("unit", "B"))
    layout = Layout(delimiter=";", bom=True, newline="\r\n", blanks=(0, 1, 1), filled=True)
    spec = Spec((), (Job("change", roles={"unit": "work"}),), (), (), (FitFile("fits/a.csv", rows, layout),))
    assert [one.row for one in placed(spec)] == [3, 7]
    write(spec, tmp_path)
    lines = (tmp_path / "fits/a.csv").read_text("utf-8-sig").splitlines()
    assert lines[0].split(";")[:2] == ["role", "item"]
    assert lines[2].startswith("unit;A;") and lines[6].startswith("unit;B;")
    assert set(lines[1]) == set(lines[4]) == set(lines[5]) == {";"}


quick = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@quick
@given(specs())
def test_every_draw_is_a_catalogue_the_rules_accept(spec: Spec) -> None:
    found = worlds(spec)
    assert sum(weight for _, weight in found) == 1
    read = Conditions(spec)
    items = {item.number: item for item in spec.items}
    for table in spec.tables:
        assert all(row for row in table.rows)
        if table.shares:
            # Every world matches just one row, and every row some world.
            matched = [[row for row in table.rows if read.hold(row, world)] for world, _ in found]
            assert {len(rows) for rows in matched} == {1}
            assert all(any(row in rows for rows in matched) for row in table.rows)
            assert len(table.rows) == len(table.shares)
    jobs = {job.name: job for job in spec.jobs}
    takes = {role.name: role.takes for role in spec.roles}
    otherwise = []
    for one in placed(spec):
        fit = one.fit
        owners = [job.name for job in spec.jobs if fit.role in job.roles and fit.job in ("", job.name)]
        assert owners
        assert all(read.values(fact, cell) for fact, cell in fit.when.items())
        if fit.item in items:
            assert quantity(fit.unit) == quantity(items[fit.item].unit)
        assert fit.unit not in ("each", "set", "pair") or fit.amount.isdigit()
        assert (fit.item == "") != (fit.requirement == "")
        assert not (fit.finding and (fit.otherwise or fit.item == "nothing"))
        if fit.otherwise:
            assert takes[fit.role] != "any" and not fit.when
            otherwise += [(owner, fit.role) for owner in owners]
    assert len(otherwise) == len(set(otherwise))
    for job in spec.jobs:
        for include in job.includes:
            assert set(include.stages) == set(jobs[include.job].stages)
            assert set(include.stages.values()) <= set(job.stages)


@quick
@given(specs())
def test_a_folder_holds_what_was_drawn(tmp_path_factory: pytest.TempPathFactory, spec: Spec) -> None:
    folder = tmp_path_factory.mktemp("catalogue")
    write(spec, folder)
    facts = tomllib.loads((folder / "facts.toml").read_text("utf-8"))["facts"]
    assert list(facts) == [fact.name for fact in spec.facts]
    jobs: dict[str, dict[str, object]] = {}
    for path in sorted((folder / "jobs").iterdir()):
        jobs |= tomllib.loads(path.read_text("utf-8"))["jobs"]
    assert {name: job["roles"] for name, job in jobs.items()} == {
        job.name: dict(job.roles) for job in spec.jobs
    }
    for fit_file in spec.fits:
        with (folder / fit_file.file).open(encoding="utf-8-sig", newline="") as text:
            reader = csv.DictReader(text, delimiter=fit_file.layout.delimiter)
            read = [row for row in reader if any(row.values())]
        assert [(row["role"], row.get("item") or "", row.get("amount") or "") for row in read] == [
            (fit.role, fit.item, fit.amount) for fit in fit_file.fits
        ]
        for row, fit in zip(read, fit_file.fits, strict=True):
            assert {fact: row[fact] for fact in fit.when} == dict(fit.when)


@quick
@given(st.data())
def test_a_branch_holds_exactly_the_worlds_of_its_line(data: st.DataObject) -> None:
    # A possible line without a finding: the weight of the worlds in its branches is its chance.
    spec = data.draw(specs())
    told = data.draw(statements(spec))
    try:
        still = open_worlds(spec, told).worlds
    except Contradiction:
        return
    facts = {fact.name: fact for fact in spec.facts}
    for line in kit(spec, spec.jobs[0].name, told)["lines"]:
        if line["certainty"] == "possible" and line["finding"] is None:
            inside = [
                weight
                for world, weight in still
                if any(
                    all(
                        world[fact] in cell_values(facts[fact], " or ".join(cells))
                        for fact, cells in branch.items()
                    )
                    for branch in line["when"]
                )
            ]
            assert chance_text(sum(inside, Fraction(0))) == line["chance"]
