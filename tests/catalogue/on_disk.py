"""A small catalogue on disk, for tests of editions."""

from pathlib import Path

import msgspec

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
