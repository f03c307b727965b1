"""A small catalogue with a kit, whose lines tests change at will."""

from collections.abc import Sequence
from pathlib import Path

from kitbuilder import Edition, Kit, Line, build_kit, read_edition
from tests import spec_files
from tests.specs import Fit, FitFile, Item, Job, Requirement, Role, Spec
from tests.stock.asking import change

UNITS = {"P-1": "each", "P-2": "each", "O-1": "L", "O-2": "mL", "O-3": "L"}
GRADE = {"grade": "75W-80"}

SPEC = Spec(
    facts=(), tables=(), cautions={}, findings=(),
    roles=(Role("part"), Role("oil")),
    requirements=(Requirement("any-oil", "gear oil", GRADE),),
    items=(Item("P-1"), Item("P-2"), *(
        Item(name, UNITS[name], kind="gear oil", properties=GRADE) for name in ("O-1", "O-2", "O-3"))),
    jobs=(Job("work", roles={"part": "work", "oil": "work"}, file="jobs/work.toml"),),
    fits=(FitFile("fits/all.csv", (
        Fit("part", "P-1", amount="1", unit="each"), Fit("oil", requirement="any-oil", amount="500", unit="mL"))),),
)


def opened(folder: Path) -> tuple[Edition, Kit]:
    """The edition, and its kit of two lines: a part, and half a litre of an oil that three items satisfy."""
    spec_files.write(SPEC, folder)
    edition = read_edition(folder)
    return edition, build_kit(edition, "work")


def wanting(kit: Kit, wants: Sequence[tuple[str, str, Sequence[str]]]) -> Kit:
    """The kit with other lines: amount, unit and what is acceptable of each."""
    line: Line = kit.lines[0]
    return change(kit, lines=tuple(
        change(line, role=f"role-{at}", amount=amount, unit=unit, acceptable=tuple(acceptable))
        for at, (amount, unit, acceptable) in enumerate(wants)))
