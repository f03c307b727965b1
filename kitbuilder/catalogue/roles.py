"""Reads roles.toml: places in a kit, and what may turn out once a job is open."""

from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import cast

from kitbuilder.catalogue.circles import circles, reached
from kitbuilder.catalogue.toml import Keys
from kitbuilder.model.catalogue import FILLS, SORTS, TAKES, Filling, Finding, Per, Role, Sort, Takes

#: More than any kit holds; a number of thousands of digits couldn't be kept.
_MOST_SELECTED = 10**6


def read_roles(keys: Keys) -> tuple[dict[str, Role], dict[str, Finding]]:
    """Roles and findings by name."""
    keys.only("roles", "findings")
    roles = {}
    for one in keys.tables("roles", "role"):
        one.only("title", "sort", "takes", "circuit", "per", "fill", "advised", "select")
        title, sort, takes = one.text("title"), one.choice("sort", SORTS), one.choice("takes", TAKES)
        circuit = one.text("circuit", "")
        per = one.choice("per", ("job", "visit")) if one.has("per") else "job"
        fill = one.choice("fill", FILLS) if one.has("fill") else ""
        advised, select = _advised(one), _select(one, takes)
        if sort and takes and per and fill is not None:
            roles[one.name] = Role(one.name, title, cast(Sort, sort), cast(Takes, takes), circuit, cast(Per, per),
                                   cast(Filling, fill), advised, select)
        else:
            keys.faults.broken.add(("role", one.name))
    return roles, _read_findings(keys)


def _advised(keys: Keys) -> bool:
    advised = keys.raw("advised")
    if advised is not None and not isinstance(advised, bool):
        keys.fault("advised", advised, "true or false")
    return advised is True


def _select(keys: Keys, takes: str | None) -> int:
    """How many of what goes along are used; 0 where all are."""
    select = keys.raw("select")
    if select is None:
        return 0
    if isinstance(select, bool) or not isinstance(select, int) or not 1 <= select <= _MOST_SELECTED:
        keys.fault("select", select, "a whole number, 1 or more: how many of what goes along are used")
        return 0
    if takes in ("one", "at most one"):
        keys.fault("select", select, f"nothing here: of a role that takes {takes} there is nothing to select from")
    return select


def _read_findings(keys: Keys) -> dict[str, Finding]:
    tables = {one.name: one for one in keys.tables("findings", "finding")}
    for one in tables.values():
        one.only("title", "chance", "covers", "turns_into")
    covers = {name: one.names("covers") for name, one in tables.items()}
    for name, covered in covers.items():
        for other in covered:
            if other not in covers:
                tables[name].unknown(("covers", _place(tables[name], other)), "finding", other, list(covers))
    for circle in circles(covers):
        tables[circle[0]].fault("covers", ", ".join(covers[circle[0]]), "findings that don't cover each other in a "
                                f"circle, as these do: {', '.join(circle)}")
    reach = {name: reached(name, covers) for name in covers}
    return {
        name: Finding(name, one.text("title"), _chance(one), tuple(other for other in covers if name in reach[other]),
                      one.text("turns_into", ""))
        for name, one in tables.items()
    }


def check_turns(keys: Keys, findings: Mapping[str, Finding], jobs: Collection[str]) -> None:
    """Note every finding that turns a job into one that there isn't."""
    for name, finding in findings.items():
        if finding.turns_into and finding.turns_into not in jobs:
            keys.unknown(("findings", name, "turns_into"), "job", finding.turns_into, list(jobs))


def _place(keys: Keys, name: str) -> int:
    """Where in the list a finding covers another, which may be written with spaces around it."""
    return [isinstance(one, str) and one.strip() for one in keys.raw("covers")].index(name)


def _chance(keys: Keys) -> tuple[int, int]:
    chance = keys.raw("chance")
    if isinstance(chance, int | Decimal) and not isinstance(chance, bool) and 0 <= chance <= 1:
        # More places couldn't be kept exactly as a fraction of machine numbers.
        if (ratio := Decimal(chance).as_integer_ratio())[1] <= 10**18:
            return ratio
        keys.fault("chance", chance, "a chance with fewer decimal places")
    elif not keys.excused("chance"):
        keys.fault("chance", chance, "a chance between 0 and 1, such as 0.12")
    return 0, 1
