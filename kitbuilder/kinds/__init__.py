"""Kinds of items for which no number is fixed: what properties they have, and what satisfies a requirement.

A kind is a name and its properties; each property reads what a person wrote into one canonical form.
A new kind is a module of its own, added to KINDS. What belongs to a product's safety data sheet (kinds.hazards) or to
what comes off a vehicle (kinds.waste) is no kind's: it is never worked out from one.
"""

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Final

import msgspec

from kitbuilder.amount import quantity
from kitbuilder.kinds import (
    blade_fuse,
    brake_fluid,
    coolant,
    engine_oil,
    gear_oil,
    hydraulic_fluid,
    sealant,
    sealing_ring,
)
from kitbuilder.kinds.figures import read_celsius, read_minutes, read_viscosity
from kitbuilder.kinds.threads import read_thread
from kitbuilder.model.catalogue import Item, Requirement


class Property(msgspec.Struct, frozen=True):
    """One property: how it is read (ValueError says what was expected), and what a requirement may ask of it.

    `ordered`: 'at least' makes sense; `capped`: 'at most' does. Both are compared as numbers. `asked`: whether a
    requirement may name it at all.
    """

    read: Callable[[str], str]
    ordered: bool = False
    capped: bool = False
    asked: bool = True


class Kind(msgspec.Struct, frozen=True):
    """A kind: its properties, a check of them together (the property at fault and what was expected, or None), and
    what an item's own figures say against what it claims to be (see contradictions)."""

    properties: Mapping[str, Property]
    together: Callable[[Mapping[str, str]], tuple[str, str] | None] = lambda _: None
    against: Callable[[Mapping[str, str]], tuple[str, ...]] = lambda _: ()


_VISCOSITY: Final = Property(read_viscosity, ordered=True, capped=True)
_BOILING: Final = dict.fromkeys(("boiling-dry", "boiling-wet"), Property(brake_fluid.read_boiling_point, ordered=True))

KINDS: Final[Mapping[str, Kind]] = {
    "gear oil": Kind(
        {"grade": Property(gear_oil.read_grade), "kv100": _VISCOSITY, "cold150": Property(read_celsius, capped=True)},
        against=gear_oil.contradictions,
    ),
    "blade fuse": Kind(
        {
            "body": Property(blade_fuse.read_body),
            "rating": Property(blade_fuse.read_rating, ordered=True),
            "voltage": Property(blade_fuse.read_voltage, ordered=True),
            "colour": Property(blade_fuse.read_colour, asked=False),
        },
        blade_fuse.rating_exists,
        blade_fuse.contradictions,
    ),
    "engine oil": Kind(
        {"grade": Property(engine_oil.read_grade), "kv100": _VISCOSITY}, against=engine_oil.contradictions),
    "automatic transmission fluid": Kind({"kv100": _VISCOSITY}),
    "hydraulic fluid": Kind(
        {"grade": Property(hydraulic_fluid.read_grade), "kv40": _VISCOSITY}, against=hydraulic_fluid.contradictions),
    "glycol brake fluid": Kind(
        {"grade": Property(brake_fluid.read_glycol_grade), "class": Property(brake_fluid.read_class), **_BOILING},
        against=brake_fluid.contradictions,
    ),
    "silicone brake fluid": Kind(
        {"grade": Property(brake_fluid.read_silicone_grade), **_BOILING}, against=brake_fluid.contradictions),
    "mineral brake fluid": Kind({}),
    "coolant": Kind({"form": Property(coolant.read_form)}),
    "sealant": Kind({"base": Property(sealant.read_base), "cure": Property(read_minutes, capped=True)}),
    "thread tap": Kind({"thread": Property(read_thread)}),
    "sealing ring": Kind(
        {
            "thread": Property(read_thread),
            "size": Property(sealing_ring.read_size),
            "material": Property(sealing_ring.read_material),
        },
        against=sealing_ring.contradictions,
    ),
}

PROPERTIES: Final = tuple(dict.fromkeys(name for kind in KINDS.values() for name in kind.properties))


def satisfies(item: Item, requirement: Requirement) -> bool:
    """Whether the item has the kind, every property and every specification that the requirement asks for.

    That the quantities of their units agree is for the caller to see to: a requirement has none of its own.
    """
    return (
        item.kind == requirement.kind
        and all(item.properties.get(name) == value for name, value in requirement.equal.items())
        and all(
            name in item.properties and Decimal(item.properties[name]) >= Decimal(value)
            for name, value in requirement.least.items()
        )
        and all(
            name in item.properties and Decimal(item.properties[name]) <= Decimal(value)
            for name, value in requirement.most.items()
        )
        and set(requirement.listed) <= set(item.listed)
        and set(requirement.claimed) <= {*item.claimed, *item.listed}
    )


def contradictions(item: Item) -> tuple[str, ...]:
    """What an item's own figures say against what it claims to be (its grade, class, size): sentences that name it.

    The figures are those of its data sheet, as items.csv has them; what isn't there contradicts nothing.
    """
    kind = KINDS.get(item.kind)
    told = kind.against(item.properties) if kind else ()
    return tuple(f"{item.number} ({item.name}): {one[0].lower()}{one[1:]}" for one in told)


def acceptable(requirement: Requirement, items: Iterable[Item]) -> dict[str, tuple[str, ...]]:
    """For each quantity, the numbers of the items that satisfy the requirement, by rank (none last), then number."""
    found: dict[str, list[tuple[bool, Decimal, str]]] = {}
    for item in items:
        if satisfies(item, requirement):
            rank = (item.rank == "", Decimal(item.rank or 0), item.number)
            found.setdefault(quantity(item.unit), []).append(rank)
    return {what: tuple(number for _, _, number in sorted(ranked)) for what, ranked in found.items()}
