"""Blade fuses: body, rating in amperes, voltage (ISO 8820-3, road vehicles, fuse-links with tabs).

The colour is no key: red is 10 A in a medium body and 50 A in a maxi one.
"""

import re
from collections.abc import Mapping
from typing import Final

#: Body, and the ratings in amperes it is made with. Sources differ on 35 A in the medium body; it is taken.
RATINGS: Final = {
    "miniature": ("2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30"),
    "medium": ("1", "2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30", "35", "40"),
    "maxi": ("20", "30", "40", "50", "60", "70", "80"),
}

_NUMBER = re.compile(r"(\d+)(\.\d+)?")


def read_body(text: str) -> str:
    """The body in lower case; ValueError for one that isn't known."""
    body = text.strip().lower()
    if body not in RATINGS:
        raise ValueError(f"a body: {', '.join(RATINGS)}")
    return body


def read_number(text: str) -> str:
    """Amperes or volts as a decimal without needless zeros; the unit may be written behind it."""
    bare = re.sub(r"\s*[AV]$", "", text.strip())
    found = _NUMBER.fullmatch(bare)
    if not found or not float(bare):
        raise ValueError("a number more than zero, such as 15 or 7.5")
    return (str(int(found[1])) + (found[2] or "").rstrip("0")).rstrip(".")


def rating_exists(properties: Mapping[str, str]) -> str | None:
    """What rating was expected, if the body isn't made with this one."""
    body, rating = properties.get("body"), properties.get("rating")
    if body is None or rating is None or rating in RATINGS[body]:
        return None
    return f"a rating of a {body} blade fuse: {', '.join(RATINGS[body])} A"
