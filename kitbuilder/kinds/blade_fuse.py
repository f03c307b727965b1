"""Blade fuses: body, rating in amperes, voltage (ISO 8820-3, road vehicles, fuse-links with tabs).

The colour is no key: red is 10 A in a medium body and 50 A in a maxi one.
"""

import re
from collections.abc import Mapping
from typing import Final

from kitbuilder.errors import one_of

#: Body, and the ratings in amperes it is made with. Sources differ on 35 A in the medium body; it is taken.
RATINGS: Final = {
    "miniature": ("2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30"),
    "medium": ("1", "2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30", "35", "40"),
    "maxi": ("20", "30", "40", "50", "60", "70", "80"),
}

_NUMBER: Final = re.compile(r"([0-9]{1,9})(\.[0-9]{1,9})?\s*([A-Za-z]*)")


def read_body(text: str) -> str:
    """The body in lower case; ValueError for one that isn't known."""
    body = text.strip().lower()
    if body not in RATINGS:
        raise ValueError(f"a body: {one_of(body, list(RATINGS))}")
    return body


def read_rating(text: str) -> str:
    """Amperes as a decimal without needless zeros; `A` may be written behind it."""
    return _read_number(text, "A", "15 or 7.5")


def read_voltage(text: str) -> str:
    """Volts as a decimal without needless zeros; `V` may be written behind it."""
    return _read_number(text, "V", "32")


def _read_number(text: str, unit: str, example: str) -> str:
    found = _NUMBER.fullmatch(text.strip())
    if not found or not float(found[1] + (found[2] or "")) or found[3] not in ("", unit):
        if re.fullmatch(rf"[0-9]+,[0-9]+\s*{unit}?", text.strip()):
            raise ValueError(f"a decimal point: {text.strip().replace(',', '.')}")
        raise ValueError(f"a number of {unit} more than zero, such as {example}")
    return (str(int(found[1])) + (found[2] or "").rstrip("0")).rstrip(".")


def rating_exists(properties: Mapping[str, str]) -> tuple[str, str] | None:
    """The property and what rating was expected, if the body isn't made with this one."""
    body, rating = properties.get("body"), properties.get("rating")
    if body is None or rating is None or rating in RATINGS[body]:
        return None
    return "rating", f"a rating of a {body} blade fuse: {', '.join(RATINGS[body])} A"
