"""Brake and clutch fluids: grade by FMVSS 116 (49 CFR 571.116), class by ISO 4925, least boiling points in °C.

Three kinds, never one for another: glycol (DOT 3, 4, 5.1; all classes of ISO 4925), silicone (DOT 5: 70 % or more of
it is a siloxane), mineral oil (no grade; it swells the rubber of the other systems). Whatever boils higher doesn't
change that. A grade asked for must be equal; where a higher one will do, a requirement asks for boiling points, and
what counts then is the item's data sheet.
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from kitbuilder.kinds.figures import read_figure

#: Grade of FMVSS 116: least boiling point dry (S5.1.1) and wet (S5.1.2), in °C.
GLYCOL_GRADES: Final = {"DOT 3": (205, 140), "DOT 4": (230, 155), "DOT 5.1": (260, 180)}
SILICONE_GRADES: Final = {"DOT 5": (260, 180)}
#: Class of ISO 4925 (2020): the same.
CLASSES: Final = {"3": (205, 140), "4": (230, 155), "5-1": (260, 180), "6": (250, 165), "7": (260, 180)}

_GRADE: Final = re.compile(r"(?:FMVSS\s*116[\s,]*)?DOT[\s\-]*([0-9](?:[.\-][0-9])?)(.*)", re.IGNORECASE)
_CLASS: Final = re.compile(r"(?:ISO\s*4925[\s,]*)?(?:class)?[\s\-]*([0-9](?:[.\-][0-9])?)", re.IGNORECASE)


def read_glycol_grade(text: str) -> str:
    """The grade (`DOT 5.1`), however it is written; ValueError says what was expected, DOT 5 being silicone."""
    return _read_grade(text, GLYCOL_GRADES, "glycol", SILICONE_GRADES, "silicone")


def read_silicone_grade(text: str) -> str:
    """The grade `DOT 5`, however it is written; ValueError says what was expected, all others being glycol."""
    return _read_grade(text, SILICONE_GRADES, "silicone", GLYCOL_GRADES, "glycol")


def read_boiling_point(text: str) -> str:
    """Degrees Celsius as a decimal without needless zeros; `°C` may be written behind it."""
    return read_figure(text, {"°C": 1, "C": 1}, "230")


def read_class(text: str) -> str:
    """The class of ISO 4925 (`5-1`), however it is written (`ISO 4925 class 5.1`)."""
    found = _CLASS.fullmatch(text.strip())
    name = found[1].replace(".", "-") if found else ""
    if name not in CLASSES:
        raise ValueError(f"a class of ISO 4925: {', '.join(CLASSES)}")
    return name


def _read_grade(text: str, own: Mapping[str, object], kind: str, others: Mapping[str, object], other: str) -> str:
    found = _GRADE.fullmatch(text.strip())
    name = f"DOT {found[1].replace('-', '.')}" if found else ""
    if name in others:
        raise ValueError(f"a grade of {kind} brake fluid: {', '.join(own)} ({name} is a grade of {other} brake fluid, "
                         "another kind)")
    if name not in own:
        raise ValueError(f"a grade of {kind} brake fluid (FMVSS 116): {', '.join(own)}")
    if found and found[2].strip():
        raise ValueError(f"{name} alone: {found[2].strip()} is no grade of FMVSS 116 (a class of ISO 4925, boiling "
                         "points or a specification tell what is better)")
    return name


def contradictions(properties: Mapping[str, str]) -> tuple[str, ...]:
    """Where a fluid's boiling points are below the least of its grade or class, a sentence each."""
    found = []
    for standard, name, least in _claims(properties):
        for column, state, celsius in zip(("boiling-dry", "boiling-wet"), ("dry", "wet"), least, strict=True):
            if column in properties and Decimal(properties[column]) < celsius:
                found.append(f"Its data sheet has it boil at {properties[column]} °C {state}, and {name} needs "
                             f"{celsius} °C at least ({standard}).")
    if Decimal(properties.get("boiling-wet", 0)) > Decimal(properties.get("boiling-dry", "Infinity")):
        found.append(f"Its data sheet has it boil higher wet ({properties['boiling-wet']} °C) than dry "
                     f"({properties['boiling-dry']} °C): the two may be exchanged.")
    return tuple(found)


def _claims(properties: Mapping[str, str]) -> list[tuple[str, str, tuple[int, int]]]:
    """What a fluid claims to be: the standard, the name, its least boiling points."""
    found = []
    if (grade := properties.get("grade")) is not None:
        found.append(("FMVSS 116", grade, {**GLYCOL_GRADES, **SILICONE_GRADES}[grade]))
    if (name := properties.get("class")) is not None:
        found.append(("ISO 4925", f"class {name}", CLASSES[name]))
    return found
