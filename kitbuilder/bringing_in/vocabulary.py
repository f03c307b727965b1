"""The words that a catalogue knows, as far as its files can be read: it may be just begun, or broken."""

from collections.abc import Mapping

import msgspec

from kitbuilder.catalogue.facts import read_facts
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import read_sheet
from kitbuilder.catalogue.toml import read_toml
from kitbuilder.vehicle.facts import Fact


class Vocabulary(msgspec.Struct, frozen=True):
    """Facts, and the names of things with what they are called (items: name and unit)."""

    facts: tuple[Fact, ...] = ()
    roles: dict[str, str] = {}
    findings: dict[str, str] = {}
    requirements: dict[str, str] = {}
    jobs: dict[str, str] = {}
    items: dict[str, tuple[str, str]] = {}


class _Any(frozenset[str]):
    """Every name: what a sheet's columns may be is judged when the catalogue is loaded."""

    def __contains__(self, name: object) -> bool:
        return True


def read_vocabulary(files: Mapping[str, bytes]) -> Vocabulary:
    """The words in a catalogue's files, by path; what can't be read is passed over, nothing is raised."""
    faults = Faults()

    def titles(path: str, table: str) -> dict[str, str]:
        keys = read_toml(path, files.get(path, b""), faults)
        return {one.name: one.text("title", "") for one in keys.tables(table, "")}

    jobs: dict[str, str] = {}
    for path in sorted(files):
        if path.startswith("jobs/"):
            jobs |= titles(path, "jobs")
    sheet = read_sheet("items.csv", files.get("items.csv", b""), _Any(), (), faults)
    items = {row.cells["number"]: (row.cells.get("name", ""), row.cells.get("unit", ""))
             for row in sheet.rows if "number" in row.cells}
    facts = tuple(read_facts(read_toml("facts.toml", files.get("facts.toml", b""), faults), faults))
    return Vocabulary(facts, titles("roles.toml", "roles"), titles("roles.toml", "findings"),
                      titles("requirements.toml", "requirements"), jobs, items)
