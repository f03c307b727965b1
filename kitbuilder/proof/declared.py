"""What two editions declare otherwise beside kits: facts, items, roles, requirements, hazards, prices and the like."""

from collections.abc import Iterator, Mapping
from datetime import date

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.catalogue.parts import RequirementPart, RolePart
from kitbuilder.catalogue.together import sentence
from kitbuilder.model.catalogue import (
    Caution,
    Condition,
    Exchange,
    Hazard,
    Include,
    Item,
    JobType,
    Port,
    Replacement,
    Selling,
    Waste,
)
from kitbuilder.vehicle.facts import LISTED, Fact
from kitbuilder.vehicle.tables import Row
from kitbuilder.vehicle.values import outside


class Declared(msgspec.Struct, frozen=True):
    """Something that one edition declares otherwise than the other: of what kind (`item`), its name, which field;
    empty `field`: the whole is in one edition only. A side that doesn't have it is null."""

    what: str
    name: str
    field: str
    old: str | None
    new: str | None


#: What is kept under which key of an edition, and as what it is told. Job types are compared by themselves.
_PARTS: dict[str, tuple[str, type]] = {
    "caution": ("caution", Caution), "exchange": ("exchange", Exchange), "hazard": ("hazard", Hazard),
    "item": ("item", Item), "requirement": ("requirement", RequirementPart), "role": ("role", RolePart),
    "selling": ("selling price", Selling), "waste-of-job": ("what comes off with job", tuple[Waste, ...]),
    "waste-of-role": ("what comes off with role", tuple[Waste, ...]),
}
#: Where something stands, and what is told with the kits.
_LEFT_OUT = frozenset({"row", "file", "box", "job", "role"})


def declared_in_parts(changed: Mapping[str, tuple[bytes | None, bytes | None]], old: Edition,
                      new: Edition) -> Iterator[Declared]:
    """What differs in the parts that are not the same, by their key."""
    currencies = old.heading.currency, new.heading.currency
    for key in sorted(changed):
        prefix, _, name = key.partition("/")
        if prefix not in _PARTS:
            continue
        what, kind = _PARTS[prefix]
        sides = [None if raw is None else msgspec.msgpack.decode(raw, type=kind) for raw in changed[key]]
        yield from _differing(what, name, *(_fields(side, currency) for side, currency in zip(
            sides, currencies, strict=True)))


def declared_elsewhere(old: Edition, new: Edition) -> Iterator[Declared]:
    """What differs in what an edition keeps whole: its name, findings, supersessions, what VINs and plates tell."""
    for field in ("name", "currency"):
        yield from _differing("catalogue", new.heading.name, *(
            {field: getattr(edition.heading, field)} for edition in (old, new)))
    for what, sides in (("finding", (old.findings, new.findings)),
                        ("supersession of", (old.supersessions, new.supersessions))):
        for name in dict.fromkeys((*sides[0], *sides[1])):
            yield from _differing(what, name, *(_fields(side.get(name), "") for side in sides))
    sets = [{_name_of(one): one for one in edition.supersessions.together} for edition in (old, new)]
    for name in dict.fromkeys((*sets[0], *sets[1])):
        yield from _differing("supersession in", name, *(
            {"says": sentence(side[name]), "from": str(side[name].since or ""), "rule": side[name].rule}
            if name in side else None for side in sets))
    for what, patterns in (("VIN pattern", (old.vins, new.vins)), ("plate pattern", (old.plates, new.plates))):
        was, now = ([_pattern(one) for one in some] for some in patterns)
        yield from (Declared(what, text, "", text, None) for text in was if text not in now)
        yield from (Declared(what, text, "", None, text) for text in now if text not in was)


def _name_of(one: Replacement) -> str:
    return f"set {one.set}" if one.set else f"group {one.group}, {next(iter(one.olds))}"


def declared_facts(old: Edition, new: Edition) -> Iterator[Declared]:
    """Facts and values that only one edition has, and whether a fact is of the vehicle or of the job."""
    was, now = ({fact.name: fact for fact in edition.facts} for edition in (old, new))
    for name in dict.fromkeys((*now, *was)):
        one, other = was.get(name), now.get(name)
        if one is None or other is None or one.kind != other.kind:
            yield from (Declared("fact", name, "", _domain(side), None) for side in (one,) if side)
            yield from (Declared("fact", name, "", None, _domain(side)) for side in (other,) if side)
            continue
        gone, come = _only(one, other), _only(other, one)
        if gone or come:
            yield Declared("fact", name, "values", gone or None, come or None)
        groups = [
            {f"group {group}": " or ".join(fact.cells(values)) for group, values in fact.groups.items()}
            for fact in (one, other)]
        yield from _differing("fact", name, {"of": one.of} | groups[0], {"of": other.of} | groups[1])


def declared_tables(old: Edition, new: Edition) -> Iterator[Declared]:
    """Combinations tables with other rows or shares, by how many rows."""
    sides = [
        {table.file: [_row(edition, row) for row in table.rows] for table in edition.tables} for edition in (old, new)]
    for file in sorted({*sides[0], *sides[1]}):
        was, now = (side.get(file) for side in sides)
        if was is None or now is None:
            yield Declared(
                "table", file, "", *(None if some is None else _rows(len(some)) for some in (was, now)))
            continue
        gone, come = [row for row in was if row not in now], [row for row in now if row not in was]
        if gone or come:
            yield Declared("table", file, "rows", *(_rows(len(some)) if some else None for some in (gone, come)))


