"""A catalogue's whole content, read from the bytes of its files; the same bytes give the same content."""

from collections.abc import Collection, Mapping

import msgspec

from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.columns import (
    EXCHANGE_COLUMNS,
    FIT_COLUMNS,
    HAZARD_COLUMNS,
    ITEM_COLUMNS,
    PLATE_COLUMNS,
    SELLING_COLUMNS,
    SUPERSESSION_COLUMNS,
    TABLE_COLUMNS,
    VIN_COLUMNS,
    WASTE_COLUMNS,
)
from kitbuilder.catalogue.declared import read_cautions, read_heading, read_requirements
from kitbuilder.catalogue.exchange import read_exchanges
from kitbuilder.catalogue.facts import read_facts
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.fits import FitReader
from kitbuilder.catalogue.folder import FOLDERS, NEEDED, is_own
from kitbuilder.catalogue.hazards import read_hazards
from kitbuilder.catalogue.items import read_items
from kitbuilder.catalogue.jobs import read_jobs
from kitbuilder.catalogue.kept import KeptFits
from kitbuilder.catalogue.plates import read_plates
from kitbuilder.catalogue.roles import check_turns, read_roles
from kitbuilder.catalogue.selling import read_selling
from kitbuilder.catalogue.sheet import Sheet, read_sheet
from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.catalogue.supersession import read_supersessions
from kitbuilder.catalogue.tables import join_tables, read_table
from kitbuilder.catalogue.toml import Keys, read_toml
from kitbuilder.catalogue.vin import read_vins
from kitbuilder.catalogue.waste import read_wastes
from kitbuilder.errors import LoadError
from kitbuilder.model.catalogue import (
    Caution,
    Exchange,
    Finding,
    Hazard,
    Item,
    JobType,
    Requirement,
    Role,
    Selling,
    Waste,
)
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.plates import PlatePattern
from kitbuilder.vehicle.tables import Joint, Table
from kitbuilder.vehicle.vin import VinPattern

#: What the other files then can't be blamed for naming, where a file is missing.
_DECLARES = {"facts.toml": ("fact",), "roles.toml": ("role", "finding"), "items.csv": ("item",), "jobs/": ("job",)}


class Content(msgspec.Struct, frozen=True):
    """All that a catalogue says. `fits` come with their job; an empty job means every job that lists the role.
    `supersessions` are by the old item's number; exchanges, hazards and selling prices by the item's."""

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
    supersessions: Supersessions
    fits: KeptFits
    exchanges: dict[str, Exchange]
    hazards: dict[str, Hazard]
    selling: dict[str, Selling]
    wastes: tuple[Waste, ...]
    vins: tuple[VinPattern, ...]
    plates: tuple[PlatePattern, ...]


def read_content(folder: str, files: Mapping[str, bytes]) -> Content:
    """The content of files by path; `folder` is only named in errors. Raises LoadError with all faults together."""
    faults = Faults()
    _check_files(files, faults)

    def toml(path: str) -> Keys:
        return read_toml(path, files.get(path, b""), faults)

    def sheet(path: str, columns: Collection[str], needed: Collection[str]) -> Sheet:
        """One of the sheets that a catalogue may do without."""
        return read_sheet(path, files[path], columns, needed, faults) if path in files else Sheet(path)

    def within(inner: str) -> list[str]:
        return sorted(path for path in files if path.startswith(f"{inner}/") and is_own(path))

    name, currency = read_heading(toml("catalogue.toml")) if "catalogue.toml" in files else ("", "")
    facts = read_facts(toml("facts.toml"), faults)
    declared = toml("roles.toml")
    roles, findings = read_roles(declared)
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
        items, faults) if "supersession.csv" in files else Supersessions()
    jobs = read_jobs([toml(path) for path in within("jobs")], roles, cautions, cells, faults)
    check_turns(declared, findings, jobs)
    circuits = {role.circuit for role in roles.values() if role.circuit}
    exchanges = read_exchanges(sheet("exchange.csv", EXCHANGE_COLUMNS, ("item",)), items, circuits, currency, faults)
    hazards = read_hazards(sheet("hazards.csv", HAZARD_COLUMNS, ("item", "sheet")), items, faults)
    selling = read_selling(sheet("selling.csv", SELLING_COLUMNS, ("item", "price")), items, currency, faults)
    wastes = read_wastes(
        sheet("waste.csv", WASTE_COLUMNS | known, ("what", "code")), cells, jobs, roles, faults)
    vins = read_vins(sheet("vin.csv", VIN_COLUMNS | known, ("pattern",)), facts, cells, joints, faults)
    plates = read_plates(
        sheet("plates.csv", PLATE_COLUMNS | known, ("component", "pattern")), facts, cells, joints, faults)
    reader = FitReader(cells, items, requirements, roles, findings, jobs, faults)
    fits = KeptFits()
    for path in within("fits"):
        fits.add(reader.read(path, files[path], FIT_COLUMNS | known))
    if faults.found:
        raise LoadError(folder, faults.found)
    return Content(name, currency, tuple(facts), tuple(tables), tuple(joints), roles, findings, requirements, cautions,
                   jobs, items, supersessions, fits, exchanges, hazards, selling, wastes, vins, plates)


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
