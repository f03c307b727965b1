"""Grades of viscosity as SAE writes them: a W grade, a grade, or both (`75W-90`); for gear oil and engine oil."""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

import msgspec

#: Case, spaces, hyphens and a leading SAE don't matter; a hyphen with nothing behind it has lost something.
_GRADE: Final = re.compile(r"(?:SAE[\s\-–]*)?(?:([0-9]+)[\s\-–]*W(?:[\s\-–]*([0-9]+))?|([0-9]+))", re.IGNORECASE)


class Grades(msgspec.Struct, frozen=True):
    """A standard's grades by kinematic viscosity at 100 °C, in mm²/s.

    `winter`: the least of each W grade, the coldest first. `summer`: the least of each grade without W, and the first
    that is too high (None: no upper end). `example` is a designation to offer.
    """

    standard: str
    example: str
    winter: Mapping[str, Decimal]
    summer: Mapping[str, tuple[Decimal, Decimal | None]]

    def read(self, text: str) -> str:
        """The designation in its usual form (`75W-90`), however it is written (`sae 75w90`, `75 w 90`).

        Raises ValueError, whose text says what was expected, for what is no grade of the standard and for a
        pair that no oil can meet: the band of the second must reach the least viscosity of the first.
        """
        found = _GRADE.fullmatch(text.strip())
        if found is None:
            raise ValueError(f"a grade of {self.standard}, such as {self.example}")
        winter, summer = f"{found[1]}W" if found[1] else "", found[2] or found[3] or ""
        if winter and winter not in self.winter:
            raise ValueError(f"a W grade of {self.standard}: {', '.join(self.winter)}")
        if summer and summer not in self.summer:
            raise ValueError(f"a grade of {self.standard}: {', '.join(self.summer)}")
        if not winter or not summer:
            return winter or summer
        top = self.summer[summer][1]
        if top is not None and top <= self.winter[winter]:
            raise ValueError(f"a pair that an oil can meet ({winter} is thicker at 100 °C than {summer})")
        return f"{winter}-{summer}"

    def bands(self, kv100: Decimal) -> tuple[str, ...]:
        """The grades without W whose band holds a viscosity at 100 °C (bands are half-open)."""
        return tuple(name for name, (least, top) in self.summer.items()
                     if least <= kv100 and (top is None or kv100 < top))

    def against(self, grade: str, kv100: Decimal) -> tuple[str, ...]:
        """What a viscosity at 100 °C says against a designation: a sentence for each part that it doesn't meet."""
        winter, summer = parts(grade)
        found = []
        if summer and summer not in self.bands(kv100):
            least, top = self.summer[summer]
            band = f"from {least} to below {top}" if top is not None else f"{least} or more"
            found.append(f"Its data sheet gives {kv100:f} mm²/s at 100 °C, and grade {summer} has {band} "
                         f"({self.standard}).")
        if winter and kv100 < self.winter[winter]:
            found.append(f"Its data sheet gives {kv100:f} mm²/s at 100 °C, and {winter} needs {self.winter[winter]} "
                         f"at least ({self.standard}).")
        return tuple(found)


def parts(grade: str) -> tuple[str, str]:
    """The W grade and the grade of a designation in its usual form, each empty where it has none."""
    winter, _, summer = grade.partition("-")
    return (winter, summer) if winter.endswith("W") else ("", winter)

