"""What catalogue.toml, facts.toml, roles.toml, requirements.toml and cautions.toml declare."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, cast

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.toml import Keys
from kitbuilder.errors import one_of
from kitbuilder.kinds import KINDS
from kitbuilder.model.catalogue import NOTHING, SORTS, TAKES, Caution, Finding, Requirement, Role, Sort, Takes
from kitbuilder.vehicle.facts import DAYS, LISTED, NUMBERS, CellError, Fact, name_fault
from kitbuilder.vehicle.values import Values, union

#: Columns of the sheets (kit-rules, section 10): a fact named like one couldn't have a column of its own.
COLUMNS = frozenset({
    "job", "role", "item", "requirement", "amount", "unit", "finding", "otherwise", "note", "share",
    "number", "name", "rank", "kind", "codes", "listed", "claimed",
})


def read_facts(keys: Keys, faults: Faults) -> list[Fact]:
    """The facts in the order they are written."""
    keys.only({"facts"})
    found = []
    for one in keys.tables("facts"):
        before = len(faults.found)
        fact = _read_fact(one)
        if len(faults.found) > before:
            faults.broken.add(("fact", one.name))
        if fact is not None:
            found.append(fact)
    if not found and not faults.found:
        keys.fault("facts", "", "at least one fact")
    return found


def _read_fact(keys: Keys) -> Fact | None:
    keys.only({"of", "values", "from", "to", "groups", "question", "where"})
    name = keys.name
    if name in COLUMNS:
        keys.fault("", name, "a name that is not a column of the sheets")
    elif problem := name_fault(name):
        keys.fault("", name, problem)
    of = keys.choice("of", ("vehicle", "job"))
    question, where = keys.text("question", f"What is the {name}?"), keys.text("where", "")
    if keys.has("values"):
        if keys.has("from") or keys.has("to"):
            keys.fault("from", "", "either values, or from and to")
        values = keys.names("values")
        if not values:
            keys.fault("values", keys.raw("values"), "a list of at least one value")
            return None
        kind, size, first = LISTED, len(values), 0
        for place, value in enumerate(values):
            if value in values[:place]:
                keys.fault("values", value, "each value once")
            if problem := name_fault(value):
                keys.fault("values", value, problem)
    else:
        values = ()
        ends = [_end(keys, "from"), _end(keys, "to")]
        if ends[0] is None or ends[1] is None:
            return None
        kind = ends[0][0]
        if ends[1][0] != kind or ends[1][1] < ends[0][1]:
            keys.fault("to", keys.raw("to"), f"{kind} not before {keys.raw('from')}")
            return None
        first, size = ends[0][1], ends[1][1] - ends[0][1] + 1
    fact = Fact(name, of or "vehicle", kind, size, values, first, {}, question, where)
    return _with_groups(keys, fact)


def _end(keys: Keys, key: str) -> tuple[str, int] | None:
    value = keys.raw(key)
    if isinstance(value, date) and not isinstance(value, datetime):
        return DAYS, value.toordinal()
    if isinstance(value, int) and not isinstance(value, bool):
        return NUMBERS, value
    keys.fault(key, value, "a day or a whole number (or a list of values instead of from and to)")
    return None


def _with_groups(keys: Keys, fact: Fact) -> Fact:
    raw = keys.raw("groups")
    if raw is None:
        return fact
    if not isinstance(raw, dict):
        keys.fault("groups", raw, "a table of lists")
        return fact
    groups: dict[str, Values] = {}
    for name, cells in raw.items():
        if problem := name_fault(name):
            keys.fault("groups", name, problem)
        elif _is_value(fact, name):
            keys.fault("groups", name, "a name that is not a value of the fact as well")
        if not isinstance(cells, list) or not cells or not all(isinstance(cell, str) for cell in cells):
            keys.fault("groups", name, "a list of values")
            continue
        runs: list[tuple[int, int]] = []
        for cell in cells:
            try:
                if fact.kind == LISTED and cell.strip() not in fact.values:
                    raise CellError(f"a value: {one_of(cell.strip(), fact.values)}")
                if not cell.strip():
                    raise CellError("a value")
                runs.extend(fact.read(cell))
            except CellError as error:
                keys.fault("groups", cell, str(error))
        groups[name] = union(runs)
    return Fact(fact.name, fact.of, fact.kind, fact.size, fact.values, fact.first, groups, fact.question, fact.where)


def _is_value(fact: Fact, name: str) -> bool:
    try:
        fact.read(name)
    except CellError:
        return False
    return True


def read_roles(keys: Keys) -> tuple[dict[str, Role], dict[str, Finding]]:
    """Roles and findings by name."""
    keys.only({"roles", "findings"})
    roles = {}
    for one in keys.tables("roles"):
        one.only({"title", "sort", "takes", "circuit"})
        title, sort, takes = one.text("title"), one.choice("sort", SORTS), one.choice("takes", TAKES)
        circuit = one.text("circuit", "")
        if sort and takes:
            roles[one.name] = Role(one.name, title, cast(Sort, sort), cast(Takes, takes), circuit)
        else:
            keys.faults.broken.add(("role", one.name))
    return roles, _read_findings(keys)


def _read_findings(keys: Keys) -> dict[str, Finding]:
    chances: dict[str, tuple[Keys, tuple[int, int]]] = {}
    covers: dict[str, tuple[str, ...]] = {}
    for one in keys.tables("findings"):
        one.only({"title", "chance", "covers"})
        chance = one.raw("chance")
        if isinstance(chance, bool) or not isinstance(chance, int | Decimal) or not 0 <= chance <= 1:
            one.fault("chance", chance, "a chance between 0 and 1, such as 0.12")
            chance = Decimal(0)
        chances[one.name] = one, Decimal(chance).as_integer_ratio()
        covers[one.name] = one.names("covers")
    for name, covered in covers.items():
        for other in covered:
            if other not in covers:
                keys.faults.unknown(keys.file, chances[name][0].line("covers"), f"findings.{name}.covers",
                                    "finding", other, list(covers))
    reach = {name: _reached(name, covers) for name in covers}
    for name in covers:
        if name in reach[name]:
            chances[name][0].fault("covers", name, "findings that don't cover each other in a circle")
    return {
        name: Finding(name, one.text("title"), chance, tuple(other for other in covers if name in reach[other]))
        for name, (one, chance) in chances.items()
    }


def _reached(start: str, covers: Mapping[str, tuple[str, ...]]) -> set[str]:
    seen: set[str] = set()
    todo = list(covers[start])
    while todo:
        name = todo.pop()
        if name in covers and name not in seen:
            seen.add(name)
            todo.extend(covers[name])
    return seen


def read_requirements(keys: Keys) -> dict[str, Requirement]:
    """Requirements by name, their properties in canonical form."""
    keys.only({"requirements"})
    found = {}
    for one in keys.tables("requirements"):
        kind_name = one.choice("kind", list(KINDS))
        if kind_name is None:
            keys.faults.broken.add(("requirement", one.name))
            continue
        kind = KINDS[kind_name]
        one.only({"title", "kind", "listed", "claimed", *kind.properties})
        equal: dict[str, str] = {}
        least: dict[str, str] = {}
        for name in kind.properties:
            if one.has(name):
                _read_property(one, kind_name, name, equal, least)
        if problem := kind.together(equal):
            one.fault("", "", problem)
        found[one.name] = Requirement(
            one.name, one.text("title"), kind_name, equal, least, _specifications(one, "listed"),
            _specifications(one, "claimed"))
    return found


def _read_property(keys: Keys, kind: str, name: str, equal: dict[str, str], least: dict[str, str]) -> None:
    value = keys.raw(name)
    target = equal
    if isinstance(value, dict):
        target = least
        if set(value) != {"min"} or not KINDS[kind].properties[name].ordered:
            keys.fault(name, value, "a value" + (f", or {name}.min" if KINDS[kind].properties[name].ordered else ""))
            return
        value = value["min"]
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        keys.fault(name, value, "a text or a number")
        return
    try:
        target[name] = KINDS[kind].properties[name].read(str(value))
    except ValueError as error:
        keys.fault(name, value, str(error))


def _specifications(keys: Keys, key: str) -> tuple[str, ...]:
    names = keys.names(key)
    for name in names:
        if "and" in name.split():
            keys.fault(key, name, "names without the word 'and', which parts them in the sheets")
    return names


def read_cautions(keys: Keys) -> dict[str, Caution]:
    """Cautions by name."""
    keys.only({"cautions"})
    found = {}
    for one in keys.tables("cautions"):
        one.only({"text"})
        found[one.name] = Caution(one.name, one.text("text"))
    return found


def read_heading(keys: Keys) -> dict[str, Any]:
    """The catalogue's name and currency."""
    keys.only({"name", "format", "currency"})
    if keys.raw("format") != 1:
        keys.fault("format", keys.raw("format"), "format = 1, the only one there is")
    currency = keys.text("currency")
    if currency and not (len(currency) == 3 and currency.isascii() and currency.isupper()):
        keys.fault("currency", currency, "a currency of ISO 4217, such as EUR")
    return {"name": keys.text("name"), "currency": currency}


__all__ = ["COLUMNS", "NOTHING", "read_cautions", "read_facts", "read_heading", "read_requirements", "read_roles"]
