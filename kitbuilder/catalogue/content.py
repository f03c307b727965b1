"""A catalogue's whole content, read from the bytes of its files; the same bytes give the same content."""

from collections.abc import Mapping

import msgspec

from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.columns import FIT_COLUMNS, ITEM_COLUMNS, SUPERSESSION_COLUMNS, TABLE_COLUMNS
from kitbuilder.catalogue.declared import read_cautions, read_heading, read_requirements
from kitbuilder.catalogue.facts import read_facts
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.fits import FitReader
from kitbuilder.catalogue.folder import FOLDERS, NEEDED, is_own
from kitbuilder.catalogue.items import read_items
from kitbuilder.catalogue.jobs import read_jobs
from kitbuilder.catalogue.roles import read_roles
from kitbuilder.catalogue.sheet import read_sheet
from kitbuilder.catalogue.supersession import read_supersessions
from kitbuilder.catalogue.tables import join_tables, read_table
from kitbuilder.catalogue.toml import Keys, read_toml
from kitbuilder.errors import LoadError
from kitbuilder.model.catalogue import Caution, Finding, Fit, Item, JobType, Requirement, Role, Supersession
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint, Table

#: What the other files then can't be blamed for naming, where a file is missing.
_DECLARES = {"facts.toml": ("fact",), "roles.toml": ("role", "finding"), "items.csv": ("item",), "jobs/": ("job",)}


class Content(msgspec.Struct, frozen=True):
    """All that a catalogue says. `fits` come with their job; an empty job means every job that lists the role.
    `supersessions` are by the old item's number."""

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
    supersessions: dict[str, Supersession]
    fits: tuple[tuple[str, Fit], ...]


def read_content(folder: str, files: Mapping[str, bytes]) -> Content:
    """The content of files by path; `folder` is only named in errors. Raises LoadError with all faults together."""
    faults = Faults()
    _check_files(files, faults)

    def toml(path: str) -> Keys:
        return read_toml(path, files.get(path, b""), faults)

    def within(inner: str) -> list[str]:
        return sorted(path for path in files if path.startswith(f"{inner}/") and is_own(path))

    name, currency = read_heading(toml("catalogue.toml")) if "catalogue.toml" in files else ("", "")
    facts = read_facts(toml("facts.toml"), faults)
    roles, findings = read_roles(toml("roles.toml"))
    requirements = read_requirements(toml("requirements.toml"))
    cautions = read_cautions(toml("cautions.toml"))
    cells = CellReader(facts, faults)
    known = set(cells.numbers)
    tables = [
        read_table(read_sheet(path, files[path], TABLE_COLUMNS | known, (), faults), facts, cells, faults)
        for path in within("combinations")
    ]
    joints = join_tables(tables, facts, faults)
    needed = ("number", "name", "unit")
    items = read_items(read_sheet("items.csv", files["items.csv"], ITEM_COLUMNS, needed, faults), faults) \
        if "items.csv" in files else {}
    supersessions = read_supersessions(
        read_sheet("supersession.csv", files["supersession.csv"], SUPERSESSION_COLUMNS, ("old", "new", "rule"), faults),
        items, faults) if "supersession.csv" in files else {}
    jobs = read_jobs([toml(path) for path in within("jobs")], roles, cautions, cells, faults)
    reader = FitReader(cells, items, requirements, roles, findings, jobs, faults)
    fits = [
        one for path in within("fits")
        for one in reader.read(read_sheet(path, files[path], FIT_COLUMNS | known, ("role",), faults))
    ]
    if faults.found:
        raise LoadError(folder, faults.found)
    return Content(name, currency, tuple(facts), tuple(tables), tuple(joints), roles, findings, requirements, cautions,
                   jobs, items, supersessions, tuple(fits))


def _check_files(files: Mapping[str, bytes], faults: Faults) -> None:
    """Note what is missing, and what has a name that can't be written down."""
    missing = [name for name in NEEDED if name not in files]
    for name in missing:
        faults.add(name, 0, "", "", "this file, which a catalogue must have")
    for inner in ("jobs", "fits"):
        if not any(path.startswith(f"{inner}/") and is_own(path) for path in files):
            faults.add(f"{inner}/", 0, "", "", f"at least one file *{FOLDERS[inner]} in this folder")
            missing.append(f"{inner}/")
    for name in missing:
        faults.unread.update(_DECLARES.get(name, ()))
    for path in files:
        plain = path.encode("utf-8", "backslashreplace").decode()
        if plain != path:
            faults.add(plain, 0, "", "", "a file name in UTF-8")
