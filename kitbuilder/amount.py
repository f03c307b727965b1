"""Exact amounts with units, and money in minor units.

An amount is held as a whole number of thousandths of its unit (milli-units): 0.5 L is 500.
"""

import re
from typing import Final

#: Measured units: their quantity, and how many of the quantity's smallest unit one of them is.
MEASURED: Final[dict[str, tuple[str, int]]] = {
    "L": ("volume", 1000),
    "mL": ("volume", 1),
    "kg": ("mass", 1000),
    "g": ("mass", 1),
    "m": ("length", 1000),
    "mm": ("length", 1),
}
#: Counted units: whole amounts, never converted; each is a quantity of its own.
COUNTED: Final = ("each", "set", "pair")
UNITS: Final = (*COUNTED, *MEASURED)

#: Digits beyond these are no amount; kept so, milli-units are whole machine numbers in files and databases.
_DECIMAL: Final = re.compile(r"[0-9]{1,12}(\.[0-9]{1,18})?")


def quantity(unit: str) -> str:
    """What a unit measures: `volume`, `mass`, `length`, or the counted unit itself."""
    return MEASURED[unit][0] if unit in MEASURED else unit


def parse(text: str, unit: str, shown_in: str) -> int:
    """Milli-units of `shown_in` for a decimal written in `unit`, rounded up to one milli-unit.

    Raises ValueError, whose text says what was expected, for anything but a decimal above zero, a
    fraction of a counted unit, or units of different quantities.
    """
    if not _DECIMAL.fullmatch(text):
        _refuse_comma(text)
        raise ValueError("a decimal more than zero, such as 1 or 0.5")
    if quantity(unit) != quantity(shown_in):
        raise ValueError(f"a unit that converts to {shown_in}")
    whole, _, fraction = text.partition(".")
    digits, places = int(whole + fraction), int(10 ** len(fraction))
    if digits == 0:
        raise ValueError("a decimal more than zero, such as 1 or 0.5")
    if unit in COUNTED:
        if digits % places:
            raise ValueError(f"a whole number of {unit}")
        return digits // places * 1000
    above, below = MEASURED[unit][1] * 1000 * digits, MEASURED[shown_in][1] * places
    return -(-above // below)


def _refuse_comma(text: str) -> None:
    """Raise ValueError with the decimal point offered, if a comma is all that is wrong."""
    pointed = text.replace(",", ".")
    if pointed != text and _DECIMAL.fullmatch(pointed):
        raise ValueError(f"a decimal point: {pointed}")


def convert(milli: int, unit: str, shown_in: str) -> int:
    """Milli-units of one unit in another of the same quantity, rounded down: what is to hand is never made more."""
    if unit == shown_in:
        return milli
    return milli * MEASURED[unit][1] // MEASURED[shown_in][1]


def show(milli: int) -> str:
    """A number of thousandths as a decimal without exponent or needless zeros: 500 is `0.5`."""
    sign = "-" if milli < 0 else ""
    whole, rest = divmod(abs(milli), 1000)
    return f"{sign}{whole}.{rest:03d}".rstrip("0").rstrip(".") if rest else f"{sign}{whole}"


#: Decimal places of the minor unit, where it isn't two (ISO 4217).
_PLACES: Final[dict[str, int]] = {"JPY": 0, "KRW": 0, "ISK": 0, "HUF": 2, "BHD": 3, "KWD": 3, "TND": 3}


def minor_places(currency: str) -> int:
    """How many decimal places the minor unit of an ISO 4217 currency has."""
    return _PLACES.get(currency, 2)


def parse_money(text: str, currency: str) -> int:
    """Minor units of `currency` for a decimal of zero or more; ValueError says what was expected."""
    places = minor_places(currency)
    if not _DECIMAL.fullmatch(text):
        _refuse_comma(text)
        raise ValueError("a price as a decimal, such as 4.20")
    whole, _, fraction = text.partition(".")
    if len(fraction.rstrip("0")) > places:
        raise ValueError(f"a price with at most {places} decimal places in {currency}")
    return int(whole) * int(10**places) + int(fraction[:places].ljust(places, "0") or "0")


def show_money(minor: int, currency: str) -> str:
    """Minor units as a decimal with all places of the currency: 420 EUR is `4.20`."""
    places = minor_places(currency)
    if not places:
        return str(minor)
    whole, rest = divmod(abs(minor), 10**places)
    return f"{'-' if minor < 0 else ''}{whole}.{rest:0{places}d}"
