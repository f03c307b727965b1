"""Flat sealing rings by DIN 7603 (ring seals for pipe joints and plugs): thread, size d x D x s in mm, material.

The table of sizes is weak: from a secondary copy, M22, M26 and M27 from memory (see tests/outside/din_7603.py). It
names the usual ring; other outer diameters and thicknesses for one thread exist.
"""

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from kitbuilder.kinds.figures import read_name
from kitbuilder.kinds.threads import diameter_of

#: Nominal diameter of the thread: the usual ring, as it is called in the trade.
USUAL: Final = {
    "6": "6x10x1", "8": "8x12x1", "10": "10x14x1", "12": "12x16x1.5", "14": "14x18x1.5", "16": "16x20x1.5",
    "18": "18x22x1.5", "20": "20x24x1.5", "22": "22x27x1.5", "26": "26x31x2", "27": "27x32x2", "30": "30x36x2",
}
#: Materials of DIN 7603's flat rings.
MATERIALS: Final = ("copper", "aluminium", "soft iron", "vulcanised fibre", "stainless steel")
_SAME: Final = {"cu": "copper", "al": "aluminium", "alu": "aluminium", "aluminum": "aluminium", "fe": "soft iron",
                "iron": "soft iron", "vf": "vulcanised fibre", "fibre": "vulcanised fibre", "fiber": "vulcanised fibre"}

_NUMBER: Final = r"([0-9]{1,3}(?:[.,][0-9]{1,2})?)"
_SIZE: Final = re.compile(rf"{_NUMBER}\s*[x×*]\s*{_NUMBER}\s*[x×*]\s*{_NUMBER}(?:\s*mm)?", re.IGNORECASE)


def read_size(text: str) -> str:
    """Inner and outer diameter and thickness in one form: `14x18x1.5`.

    The standard's inner diameter is 0.2 or 0.3 mm above the whole number that a ring is called by; `14.2x18x1.5` is
    that ring, too. Raises ValueError, whose text says what was expected, for anything else than three lengths of
    which the second is more than the first.
    """
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise ValueError("inner and outer diameter and thickness in mm, such as 14x18x1.5")
    if "," in text:
        raise ValueError(f"a decimal point: {text.strip().replace(',', '.')}")
    inner, outer, thickness = (Decimal(number) for number in found.groups())
    if inner % 1 in (Decimal("0.2"), Decimal("0.3")):
        inner -= inner % 1
    if not 0 < inner < outer or not thickness:
        raise ValueError("an inner diameter less than the outer one, and a thickness, such as 14x18x1.5")
    return "x".join(f"{number.normalize():f}" for number in (inner, outer, thickness))


def read_material(text: str) -> str:
    """The material by one name; ValueError for one that DIN 7603's flat rings aren't made of."""
    return read_name(text, MATERIALS, "a material of a sealing ring", _SAME)


def usual_ring(thread: str) -> str | None:
    """The size of the usual ring for a thread in canonical form, None where the table has none."""
    return USUAL.get(f"{diameter_of(thread):f}")


def contradictions(properties: Mapping[str, str]) -> tuple[str, ...]:
    """Where a ring's size doesn't suit the thread it is said to be for, in a sentence."""
    thread, size = properties.get("thread"), properties.get("size")
    if thread is None or size is None:
        return ()
    diameter, inner = diameter_of(thread), Decimal(size.partition("x")[0])
    if diameter <= inner < diameter + 1:
        return ()
    fault = "doesn't pass over that thread" if inner < diameter else "is too wide for that thread"
    usual = usual_ring(thread)
    advice = f"; the usual ring is {usual} (DIN 7603)" if usual else ""
    return (f"It is said to be for {thread}, and its hole of {inner:f} mm {fault}{advice}.",)
