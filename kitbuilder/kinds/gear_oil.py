"""Gear oil: its viscosity grade by SAE J306 (Automotive Gear Lubricant Viscosity Classification), February 2019.

A W grade has a highest temperature at which the oil may reach 150,000 mPa·s and a least kinematic viscosity at
100 °C; a grade without W has a band of viscosity at 100 °C, its upper end excluded. An oil is named by one W grade
at most, the lowest that it meets. Viscosities are in mm²/s; the standard's are those after shear.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from kitbuilder.kinds.viscosity import Grades, parts

#: W grade: least viscosity at 100 °C.
WINTER: Final = {"70W": Decimal("3.8"), "75W": Decimal("3.8"), "80W": Decimal("8.5"), "85W": Decimal("11.0")}
#: W grade: the highest temperature, in °C, at which 150,000 mPa·s may be reached.
COLDEST: Final = {"70W": -55, "75W": -40, "80W": -26, "85W": -12}

_ENDS: Final = tuple(map(Decimal, ("3.8", "5.0", "6.5", "8.5", "11.0", "13.5", "18.5", "24.0", "32.5", "41.0")))
_NAMES: Final = ("65", "70", "75", "80", "85", "90", "110", "140", "190", "250")
#: Grade without W: least viscosity at 100 °C, and the first that is too high (None: no upper end). The bands join.
SUMMER: Final[dict[str, tuple[Decimal, Decimal | None]]] = {
    name: (least, top) for name, least, top in zip(_NAMES, _ENDS, (*_ENDS[1:], None), strict=True)}

GRADES: Final = Grades("SAE J306", "75W-80", WINTER, SUMMER)


def read_grade(text: str) -> str:
    """The designation in its usual form (`75W-90`), however it is written (see Grades.read)."""
    return GRADES.read(text)


def classify(kv100: Decimal, cold150: Decimal | None = None) -> str:
    """The designation of an oil by its figures, "" where it is thinner than any grade.

    `kv100` is its viscosity at 100 °C; `cold150` the temperature, in °C, at which it reaches 150,000 mPa·s (None: not
    told, then no W grade is given).
    """
    winter = _winter(kv100, cold150)
    return "-".join(name for name in (winter, *GRADES.bands(kv100)) if name)


def _winter(kv100: Decimal, cold150: Decimal | None) -> str:
    """The lowest W grade that is met, "" if none is."""
    if cold150 is None:
        return ""
    return next((name for name, coldest in COLDEST.items() if cold150 <= coldest and kv100 >= WINTER[name]), "")


def contradictions(properties: Mapping[str, str]) -> tuple[str, ...]:
    """What the figures of an oil's data sheet say against the grade it claims, a sentence each."""
    grade = properties.get("grade")
    if grade is None:
        return ()
    winter, _ = parts(grade)
    kv100 = Decimal(properties["kv100"]) if "kv100" in properties else None
    found = list(GRADES.against(grade, kv100)) if kv100 is not None else []
    if not winter or "cold150" not in properties:
        return tuple(found)
    cold150 = Decimal(properties["cold150"])
    if cold150 > COLDEST[winter]:
        found.append(f"Its data sheet has it reach 150,000 mPa·s at {cold150:f} °C already, and {winter} may do so at "
                     f"{COLDEST[winter]} °C at the highest (SAE J306).")
    elif kv100 is not None and not found and (lowest := _winter(kv100, cold150)) != winter:
        found.append(f"By its data sheet ({kv100:f} mm²/s at 100 °C, 150,000 mPa·s at {cold150:f} °C) it meets "
                     f"{lowest}, and only the lowest W grade met may be named (SAE J306): {classify(kv100, cold150)}.")
    return tuple(found)
