"""Viscosity grades of ISO 3448 (industrial liquid lubricants): kinematic viscosity at 40 °C, mm²/s.

Sources: a page that describes the standard and two copies of its table (secondary; they agree): the number is the
middle, the limits are a tenth below and above. LIMITS holds the grades with limits in the copies; a page names VG 2 and
10, too. The rest of FROM_MEMORY is from memory (the edition of 1992 has 20 grades: one page says 18, up to 1500).
"""

from decimal import Decimal

LIMITS: dict[str, tuple[Decimal, Decimal]] = {
    name: (Decimal(least), Decimal(most)) for name, least, most in (
        ("VG 22", "19.8", "24.2"), ("VG 32", "28.8", "35.2"), ("VG 46", "41.4", "50.6"), ("VG 68", "61.2", "74.8"),
        ("VG 100", "90", "110"), ("VG 150", "135", "165"), ("VG 220", "198", "242"), ("VG 320", "288", "352"),
        ("VG 460", "414", "506"), ("VG 680", "612", "748"), ("VG 1000", "900", "1100"), ("VG 1500", "1350", "1650"))
}
FROM_MEMORY: tuple[str, ...] = ("2", "3", "5", "7", "10", "15", "2200", "3200")
SPELLINGS: tuple[tuple[str, str], ...] = (
    ("VG 46", "VG 46"), ("ISO VG 46", "VG 46"), ("iso vg46", "VG 46"), ("ISO-VG-46", "VG 46"), ("46", "VG 46"))
NO_SUCH_GRADE: tuple[str, ...] = ("VG 45", "VG 40", "HLP", "", "VG", "046")
