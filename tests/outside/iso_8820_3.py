"""Blade fuses of ISO 8820-3: bodies, ratings, colours, rated voltages.

Sources, and how sure. The standard's own tables were not seen.

- Scope. Seen: the abstract of ISO 8820-3:2015 in a standards catalogue: fuse-links with tabs (blade
  type), type C (medium), type E (high current), type F (miniature); rated voltage 32 V or 58 V; current
  rating up to 100 A; breaking capacity 1,000 A.
- Types against everyday sizes. Seen: the enumeration FuseType of the Vehicle Electric Container, version
  1.2 (prostep ivip): type C regular, type E maxi, type F mini.
- Ratings. Seen: a copy (2007) of the encyclopedia article on automotive fuses, which lists the ratings of
  the three sizes; the colour chart below agrees with all of them.
- Colours. Seen: "How to identify blade fuses" (a farm paper, 30 March 2015), its colour chart; for maxi
  also a car-care page; 1, 2 and 3 A also in a web reference that says regular and mini share one code.
  Names of colours vary (tan or beige, clear or white or natural). From memory: which size the chart's
  single mark at 1 A means.
- 58 V: that such fuses are for dual 12/42 V systems was seen in one summary; which ratings they have was
  not.
"""

from decimal import Decimal

BODIES: dict[str, str] = {"medium": "C", "maxi": "E", "miniature": "F"}
RATED_VOLTAGES: tuple[int, ...] = (32, 58)
LARGEST_RATING: int = 100
BREAKING_CAPACITY: int = 1000

# Amperes to colour; every rating here stands in two sources.
MEDIUM: dict[Decimal, str] = {
    Decimal("1"): "black",
    Decimal("2"): "grey",
    Decimal("3"): "violet",
    Decimal("4"): "pink",
    Decimal("5"): "tan",
    Decimal("7.5"): "brown",
    Decimal("10"): "red",
    Decimal("15"): "blue",
    Decimal("20"): "yellow",
    Decimal("25"): "clear",
    Decimal("30"): "green",
    Decimal("40"): "orange",
}
MAXI: dict[Decimal, str] = {
    Decimal("20"): "yellow",
    Decimal("30"): "green",
    Decimal("40"): "orange",
    Decimal("50"): "red",
    Decimal("60"): "blue",
    Decimal("70"): "tan",  # or brown, or amber
    Decimal("80"): "clear",
}
MINIATURE: dict[Decimal, str] = {
    Decimal("2"): "grey",
    Decimal("3"): "violet",
    Decimal("4"): "pink",
    Decimal("5"): "tan",
    Decimal("7.5"): "brown",
    Decimal("10"): "red",
    Decimal("15"): "blue",
    Decimal("20"): "yellow",
    Decimal("25"): "clear",
    Decimal("30"): "green",
}
RATINGS: dict[str, dict[Decimal, str]] = {"medium": MEDIUM, "maxi": MAXI, "miniature": MINIATURE}

# In one source only, or with colours that differ: neither sure to exist nor sure not to.
UNSURE: tuple[tuple[str, Decimal, str], ...] = (
    ("medium", Decimal("35"), "blue-green in one source, rose in another"),
    ("miniature", Decimal("35"), "blue-green, one source"),
    ("miniature", Decimal("40"), "orange, one source"),
    ("maxi", Decimal("25"), "grey, one source"),
    ("maxi", Decimal("35"), "brown, one source"),
    ("maxi", Decimal("100"), "violet, one source"),
    ("maxi", Decimal("120"), "purple, one source; above what the standard covers"),
)

# A colour is no key: the same colour, another rating.
SAME_COLOUR: tuple[tuple[str, tuple[str, Decimal], tuple[str, Decimal]], ...] = (
    ("red", ("medium", Decimal("10")), ("maxi", Decimal("50"))),
    ("blue", ("medium", Decimal("15")), ("maxi", Decimal("60"))),
    ("tan", ("medium", Decimal("5")), ("maxi", Decimal("70"))),
    ("clear", ("medium", Decimal("25")), ("maxi", Decimal("80"))),
)

#: On which ratings the sources name the colour differently: neither name is held against a fuse.
COLOUR_UNSURE: tuple[tuple[str, Decimal], ...] = (("maxi", Decimal("70")), ("medium", Decimal("35")))
