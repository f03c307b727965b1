"""Hydraulic fluid: its viscosity grade by ISO 3448, the kinematic viscosity at 40 °C in mm²/s, within a tenth."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

GRADES: Final = ("2", "3", "5", "7", "10", "15", "22", "32", "46", "68", "100", "150", "220", "320", "460", "680",
                 "1000", "1500", "2200", "3200")

_GRADE: Final = re.compile(r"(?:ISO[\s\-]*)?(?:VG[\s\-]*)?([0-9]{1,4})", re.IGNORECASE)


def read_grade(text: str) -> str:
    """The viscosity grade (`VG 46`), however it is written (`iso vg46`, `46`); ValueError says what was expected."""
    found = _GRADE.fullmatch(text.strip())
    if found is None or found[1] not in GRADES:
        raise ValueError(f"a viscosity grade of ISO 3448, VG {', '.join(GRADES)}")
    return f"VG {found[1]}"


def contradictions(properties: Mapping[str, str]) -> tuple[str, ...]:
    """Where the viscosity of a fluid's data sheet isn't within a tenth of its grade, in a sentence."""
    if "grade" not in properties or "kv40" not in properties:
        return ()
    middle, kv40 = Decimal(properties["grade"].removeprefix("VG ")), Decimal(properties["kv40"])
    least, most = middle * 9 / 10, middle * 11 / 10
    if least <= kv40 <= most:
        return ()
    return (f"Its data sheet gives {kv40:f} mm²/s at 40 °C, and {properties['grade']} has from "
            f"{least.normalize():f} to {most.normalize():f} (ISO 3448).",)
