"""A small catalogue on disk, for tests of editions."""

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import msgspec

from kitbuilder.catalogue import cache as module
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import build_kit
from tests import spec_files
from tests.specs import Fact, Finding, Fit, FitFile, Include, Item, Job, Requirement, Role, Spec, Table

SPEC = Spec(
    facts=(
        Fact("gearbox", values=("light", "heavy")), Fact("emissions", values=("Euro V", "Euro VI")),
        Fact("place", "job", values=("workshop", "yard")),
    ),
    tables=(Table("combinations/boxes.csv", ("gearbox", "emissions"), (
        {"gearbox": "light"}, {"gearbox": "heavy", "emissions": "Euro V"})),),
    roles=(Role("unit"), Role("oil"), Role("fuse", "at most one"), Role("jack")),
    findings=(Finding("port-damaged", "0.25"),),
    requirements=(
        Requirement("unit-oil", "gear oil", {"grade": "75W-80"}),
        Requirement("line-fuse", "blade fuse", {"body": "medium", "rating": "15"}),
    ),
    items=(
        Item("U-1"), Item("U-2"), Item("O-1", "L", "1", "gear oil", {"grade": "75w80"}),
        Item("F-1", kind="blade fuse", properties={"body": "medium", "rating": "15"}), Item("J-1"), Item("X-1"),
    ),
    jobs=(
        Job("actuator", roles={"unit": "work", "oil": "work"},
            includes=(Include("lift", {"work": "work"}, {"place": "workshop"}),), file="jobs/actuator.toml"),
        Job("lift", roles={"jack": "work"}, cautions=("heavy-unit",), file="jobs/lift.toml"),
        Job("electric", roles={"fuse": "work"}, file="jobs/electric.toml"),
    ),
    cautions={"heavy-unit": "Heavy unit: use lifting gear."},
    fits=(
        FitFile("fits/lift.csv", (Fit("jack", "J-1", amount="1", unit="each"),)),
        FitFile("fits/unit.csv", (
            Fit("unit", "U-1", amount="1", unit="each", job="actuator", when={"gearbox": "light"}),
            Fit("unit", "U-2", amount="1", unit="each", job="actuator", when={"gearbox": "heavy"}),
            Fit("oil", requirement="unit-oil", amount="0.5", unit="L"),
            Fit("fuse", requirement="line-fuse", amount="1", unit="each", finding="port-damaged"),
        )),
    ),
)


def write(folder: Path) -> Path:
    """Write the catalogue into a folder."""
    spec_files.write(SPEC, folder)
    return folder


def changed(folder: Path, place: str) -> None:
    """Change a note of the catalogue, so that it makes another edition."""
    (folder / "fits/lift.csv").write_text(
        f"role,item,amount,unit,note\njack,J-1,1,each,{place}\n", encoding="utf-8")


def kits(edition: Edition) -> list[bytes]:
    """The kits of all jobs with nothing known, as JSON."""
    return [msgspec.json.encode(build_kit(edition, job)) for job, _, _ in edition.heading.jobs]


def kept(cache: Path) -> list[str]:
    """The names of what lies in the cache folder's editions."""
    return sorted(path.name for path in (cache / "editions").iterdir())


def whole(path: Path) -> None:
    """That an edition's file is whole: SQLite finds no fault, and every part can be read."""
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    connection.close()
    opened = module._open(path.stem, path.parents[1])
    assert opened is not None
    assert {kind: len(list(getattr(opened, kind)())) for kind in ("items", "roles")} == {
        kind: opened.heading.counts[kind] for kind in ("items", "roles")}
    assert [opened.job(name).job.title for name, _, _ in opened.heading.jobs] == [
        title for _, title, _ in opened.heading.jobs]
    assert opened.facts and opened.findings and list(opened.requirements())


def editions(cache: Path) -> list[Path]:
    """The edition files of a cache folder, without what a kill left beside them."""
    return sorted((cache / "editions").glob("[!.]*")) if (cache / "editions").exists() else []


def child(run: Callable[[], None]) -> int:
    """Run something in a process of its own; its process id. The process ends with 0 only if it came to the end."""
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            run()
            code = 0
        finally:
            os._exit(code)
    return pid
