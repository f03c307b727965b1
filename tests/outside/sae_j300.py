"""SAE J300, viscosity grades of engine oils: kinematic viscosity at 100 °C, mm²/s.

Sources, and how sure. The standard itself was not seen.

- Edition of 20 January 2015. Seen: a table headed "Engine Oils – SAE J300 (2015-01-20)" (a car site) and the W half
  of it at an oil seller ("revised January 2015"); they agree. A third page that describes the edition of 2021 names
  the same 14 grades.
- Editions of 1999 and an undated one of a vehicle maker's literature: the same figures for 0W to 25W and 30 to 60; 20
  began at 5.6 then, before 8, 12 and 16 came.
- Bands are half-open ("<9.3"). Seen: both the table of 2015 and that of 1999.
"""

from decimal import Decimal

W_GRADES: dict[str, Decimal] = {
    "0W": Decimal("3.8"), "5W": Decimal("3.8"), "10W": Decimal("4.1"), "15W": Decimal("5.6"), "20W": Decimal("5.6"),
    "25W": Decimal("9.3"),
}
GRADES: dict[str, tuple[Decimal, Decimal]] = {
    "8": (Decimal("4.0"), Decimal("6.1")), "12": (Decimal("5.0"), Decimal("7.1")),
    "16": (Decimal("6.1"), Decimal("8.2")), "20": (Decimal("6.9"), Decimal("9.3")),
    "30": (Decimal("9.3"), Decimal("12.5")), "40": (Decimal("12.5"), Decimal("16.3")),
    "50": (Decimal("16.3"), Decimal("21.9")), "60": (Decimal("21.9"), Decimal("26.1")),
}
#: Named in the sources as grades in use.
IN_USE: tuple[str, ...] = ("0W-30", "5W-30", "10W-30", "15W-40", "0W-40", "5W-40", "10W-40", "20W-40", "25W-40", "30",
                          "40")
#: Grades of gear oil (SAE J306), or of nothing.
NO_SUCH_GRADE: tuple[str, ...] = ("75W-90", "80W-90", "90", "15W-45", "40W", "15W-", "")
SPELLINGS: tuple[tuple[str, str], ...] = (
    ("15W40", "15W-40"), ("sae 15w-40", "15W-40"), ("10 w 40", "10W-40"), ("SAE30", "30"), ("5w–30", "5W-30"))
