"""Three published decision tables with the gaps and overlaps that a general engine's tests expect of them.

Source, seen: apache/incubator-kie-drools, module kie-dmn/kie-dmn-validation, package
org.kie.dmn.validation.dtanalysis; domains and rules read in the test resources, gaps and overlaps in the
tests:

- BOUNDED: GapsAndOverlaps1-domainOnTable.dmn, GapsAndOverlaps1domainOnTableTest (x >= 0, y in [0..999));
- UNBOUNDED: GapsAndOverlaps1.dmn, GapsAndOverlaps1Test (the same four rules, no domain);
- SIGNS: GapsXY.dmn, GapsXYTest (no domain).

Only figures are taken over. There, an infinite end is written as closed; here it is None and open. Where
the tests give an interval for x alone, y is any: written out here as the whole domain. The hit policies
("first", "any") have no bearing on gaps and overlaps.

An interval is (bracket, low, high, bracket), "[" and "]" closed, "(" and ")" open, None infinite. A box
is one interval a fact, x first. The published numbers are continuous; over whole numbers `points` stands
in for them: the number k is the even 2k, all that lies between k and k+1 is the odd 2k+1. No end of these
tables is a fraction, so nothing is lost. Infinity is cut off at CUT: None is -CUT or CUT, and closed
there.
"""

from typing import Literal, NamedTuple

Interval = tuple[Literal["[", "("], int | None, int | None, Literal["]", ")"]]
Box = tuple[Interval, Interval]

CUT: int = 20  # beyond every finite end but y's 999, which is an end itself


def points(interval: Interval, cut: int = CUT) -> tuple[int, int]:
    """The first and the last whole number that stand for the interval, both inclusive.

    The closed [1, 3] is 2 to 6, the open (1, 3) is 3 to 5.
    """
    left, low, high, right = interval
    first = -2 * cut if low is None else 2 * low + (left == "(")
    last = 2 * cut if high is None else 2 * high - (right == ")")
    return first, last


class Overlap(NamedTuple):
    rules: tuple[str, ...]
    box: Box


class Table(NamedTuple):
    name: str
    domain: Box
    rules: dict[str, Box]
    overlaps: tuple[Overlap, ...]
    gaps: tuple[Box, ...]


ANY: Interval = ("(", None, None, ")")
_Y: Interval = ("[", 0, 999, ")")

_RULES: dict[str, Box] = {
    "R1": (("[", 0, 4, "]"), ("[", 0, 2, "]")),
    "R2": (("[", 1, 3, "]"), ("[", 5, 6, "]")),
    "R3": (("[", 2, 5, "]"), ("[", 1, 4, "]")),
    "R4": (("[", 6, 7, "]"), ("[", 0, 3, "]")),
}
_OVERLAPS: tuple[Overlap, ...] = (Overlap(("R1", "R3"), (("[", 2, 4, "]"), ("[", 1, 2, "]"))),)

BOUNDED: Table = Table(
    name="GapsAndOverlaps1-domainOnTable",
    domain=(("[", 0, None, ")"), _Y),
    rules=_RULES,
    overlaps=_OVERLAPS,
    gaps=(
        (("[", 0, 1, ")"), ("(", 2, 999, ")")),
        (("[", 1, 2, ")"), ("(", 2, 5, ")")),
        (("[", 1, 2, ")"), ("(", 6, 999, ")")),
        (("[", 2, 3, "]"), ("(", 4, 5, ")")),
        (("[", 2, 3, "]"), ("(", 6, 999, ")")),
        (("(", 3, 4, "]"), ("(", 4, 999, ")")),
        (("(", 4, 5, "]"), ("[", 0, 1, ")")),
        (("(", 4, 5, "]"), ("(", 4, 999, ")")),
        (("(", 5, 6, ")"), _Y),
        (("[", 6, 7, "]"), ("(", 3, 999, ")")),
        (("(", 7, None, ")"), _Y),
    ),
)

UNBOUNDED: Table = Table(
    name="GapsAndOverlaps1",
    domain=(ANY, ANY),
    rules=_RULES,
    overlaps=_OVERLAPS,
    gaps=(
        (("(", None, 0, ")"), ANY),
        (("[", 0, 1, ")"), ("(", None, 0, ")")),
        (("[", 0, 1, ")"), ("(", 2, None, ")")),
        (("[", 1, 2, ")"), ("(", None, 0, ")")),
        (("[", 1, 2, ")"), ("(", 2, 5, ")")),
        (("[", 1, 2, ")"), ("(", 6, None, ")")),
        (("[", 2, 3, "]"), ("(", None, 0, ")")),
        (("[", 2, 3, "]"), ("(", 4, 5, ")")),
        (("[", 2, 3, "]"), ("(", 6, None, ")")),
        (("(", 3, 4, "]"), ("(", None, 0, ")")),
        (("(", 3, 4, "]"), ("(", 4, None, ")")),
        (("(", 4, 5, "]"), ("(", None, 1, ")")),
        (("(", 4, 5, "]"), ("(", 4, None, ")")),
        (("(", 5, 6, ")"), ANY),
        (("[", 6, 7, "]"), ("(", None, 0, ")")),
        (("[", 6, 7, "]"), ("(", 3, None, ")")),
        (("(", 7, None, ")"), ANY),
    ),
)

SIGNS: Table = Table(
    name="GapsXY",
    domain=(ANY, ANY),
    rules={
        "R1": (("(", None, 0, ")"), ("(", None, 0, "]")),
        "R2": (("[", 0, 0, "]"), ("(", None, 0, ")")),
        "R3": (("(", 0, None, ")"), ("[", 0, None, ")")),
    },
    overlaps=(),
    gaps=(
        (("(", None, 0, ")"), ("(", 0, None, ")")),
        (("[", 0, 0, "]"), ("[", 0, None, ")")),
        (("(", 0, None, ")"), ("(", None, 0, ")")),
    ),
)

TABLES: tuple[Table, ...] = (BOUNDED, UNBOUNDED, SIGNS)
