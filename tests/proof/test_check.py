"""A check in words, by one process or several, and within bounded memory."""

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from kitbuilder.catalogue.cache import open_edition, read_edition
from kitbuilder.proof.check import Check, check_catalogue
from kitbuilder.proof.job import Walk
from tests import spec_files
from tests.specs import Fact, Fit, FitFile, Include, Item, Job, Role, Spec, Table

EMISSIONS = Fact("emissions", values=("Euro V", "Euro VI"), groups={"before Euro VI": ("Euro V",)})
BOX = Fact("box", values=("light", "heavy"))
TABLE = Table("combinations/boxes.csv", ("emissions", "box"),
              ({"emissions": "Euro V"}, {"emissions": "Euro VI", "box": "heavy"}))


def spec(*fits: Fit, jobs: tuple[Job, ...] = (Job("change", roles={"seal": "work"}),), **more) -> Spec:
    """A catalogue in which no light box has Euro VI."""
    told = {"tables": (TABLE,), "items": (Item("S-1"), Item("S-2")), "roles": (Role("seal"),)} | more
    return Spec((EMISSIONS, BOX), jobs, fits=(FitFile("fits/a.csv", fits),), **told)


def seal(number: str = "S-1", **more) -> Fit:
    return Fit("seal", item=number, amount="1", unit="each", **more)


def checked(folder: Path, one: Spec) -> Check:
    spec_files.write(one, folder)
    return check_catalogue(read_edition(folder))


def texts(check: Check, kind: str) -> list[str]:
    return [one.text for one in check.remarks if one.kind == kind]


def test_a_dead_row_is_told_with_the_table_that_has_no_such_vehicle(tmp_path: Path) -> None:
    found = checked(tmp_path, spec(seal(), seal("S-2", when={"box": "light", "emissions": "not before Euro VI"})))
    [text] = texts(found, "dead fit")
    head, _, said = text.partition(" has ")
    assert head == "fits/a.csv line 3 (seal: S-2) never applies: no vehicle in combinations/boxes.csv"
    assert set(said.rstrip(".").split(" and ")) == {"box light", "emissions not before Euro VI"}
    assert found.problems == ()


def test_what_an_otherwise_catches_is_told(tmp_path: Path) -> None:
    found = checked(tmp_path, spec(seal(when={"emissions": "before Euro VI"}), seal("S-2", otherwise=True)))
    [caught] = found.otherwise
    assert (caught.job, caught.role, caught.row.row, caught.certainty) == ("change", "seal", 3, "possible")
    assert caught.when == ({"emissions": ("Euro VI",)},)
    assert caught.text == "fits/a.csv line 3 (S-2) catches where emissions is Euro VI."


def test_an_otherwise_that_catches_nothing_or_all_says_so(tmp_path: Path) -> None:
    nothing = checked(tmp_path / "a", spec(seal(), seal("S-2", otherwise=True)))
    assert nothing.otherwise == ()
    assert texts(nothing, "dead fit") == [
        "fits/a.csv line 3 (seal: S-2) never applies: in change other rows of the role apply to every vehicle."]
    everything = checked(tmp_path / "b", spec(seal(otherwise=True)))
    [caught] = everything.otherwise
    assert (caught.certainty, caught.hangs_on, caught.when) == ("certain", (), ())
    assert caught.text.endswith("catches every vehicle: no other row ever applies.")


def test_an_include_that_never_holds_is_told(tmp_path: Path) -> None:
    inner = Job("change", roles={"seal": "work"})
    outer = Job("outer", includes=(Include("change", {"work": "work"}, {"box": "light", "emissions": "Euro VI"}),))
    [text] = texts(checked(tmp_path, spec(seal(), jobs=(inner, outer))), "dead include")
    assert text.startswith("jobs/jobs.toml line ")
    assert "outer never includes change: no vehicle in combinations/boxes.csv has " in text


def test_a_row_that_belongs_to_every_job_is_told_once(tmp_path: Path) -> None:
    jobs = tuple(Job(f"job-{number}", roles={"seal": "work"}) for number in range(5))
    dead = {"box": "light", "emissions": "Euro VI"}
    found = checked(tmp_path, spec(seal(), seal("S-2", when=dead), jobs=jobs))
    assert len(texts(found, "dead fit")) == 1


def many(jobs: int) -> Spec:
    """Many job types: gaps in some, each tenth included by the next, rows of their own and shared ones."""
    made, fits = [], [seal("S-2", otherwise=True, job=f"job-{number}") for number in range(0, jobs, 3)]
    for number in range(jobs):
        fits.append(seal(job=f"job-{number}", when={"emissions": "Euro V"} if number % 4 else {}))
        includes = (Include(f"job-{number - 1}", {"work": "work"}, {"box": "light"}),) if number % 10 == 1 else ()
        made.append(Job(f"job-{number}", roles={} if number % 10 == 1 else {"seal": "work"}, includes=includes))
    listed = {job.name for job in made if job.roles}
    return spec(*(fit for fit in fits if fit.job in listed), jobs=tuple(made))


@pytest.mark.parametrize("kept", [True, False], ids=["in a file", "in memory"])
def test_several_processes_say_the_same(tmp_path: Path, kept: bool) -> None:
    spec_files.write(many(80), tmp_path / "catalogue")
    edition = open_edition(tmp_path / "catalogue", tmp_path / "cache") if kept else read_edition(tmp_path / "catalogue")
    alone, together = (check_catalogue(edition, processes=processes) for processes in (1, 2))
    assert alone.problems and alone.otherwise and alone.remarks
    assert msgspec.json.encode(together) == msgspec.json.encode(alone)


def test_a_walk_keeps_no_more_parts_however_many_jobs(tmp_path: Path) -> None:
    def most(jobs: int) -> int:
        spec_files.write(many(jobs), tmp_path / str(jobs))
        edition = read_edition(tmp_path / str(jobs))
        walk, kept = Walk(edition), 0
        for name, _, _ in edition.heading.jobs:
            walk.look_at(name)
            kept = max(kept, len(edition._known))
        return kept

    assert most(400) <= most(200)


def test_used_by_an_unused_role_is_used(tmp_path: Path) -> None:
    roles = (Role("seal"), Role("other"))
    found = checked(tmp_path, spec(seal(), replace(seal("S-2"), role="other"), roles=roles))
    assert [one.kind for one in found.remarks] == ["unused role"]


def test_an_item_whose_data_sheet_says_otherwise_than_its_grade_is_told(tmp_path: Path) -> None:
    """The grade's limits are those of SAE J306; the table stands in tests/outside/sae_j306.py."""
    oils = tuple(Item(f"O-{number}", unit="L", kind="gear oil", properties={"grade": "75W-80", "kv100": kv100})
                 for number, kv100 in ((1, "9.0"), (2, "15.0")))
    found = checked(tmp_path, spec(seal(), items=(Item("S-1"), *oils)))
    assert [one.item for one in found.remarks if one.kind == "data sheet"] == ["O-2"]
    assert "15 mm²/s at 100 °C" in texts(found, "data sheet")[0]
