"""Blade fuses: body, rating in amperes, voltage, colour (ISO 8820-3, road vehicles, fuse-links with tabs).

The colour is no key: red is 10 A in a medium body and 50 A in a maxi one. So no requirement asks for it; what an
item says of it is only held against its body and rating.
"""

from collections.abc import Mapping
from typing import Final

from kitbuilder.kinds.figures import read_figure, read_name

#: Body, and the ratings in amperes it is made with. Sources differ on 35 A in the medium body; it is taken.
RATINGS: Final = {
    "miniature": ("2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30"),
    "medium": ("1", "2", "3", "4", "5", "7.5", "10", "15", "20", "25", "30", "35", "40"),
    "maxi": ("20", "30", "40", "50", "60", "70", "80"),
}
_SMALL: Final = {"2": "grey", "3": "violet", "4": "pink", "5": "tan", "7.5": "brown", "10": "red", "15": "blue",
                 "20": "yellow", "25": "clear", "30": "green"}
#: Body, and the colour of a rating, where sources agree.
COLOURS: Final[Mapping[str, Mapping[str, str]]] = {
    "miniature": _SMALL,
    "medium": {"1": "black", **_SMALL, "40": "orange"},
    "maxi": {"20": "yellow", "30": "green", "40": "orange", "50": "red", "60": "blue", "80": "clear"},
}
#: Other names of one colour.
_SAME: Final = {"gray": "grey", "purple": "violet", "beige": "tan", "light brown": "tan", "white": "clear",
                "natural": "clear", "transparent": "clear", "colourless": "clear"}
_NAMES: Final = ("black", "grey", "violet", "pink", "tan", "brown", "red", "blue", "yellow", "clear", "green", "orange")


def read_body(text: str) -> str:
    """The body in lower case; ValueError for one that isn't known."""
    return read_name(text, list(RATINGS), "a body")


def read_rating(text: str) -> str:
    """Amperes as a decimal without needless zeros; `A` may be written behind it."""
    return read_figure(text, {"A": 1}, "15 or 7.5")


def read_voltage(text: str) -> str:
    """Volts as a decimal without needless zeros; `V` may be written behind it."""
    return read_figure(text, {"V": 1}, "32")


def read_colour(text: str) -> str:
    """The colour by one name (`gray` is `grey`, `beige` is `tan`); ValueError for one that no fuse has."""
    return read_name(text, _NAMES, "a colour of a blade fuse", _SAME)


def rating_exists(properties: Mapping[str, str]) -> tuple[str, str] | None:
    """The property and what rating was expected, if the body isn't made with this one."""
    body, rating = properties.get("body"), properties.get("rating")
    if body is None or rating is None or rating in RATINGS[body]:
        return None
    return "rating", f"a rating of a {body} blade fuse: {', '.join(RATINGS[body])} A"


def contradictions(properties: Mapping[str, str]) -> tuple[str, ...]:
    """Where a fuse's colour isn't that of its body and rating, in a sentence."""
    body, rating, colour = (properties.get(name) for name in ("body", "rating", "colour"))
    if body is None or rating is None or colour is None:
        return ()
    right = COLOURS[body].get(rating)
    if right is None or right == colour:
        return ()
    others = " and ".join(f"{other} A" for other, its in COLOURS[body].items() if its == colour)
    meant = f"; {colour} is {others}" if others else ""
    return (f"It is said to be {colour}, and a {body} blade fuse of {rating} A is {right}{meant} (ISO 8820-3).",)
