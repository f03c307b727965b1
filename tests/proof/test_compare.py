"""What a compare tells beside kits: facts, values, vehicles, tables and declared things of one edition alone."""

from dataclasses import replace
from datetime import date
from pathlib import Path

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.proof.compare import Compare, compare_editions
from kitbuilder.show.compare import compare_text
from kitbuilder.show.paper import Paper
from tests import spec_files
from tests.proof.test_check import BOX, EMISSIONS, TABLE, seal, spec
from tests.specs import Fact, Item, Job, Role, Spec

BUILT = Fact("built", first=date(2010, 1, 1), last=date(2010, 12, 31))


def compared(folder: Path, old: Spec, new: Spec) -> Compare:
    for name, one in (("old", old), ("new", new)):
        spec_files.write(one, folder / name)
    found = compare_editions(read_edition(folder / "old"), read_edition(folder / "new"))
    assert max(len(line) for line in compare_text(found, Paper(80)).splitlines()) <= 80
    return found


def test_a_fact_that_became_another_kind_is_two_facts(tmp_path: Path) -> None:
    """Lines may hang on both of them: nobody can tell which value of the one is which of the other."""
    old = replace(spec(seal(when={"box": "light"}), seal("S-2", when={"box": "heavy"})), tables=())
    new = replace(old, facts=(EMISSIONS, Fact("box", first=1, last=3)),
                  fits=spec(seal(when={"box": "up to 2"}), seal("S-2", when={"box": "3"})).fits)
    found = compared(tmp_path, old, new)
    assert [(one.name, one.old, one.new) for one in found.facts] == [
        ("box", "light or heavy", None), ("box", None, "1 to 3")]
    [job] = found.jobs
    comes = next(one for one in job.changes if one.change == "comes" and one.new.item == "S-1")
    assert comes.hangs_on == ("box", "box (old)")
    assert comes.when == ({"box": ("1 to 2",), "box (old)": ("heavy",)},)


def test_values_that_only_one_has_are_told_and_the_rest_compared(tmp_path: Path) -> None:
    old = replace(spec(seal()), facts=(EMISSIONS, BOX, BUILT), tables=())
    new = replace(old, facts=(EMISSIONS, replace(BOX, values=("light", "medium", "heavy")),
                              replace(BUILT, first=date(2010, 3, 1), last=date(2011, 1, 31))),
                  fits=spec(seal(when={"built": "up to 2010-06-30"}),
                            seal("S-2", when={"built": "from 2010-07-01"})).fits)
    found = compared(tmp_path, old, new)
    assert [(one.name, one.field, one.old, one.new) for one in found.facts] == [
        ("box", "values", None, "medium"),
        ("built", "values", "2010-01-01 to 2010-02-28", "2011-01-01 to 2011-01-31")]
    [job] = found.jobs
    later = ({"built": ("2010-07-01 to 2010-12-31",)},)
    assert [(one.change, one.when) for one in job.changes] == [("goes", later), ("comes", later)]


def test_vehicles_that_only_one_knows_are_told(tmp_path: Path) -> None:
    old, new = spec(seal()), replace(spec(seal()), tables=())
    found = compared(tmp_path, old, new)
    [only] = found.vehicles
    assert (only.edition, only.files) == ("new", ("combinations/boxes.csv",))
    assert only.when == ({"emissions": ("Euro VI",), "box": ("light",)},)
    assert [(one.what, one.name, one.old, one.new) for one in found.declared] == [
        ("table", "combinations/boxes.csv", "2 rows", None)]
    assert found.jobs == ()


def test_without_a_common_vehicle_nothing_is_compared_and_that_is_said(tmp_path: Path) -> None:
    old = spec(seal(), tables=())
    new = replace(old, facts=(replace(EMISSIONS, values=("Euro III",), groups={}), BOX), fits=spec(seal("S-2")).fits)
    found = compared(tmp_path, old, new)
    assert found.warnings == ("No vehicle exists in both editions: the facts and tables have none in common, so no kit "
                              "could be compared.",)
    assert not found.same


def test_job_types_and_roles_that_come_and_go_are_told(tmp_path: Path) -> None:
    roles = (Role("seal"), Role("clip", takes="any"))
    old = spec(seal(), roles=roles, jobs=(Job("change", roles={"seal": "work"}), Job("gone", roles={"seal": "work"})))
    new = replace(old, jobs=(Job("change", roles={"seal": "work", "clip": "work"}), Job("new", roles={"seal": "work"})))
    found = compared(tmp_path, old, new)
    assert [(job.job, job.change, job.roles_added) for job in found.jobs] == [
        ("change", "changed", ("clip",)), ("new", "added", ()), ("gone", "removed", ())]


def test_what_is_declared_otherwise_is_told_field_by_field(tmp_path: Path) -> None:
    old = spec(seal())
    new = replace(old, roles=(Role("seal", sort="single-use", title="Another"),), items=(Item("S-1", name="Seal"),))
    found = compared(tmp_path, old, new)
    assert {(one.what, one.name, one.field, one.old, one.new) for one in found.declared} == {
        ("role", "seal", "title", "A role", "Another"), ("role", "seal", "sort", "part", "single-use"),
        ("item", "S-1", "name", "An item", "Seal"), ("item", "S-2", "", "name An item; unit each", None)}


def test_a_problem_that_comes_is_told_with_its_rows(tmp_path: Path) -> None:
    old = spec(seal())
    found = compared(tmp_path, old, replace(old, fits=spec(seal(), seal("S-2", when={"box": "heavy"})).fits))
    [job] = found.jobs
    problem = next(one for one in job.changes if one.what == "problem")
    assert (problem.change, problem.kind, problem.when) == ("comes", "clash", ({"box": ("heavy",)},))
    assert problem.witness == {"emissions": "Euro V", "box": "heavy"}
    assert [row.row for row in problem.new_rows] == [2, 3]
    assert TABLE.file not in problem.text
