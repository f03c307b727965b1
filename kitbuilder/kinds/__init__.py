"""Kinds of items for which no number is fixed: what properties they have, and what satisfies a requirement.

A kind is a name and its properties; each property reads what a person wrote into one canonical form.
A new kind is a module of its own, added to KINDS.
"""

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Final

import msgspec

from kitbuilder.amount import quantity
from kitbuilder.kinds import blade_fuse, gear_oil
from kitbuilder.model.catalogue import Item, Requirement


class Property(msgspec.Struct, frozen=True):
    """One property: how it is read (ValueError says what was expected), and whether 'at least' makes sense."""

    read: Callable[[str], str]
    ordered: bool = False


class Kind(msgspec.Struct, frozen=True):
    """A kind: its properties, and a check of them together (the property at fault and what was expected, or None)."""

    properties: Mapping[str, Property]
    together: Callable[[Mapping[str, str]], tuple[str, str] | None] = lambda _: None


KINDS: Final[Mapping[str, Kind]] = {
    "gear oil": Kind({"grade": Property(gear_oil.read_grade)}),
    "blade fuse": Kind(
        {
            "body": Property(blade_fuse.read_body),
            "rating": Property(blade_fuse.read_rating, ordered=True),
            "voltage": Property(blade_fuse.read_voltage, ordered=True),
        },
        blade_fuse.rating_exists,
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
        and set(requirement.listed) <= set(item.listed)
        and set(requirement.claimed) <= {*item.claimed, *item.listed}
    )


def acceptable(requirement: Requirement, items: Iterable[Item]) -> dict[str, tuple[str, ...]]:
    """For each quantity, the numbers of the items that satisfy the requirement, by rank (none last), then number."""
    found: dict[str, list[tuple[bool, Decimal, str]]] = {}
    for item in items:
        if satisfies(item, requirement):
            rank = (item.rank == "", Decimal(item.rank or 0), item.number)
            found.setdefault(quantity(item.unit), []).append(rank)
    return {what: tuple(number for _, _, number in sorted(ranked)) for what, ranked in found.items()}
