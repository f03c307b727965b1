"""Reads the figures and names of a data sheet into one canonical form: decimals with a unit behind them, words."""

import re
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final

from kitbuilder.errors import one_of

_NO_OTHERS: Final[Mapping[str, str]] = MappingProxyType({})

_FIGURE: Final = re.compile(r"([-−]?)([0-9]{1,9})(?:([.,])([0-9]{1,9}))?\s*(\S*)")


def read_figure(text: str, units: Mapping[str, int], example: str, *, below_zero: bool = False) -> str:
    """A decimal without needless zeros, in the first of `units` (each with how many of the first it is).

    The unit may be left out: then the first is meant. Raises ValueError, whose text says what was expected, for
    anything else, and for zero or less unless `below_zero`.
    """
    unit = next(iter(units))
    found = _FIGURE.fullmatch(text.strip())
    if not found or (found[5] and found[5] not in units):
        raise ValueError(_expected(unit, example, below_zero))
    sign, whole, point, fraction, written = found.groups(default="")
    if (sign and not below_zero) or (not below_zero and not int(whole + fraction)):
        raise ValueError(_expected(unit, example, below_zero))
    if point == ",":
        raise ValueError(f"a decimal point: {text.strip().replace(',', '.')}")
    digits = str(int(whole + fraction) * units[written or unit]).rjust(len(fraction) + 1, "0")
    places = len(digits) - len(fraction)
    shown = f"{digits[:places]}.{digits[places:]}".rstrip("0").rstrip(".") if fraction else digits
    return f"-{shown}" if sign and shown != "0" else shown


def _expected(unit: str, example: str, below_zero: bool) -> str:
    return f"a number of {unit}, such as {example}" if below_zero else (
        f"a number of {unit} more than zero, such as {example}")


def read_viscosity(text: str) -> str:
    """Kinematic viscosity in mm²/s (one mm²/s is one cSt)."""
    return read_figure(text, {"mm²/s": 1, "mm2/s": 1, "cSt": 1}, "14.5")


def read_celsius(text: str) -> str:
    """Degrees Celsius, below zero with a hyphen or a minus sign."""
    return read_figure(text, {"°C": 1, "C": 1}, "-40", below_zero=True)


def read_minutes(text: str) -> str:
    """Minutes; hours and days are turned into them."""
    return read_figure(text, {"min": 1, "minutes": 1, "h": 60, "hours": 60, "d": 1440, "days": 1440}, "30")


def read_name(text: str, known: Sequence[str], what: str, same: Mapping[str, str] = _NO_OTHERS) -> str:
    """One of the `known` names, in lower case; `same` has other names of them. ValueError says what was expected."""
    name = " ".join(text.lower().split())
    name = same.get(name, name)
    if name not in known:
        raise ValueError(f"{what}: {one_of(name, known)}")
    return name
