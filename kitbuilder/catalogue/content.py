"""A catalogue's whole content, read from the bytes of its files; the same bytes give the same content."""

from collections.abc import Mapping

import msgspec

from kitbuilder.catalogue import declared
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.folder import FOLDERS, NEEDED
from kitbuilder.catalogue.jobs import read_jobs
from kitbuilder.catalogue.sheet import read_sheet
from kitbuilder.catalogue.sheets import (
    FIT_COLUMNS,
    ITEM_COLUMNS,
    TABLE_COLUMNS,
    CellReader,
    FitReader,
    read_items,
    read_table,
)
from kitbuilder.catalogue.toml import read_toml
from kitbuilder.errors import LoadError
from kitbuilder.model.catalogue import Caution, Finding, Fit, Item, JobType, Requirement, Role
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint, Table, TableFault, clusters, join


class Content(msgspec.Struct, frozen=True):
    """All that a catalogue says. `fits` come with their job; an empty job means every job that lists the role."""

    name: str
    currency: str
    facts: tuple[Fact, ...]
    tables: tuple[Table, ...]
    joints: tuple[Joint, ...]
    roles: dict[str, Role]
    findings: dict[str, Finding]
    requirements: dict[str, Requirement]
    cautions: dict[str, Caution]
    jobs: dict[str, JobType]
    items: dict[str, Item]
    fits: tuple[tuple[str, Fit], ...]


def read_content(folder: str, files: Mapping[str, bytes]) -> Content:
    """The content of files by path; `folder` is only named in errors. Raises LoadError with all faults together."""
    faults = Faults()
    for name in NEEDED:
        if name not in files:
            faults.add(name, 0, "", "", "this file, which a catalogue must have")
    for inner in ("jobs", "fits"):
        if not any(path.startswith(f"{inner}/") for path in files):
            faults.add(f"{inner}/", 0, "", "", f"at least one file *{FOLDERS[inner]} in this folder")

    def toml(path: str) -> declared.Keys:
        return read_toml(path, files.get(path, b""), faults)

    def within(inner: str) -> list[str]:
        return sorted(path for path in files if path.startswith(f"{inner}/"))

    heading = declared.read_heading(toml("catalogue.toml")) if "catalogue.toml" in files else {}
    facts = declared.read_facts(toml("facts.toml"), faults) if "facts.toml" in files else []
    roles, findings = declared.read_roles(toml("roles.toml"))
    requirements = declared.read_requirements(toml("requirements.toml"))
    cautions = declared.read_cautions(toml("cautions.toml"))
    cells = CellReader(facts, faults)
    known = set(cells.numbers)
    tables = [
        read_table(read_sheet(path, files[path], TABLE_COLUMNS | known, (), faults), facts, cells, faults)
        for path in within("combinations")
    ]
    items = read_items(
        read_sheet("items.csv", files.get("items.csv", b""), ITEM_COLUMNS, ("number", "name", "unit"), faults), faults
    ) if "items.csv" in files else {}
    jobs = read_jobs([toml(path) for path in within("jobs")], roles, cautions, cells, faults)
    reader = FitReader(cells, items, requirements, roles, findings, jobs, faults)
    fits = [
        one for path in within("fits")
        for one in reader.read(read_sheet(path, files[path], FIT_COLUMNS | known, ("role",), faults))
    ]
    joints = [] if faults.found else _joints(tables, facts, faults)
    if faults.found:
        raise LoadError(folder, faults.found)
    return Content(heading["name"], heading["currency"], tuple(facts), tuple(tables), tuple(joints), roles, findings,
                   requirements, cautions, jobs, items, tuple(fits))


def _joints(tables: list[Table], facts: list[Fact], faults: Faults) -> list[Joint]:
    found = []
    for together in clusters(tables):
        files = ", ".join(table.file for table in together)
        try:
            joint = join(together, [fact.size for fact in facts])
        except TableFault as error:
            faults.add(", ".join(error.files), error.row, "share" if "share" in str(error) else "", "", str(error))
            continue
        if not joint.boxes:
            faults.add(files, 0, "", "", "tables that allow at least one vehicle together")
        found.append(joint)
    return found
