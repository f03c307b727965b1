"""SAE J306, viscosity grades of automotive gear lubricants: the limits, and which designations can exist.

Sources, and how sure. The standard itself was not seen.

- Limits of the edition of February 2019. Seen: two copies that agree in every figure, "Automotive gear
  lubricant viscosity classifications SAE J306, Effective February 2019" (a lubricant seller's reference
  charts) and "Gear Oil Classification Systems" (a lubricant maker's handbook).
- Bands are half-open, "<18.5" and then 18.5. Seen: both copies.
- What can exist follows from the limits alone (own working): a designation "xW-y" needs one viscosity at
  100 °C that is at least the W grade's minimum and within the other grade's band, so it can exist if and
  only if the band ends above that minimum. Whether anyone makes it is another matter.
- A designation names one W grade, the lowest met, and one other grade: from memory (a page on J300 says the same of
  engine oil: the grade is that of the coldest temperature at which the oil passes).
- A second laboratory's table of the W grades' temperatures (from the summary of 2025) agrees with the copies.
- Older limits. Seen: the abstract of the edition of June 2005 (110 and 190 were added; before, 19.5 was
  SAE 90 and SAE 140 reached to 41.0), and a lubricant maker's page with the table of before, which also
  has 4.1 as the minimum of 70W and 75W and 7.0 of 80W.
- A revision of 2025 adds W grades 62W to 65W and lower grades. Seen: a laboratory's summary; the limits
  were not.
"""

from decimal import Decimal
from typing import NamedTuple


class WGrade(NamedTuple):
    name: str
    celsius: int  # highest temperature for 150,000 mPa s
    at_least: Decimal  # mm²/s at 100 °C


class Grade(NamedTuple):
    name: str
    at_least: Decimal  # mm²/s at 100 °C
    below: Decimal | None


W_GRADES: tuple[WGrade, ...] = (
    WGrade("70W", -55, Decimal("3.8")),
    WGrade("75W", -40, Decimal("3.8")),
    WGrade("80W", -26, Decimal("8.5")),
    WGrade("85W", -12, Decimal("11.0")),
)

GRADES: tuple[Grade, ...] = (
    Grade("65", Decimal("3.8"), Decimal("5.0")),
    Grade("70", Decimal("5.0"), Decimal("6.5")),
    Grade("75", Decimal("6.5"), Decimal("8.5")),
    Grade("80", Decimal("8.5"), Decimal("11.0")),
    Grade("85", Decimal("11.0"), Decimal("13.5")),
    Grade("90", Decimal("13.5"), Decimal("18.5")),
    Grade("110", Decimal("18.5"), Decimal("24.0")),
    Grade("140", Decimal("24.0"), Decimal("32.5")),
    Grade("190", Decimal("32.5"), Decimal("41.0")),
    Grade("250", Decimal("41.0"), None),
)

# All 40 pairs, by the limits above.
CAN_EXIST: tuple[str, ...] = (
    *("70W-65", "70W-70", "70W-75", "70W-80", "70W-85", "70W-90", "70W-110", "70W-140", "70W-190", "70W-250"),
    *("75W-65", "75W-70", "75W-75", "75W-80", "75W-85", "75W-90", "75W-110", "75W-140", "75W-190", "75W-250"),
    *("80W-80", "80W-85", "80W-90", "80W-110", "80W-140", "80W-190", "80W-250"),
    *("85W-85", "85W-90", "85W-110", "85W-140", "85W-190", "85W-250"),
)
CANNOT_EXIST: tuple[str, ...] = ("80W-65", "80W-70", "80W-75", "85W-65", "85W-70", "85W-75", "85W-80")

# No such grade in J306: engine oil grades (SAE J300), a W grade in the second place, or made up.
NO_SUCH_GRADE: tuple[str, ...] = ("5W-30", "15W-40", "90W", "75-90", "75W-100", "75W-80W", "90-75W", "75W-")

# Designations met in the world. All can exist.
SEEN_IN_USE: tuple[tuple[str, str], ...] = (
    ("75W-80", "a list of grades in a public source file"),
    ("75W-85", "a list of grades in a public source file"),
    ("75W-90", "the handbook: today's most commonly used"),
    ("75W-140", "a list of grades in a public source file"),
    ("80W-90", "the handbook: today's most commonly used"),
    ("80W-140", "the title of a lubricant maker's page"),
    ("85W-140", "the handbook: today's most commonly used"),
)
IN_USE_FROM_MEMORY: tuple[str, ...] = ("75W-110", "85W-90")

# The same grade, however written ("75W90" seen as a title; the others from memory).
SPELLINGS: tuple[tuple[str, str], ...] = (
    ("75W-90", "75W-90"),
    ("75W90", "75W-90"),
    ("75w90", "75W-90"),
    ("75w-90", "75W-90"),
    ("75 w 90", "75W-90"),
    ("75W 90", "75W-90"),
    ("SAE 75W-90", "75W-90"),
    ("sae75w90", "75W-90"),
    ("80W140", "80W-140"),
    ("SAE 90", "90"),
    ("sae 80w", "80W"),
)

# Before 2005: grade, at least, below. "90" and "140" of then are wider than today's.
OLDER_GRADES: tuple[Grade, ...] = (
    Grade("90", Decimal("13.5"), Decimal("24.0")),
    Grade("140", Decimal("24.0"), Decimal("41.0")),
)

# Viscosity at 100 °C, temperature at which 150,000 mPa s is reached (None: not measured), designation. Own working
# by the limits above.
CLASSIFIED: tuple[tuple[str, str | None, str], ...] = (
    ("14.5", "-42", "75W-90"),
    ("14.5", "-40", "75W-90"),
    ("14.5", "-39.9", "80W-90"),
    ("14.5", "-60", "70W-90"),
    ("14.5", "-12", "85W-90"),
    ("14.5", "-11", "90"),
    ("14.5", None, "90"),
    ("13.4", "-30", "80W-85"),
    ("13.5", "-30", "80W-90"),
    ("18.5", "-45", "75W-110"),
    ("10.9", "-20", "80"),  # too thin for 85W, too stiff in the cold for 80W
    ("8.0", "-30", "75"),  # too thin for 80W, too stiff in the cold for 75W
    ("8.0", "-41", "75W-75"),
    ("50", "-26", "80W-250"),
    ("3.8", "-55", "70W-65"),
    ("3.7", "-55", ""),
)
