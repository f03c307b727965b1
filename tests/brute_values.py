"""Amounts, requirements, decimals and canonical JSON, worked out anew for the brute force."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from tests.specs import Fact, Item, Requirement, Spec

MEASURED = {
    "mL": ("volume", Fraction(1)),
    "L": ("volume", Fraction(1000)),
    "g": ("mass", Fraction(1)),
    "kg": ("mass", Fraction(1000)),
    "mm": ("length", Fraction(1)),
    "m": ("length", Fraction(1000)),
}


def quantity(unit: str) -> str:
    """What a unit measures. A counted unit is a quantity of its own: there is no conversion."""
    return MEASURED[unit][0] if unit in MEASURED else unit


def shown_amount(amount: str, unit: str, shown_in: str) -> Fraction:
    """An amount in the unit it is shown in, rounded up to 0.001."""
    exact = Fraction(Decimal(amount))
    if unit != shown_in:
        if quantity(unit) != quantity(shown_in):
            raise ValueError(f"{unit} can't be shown in {shown_in}")
        exact = exact * MEASURED[unit][1] / MEASURED[shown_in][1]
    return Fraction(math.ceil(exact * 1000), 1000)


def decimal_text(number: Fraction) -> str:
    """A number of at most 4 places without exponent and needless zeros."""
    scaled = number * 10_000
    if scaled.denominator != 1:
        raise ValueError(f"{number} has more than 4 places")
    whole, rest = divmod(scaled.numerator, 10_000)
    return f"{whole}.{rest:04d}".rstrip("0").rstrip(".")


def chance_text(chance: Fraction) -> str:
    """A chance rounded half to even to 4 places."""
    return decimal_text(round(chance, 4))


def _grade(text: str) -> str:
    bare = text.upper().replace(" ", "").replace("-", "")
    return bare.removeprefix("SAE")


def _equal(name: str, wanted: str, has: str) -> bool:
    if name == "grade":
        return _grade(wanted) == _grade(has)
    if name == "body":
        return wanted == has
    return Decimal(wanted) == Decimal(has)


def satisfies(item: Item, requirement: Requirement, unit: str) -> bool:
    """Whether the item may fill the requirement, of which an amount in `unit` is wanted."""
    has: Mapping[str, str] = item.properties
    if item.kind != requirement.kind or quantity(item.unit) != quantity(unit):
        return False
    if any(
        not has.get(name) or not _equal(name, wanted, has[name]) for name, wanted in requirement.equal.items()
    ):
        return False
    if any(
        not has.get(name) or Decimal(has[name]) < Decimal(least) for name, least in requirement.least.items()
    ):
        return False
    listed, claimed = set(item.listed), set(item.claimed)
    return set(requirement.listed) <= listed and set(requirement.claimed) <= listed | claimed


def satisfying(spec: Spec, requirement: Requirement, unit: str) -> list[str]:
    """The numbers of the items that satisfy a requirement, by rank (empty last), then number."""
    found = [item for item in spec.items if satisfies(item, requirement, unit)]
    found.sort(key=lambda item: (item.rank == "", Decimal(item.rank or "0"), item.number))
    return [item.number for item in found]


def shown_values(fact: Fact, values: set[str]) -> list[str]:
    """Values as cells on output: listed ones one by one, those of a range as runs of neighbours."""
    domain = fact.domain()
    if not fact.is_range:
        return [value for value in domain if value in values]
    runs: list[list[str]] = []
    for before, value in zip(["", *domain], domain, strict=False):
        if value in values:
            if before in values:
                runs[-1].append(value)
            else:
                runs.append([value])
    return [run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]


def canonical(value: Any) -> str:
    """Canonical JSON by RFC 8785, for what a fingerprint holds: no fractions."""
    if isinstance(value, Mapping):
        names = sorted(value, key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(f"{canonical(name)}:{canonical(value[name])}" for name in names) + "}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ",".join(canonical(one) for one in value) + "]"
    return json.dumps(value, ensure_ascii=False)


LINE_KEYS = ("stage", "role", "sort", "item", "requirement", "amount", "unit", "finding", "certainty", "when")
FINGERPRINTED = {
    "lines": (*LINE_KEYS, "acceptable"),
    "nothing": ("stage", "role", "certainty", "when"),
    "problems": ("kind", "role", "circuit", "certainty", "when"),
}


def fingerprint(kit: Mapping[str, Any]) -> str:
    """The SHA-256 of what section 9 takes from a kit."""
    taken: dict[str, Any] = {"format": 1, "job": kit["job"]}
    for part, keys in FINGERPRINTED.items():
        taken[part] = [{key: row[key] for key in keys} for row in kit[part]]
    return hashlib.sha256(canonical(taken).encode("utf-8")).hexdigest()