def _row(edition: Edition, row: Row) -> str:
    facts = edition.facts
    cells = [f"{facts[number].name} {' or '.join(facts[number].cells(values))}" for number, values in row.box.items()]
    return f"{sorted(cells)} {row.share}"


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _only(one: Fact, other: Fact) -> str:
    """The values that one fact has and the other hasn't."""
    if one.kind == LISTED:
        return " or ".join(value for value in one.values if value not in other.values)
    first, last = max(other.first - one.first, 0), min(other.first + other.size - one.first, one.size) - 1
    kept = ((first, last),) if first <= last else ()
    return " or ".join(one.cells(outside(kept, one.size)))


def _domain(fact: Fact) -> str:
    return " or ".join(fact.cells(fact.everything))


def _differing(what: str, name: str, old: Mapping[str, str] | None,
               new: Mapping[str, str] | None) -> Iterator[Declared]:
    if old is None or new is None:
        if old is not new:
            yield Declared(what, name, "", None if old is None else _short(old), None if new is None else _short(new))
        return
    for field in dict.fromkeys((*old, *new)):
        was, now = old.get(field) or None, new.get(field) or None
        if was != now:
            yield Declared(what, name, field, was, now)


def _short(fields: Mapping[str, str]) -> str:
    return "; ".join(f"{field} {text}" for field, text in fields.items() if text)


def _fields(value: object, currency: str) -> dict[str, str] | None:
    """A part's fields as text; None for none."""
    if value is None:
        return None
    if isinstance(value, RolePart):
        value = value.role
    elif isinstance(value, RequirementPart):
        value = value.requirement
    elif isinstance(value, tuple):
        return _of_wastes(value)
    assert isinstance(value, msgspec.Struct)
    found: dict[str, str] = {}
    for field in value.__struct_fields__[1:]:  # the first is what it is named by
        held = getattr(value, field)
        if field in ("properties", "equal", "least", "most") and isinstance(held, dict):
            more = {"equal": "", "least": " at least", "most": " at most"}.get(field, "")
            found |= {f"{name}{more}": _text(one) for name, one in held.items()}
        elif field not in _LEFT_OUT:
            found[field] = _figure(value, field, held, currency)
    return found


def _figure(value: msgspec.Struct, field: str, held: object, currency: str) -> str:
    """A field as text, numbers in the units in which they are written."""
    if field in ("deposit", "price") and isinstance(held, int):
        return amount.show_money(held, currency) if held else ""
    if field == "per" and isinstance(value, Selling):
        return amount.show(value.per)
    if field == "weight" and isinstance(held, int):
        return f"{amount.show(held)} kg" if held else ""
    if field == "chance" and isinstance(held, tuple):
        return f"{held[0]}/{held[1]}"
    return _text(held)


def _text(value: object) -> str:
    if isinstance(value, Condition):
        return f"{value.fact} {value.cell}"
    if isinstance(value, Port):
        return value.thread if value.count == 1 else f"{value.count} {value.thread}"
    if isinstance(value, tuple | list | frozenset):
        return " and ".join(_text(one) for one in value)
    if isinstance(value, dict):
        return "; ".join(f"{name} {_text(one)}" for name, one in value.items())
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if value is None or value == 0 else str(value)


def _of_wastes(wastes: tuple[Waste, ...]) -> dict[str, str]:
    """What comes off, by what it is and where; then its code, amount and note."""
    found: dict[str, str] = {}
    for one in wastes:
        where = " and ".join(_text(condition) for condition in one.conditions)
        field = f"{f'{one.role}: ' if one.role else ''}{one.what}{f', where {where}' if where else ''}"
        much = f"{amount.show(one.amount)} {one.unit}" if one.amount else ""
        text = ", ".join(part for part in (one.code or "no code", much, one.note) if part)
        found[field] = f"{found[field]}; {text}" if field in found else text
    return found


def _pattern(one: msgspec.Struct) -> str:
    """A pattern with what it tells."""
    return "; ".join(f"{field} {_text(getattr(one, field))}" for field in one.__struct_fields__
                     if field not in ("row", "file", "box") and _text(getattr(one, field)))


def job_fields(old: JobType, new: JobType) -> Iterator[Declared]:
    """What a job type says of itself otherwise: title, goal, stages with minutes, cautions, what it includes."""
    return _differing("job type", new.name, *({
        "title": job.title, "goal": job.goal,
        "stages": ", ".join(f"{stage.name} {stage.minutes} min" for stage in job.stages),
        "roles": ", ".join(f"{role} at {stage}" for role, stage in job.roles.items()),
        "cautions": ", ".join(job.cautions), "includes": "; ".join(_include(one) for one in job.includes),
    } for job in (old, new)))


def _include(include: Include) -> str:
    where = " and ".join(_text(condition) for condition in include.conditions)
    onto = ", ".join(f"{inner} at {outer}" for inner, outer in include.stages.items())
    return f"{include.job}{f' ({onto})' if onto else ''}{f' where {where}' if where else ''}"
