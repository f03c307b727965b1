"""Gear oil: its viscosity grade by SAE J306 (Automotive Gear Lubricant Viscosity Classification).

Limits of kinematic viscosity at 100 °C, in mm²/s, as in the edition of February 2019: a W grade has a
least, a grade without W a band (the upper end excluded).
"""

import re
from typing import Final

#: W grade: least viscosity at 100 °C after shear.
WINTER: Final = {"70W": 3.8, "75W": 3.8, "80W": 8.5, "85W": 11.0}
#: Grade without W: least viscosity at 100 °C, and the first that is too high (None: no upper end).
SUMMER: Final[dict[str, tuple[float, float | None]]] = {
    "65": (3.8, 5.0),
    "70": (5.0, 6.5),
    "75": (6.5, 8.5),
    "80": (8.5, 11.0),
    "85": (11.0, 13.5),
    "90": (13.5, 18.5),
    "110": (18.5, 24.0),
    "140": (24.0, 32.5),
    "190": (32.5, 41.0),
    "250": (41.0, None),
}

#: Case, spaces, hyphens and a leading SAE don't matter; a hyphen with nothing behind it has lost something.
_GRADE: Final = re.compile(r"(?:SAE[\s\-–]*)?(?:([0-9]+)[\s\-–]*W(?:[\s\-–]*([0-9]+))?|([0-9]+))", re.IGNORECASE)


def read_grade(text: str) -> str:
    """The designation in its usual form (`75W-90`), however it is written (`sae 75w90`, `75 w 90`).

    Raises ValueError, whose text says what was expected, for what is no grade of the standard and for a
    pair that no oil can meet: the band of the second must reach the least viscosity of the first.
    """
    found = _GRADE.fullmatch(text.strip())
    if found is None:
        raise ValueError("a grade of SAE J306, such as 75W-80")
    winter, summer = f"{found[1]}W" if found[1] else "", found[2] or found[3] or ""
    if winter and winter not in WINTER:
        raise ValueError(f"a W grade of SAE J306: {', '.join(WINTER)}")
    if summer and summer not in SUMMER:
        raise ValueError(f"a grade of SAE J306: {', '.join(SUMMER)}")
    if not winter or not summer:
        return winter or summer
    top = SUMMER[summer][1]
    if top is not None and top <= WINTER[winter]:
        raise ValueError(f"a pair that an oil can meet ({winter} is thicker at 100 °C than {summer})")
    return f"{winter}-{summer}"
