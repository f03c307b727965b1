"""Engine oil: its viscosity grade by SAE J300 (Engine Oil Viscosity Classification), January 2015.

A W grade has cold limits of cranking and pumping, which a catalogue doesn't hold, and a least kinematic viscosity at
100 °C; a grade without W has a band of it, the upper end excluded. The bands of 8 to 20 overlap: the standard parts
them by their viscosity under shear at 150 °C. Viscosities are in mm²/s.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from kitbuilder.kinds.viscosity import Grades

WINTER: Final = {name: Decimal(least) for name, least in (
    ("0W", "3.8"), ("5W", "3.8"), ("10W", "4.1"), ("15W", "5.6"), ("20W", "5.6"), ("25W", "9.3"))}
SUMMER: Final[dict[str, tuple[Decimal, Decimal | None]]] = {
    name: (Decimal(least), Decimal(top)) for name, least, top in (
    ("8", "4.0", "6.1"), ("12", "5.0", "7.1"), ("16", "6.1", "8.2"), ("20", "6.9", "9.3"), ("30", "9.3", "12.5"),
    ("40", "12.5", "16.3"), ("50", "16.3", "21.9"), ("60", "21.9", "26.1"))}

GRADES: Final = Grades("SAE J300", "15W-40", WINTER, SUMMER)


def read_grade(text: str) -> str:
    """The designation in its usual form (`15W-40`), however it is written (see Grades.read)."""
    return GRADES.read(text)


def contradictions(properties: Mapping[str, str]) -> tuple[str, ...]:
    """What the viscosity of an oil's data sheet says against the grade it claims, a sentence each."""
    if "grade" not in properties or "kv100" not in properties:
        return ()
    return GRADES.against(properties["grade"], Decimal(properties["kv100"]))
