"""Metric threads by ISO 261 (general plan of ISO metric screw threads): diameter and pitch in millimetres.

`M14` alone means the coarse pitch. Pairs that the plan hasn't are refused: they are far more often a slip of the
pen than a thread, and a tap of the wrong pitch ruins the port it should save.
"""

import re
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

#: Nominal diameter: its coarse pitch, and below its fine ones, the larger first. Some diameters have no coarse pitch.
COARSE: Final = {
    "1": "0.25", "1.2": "0.25", "1.6": "0.35", "2": "0.4", "2.5": "0.45", "3": "0.5", "3.5": "0.6", "4": "0.7",
    "5": "0.8", "6": "1", "7": "1", "8": "1.25", "9": "1.25", "10": "1.5", "11": "1.5", "12": "1.75", "14": "2",
    "16": "2", "18": "2.5", "20": "2.5", "22": "2.5", "24": "3", "27": "3", "30": "3.5", "33": "3.5", "36": "4",
    "39": "4", "42": "4.5", "45": "4.5", "48": "5", "52": "5", "56": "5.5", "60": "5.5", "64": "6",
}
FINE: Final = {
    "1": ("0.2",), "1.2": ("0.2",), "1.6": ("0.2",), "2": ("0.25",), "2.5": ("0.35",), "3": ("0.35",),
    "3.5": ("0.35",), "4": ("0.5",), "5": ("0.5",), "5.5": ("0.5",), "6": ("0.75",), "7": ("0.75",),
    "8": ("1", "0.75"), "9": ("1", "0.75"), "10": ("1.25", "1", "0.75"), "11": ("1", "0.75"),
    "12": ("1.5", "1.25", "1"), "14": ("1.5", "1.25", "1"), "15": ("1.5", "1"), "16": ("1.5", "1"),
    "17": ("1.5", "1"), "18": ("2", "1.5", "1"), "20": ("2", "1.5", "1"), "22": ("2", "1.5", "1"),
    "24": ("2", "1.5", "1"), "25": ("2", "1.5", "1"), "26": ("1.5",), "27": ("2", "1.5", "1"),
    "28": ("2", "1.5", "1"), "30": ("3", "2", "1.5", "1"), "32": ("2", "1.5"), "33": ("3", "2", "1.5"),
    "35": ("1.5",), "36": ("3", "2", "1.5"), "38": ("1.5",), "39": ("3", "2", "1.5"), "40": ("3", "2", "1.5"),
    "42": ("4", "3", "2", "1.5"), "45": ("4", "3", "2", "1.5"), "48": ("4", "3", "2", "1.5"),
    "50": ("3", "2", "1.5"), "52": ("4", "3", "2", "1.5"), "55": ("4", "3", "2", "1.5"),
    "56": ("4", "3", "2", "1.5"), "58": ("4", "3", "2", "1.5"), "60": ("4", "3", "2", "1.5"),
    "62": ("4", "3", "2", "1.5"), "64": ("4", "3", "2", "1.5"), "65": ("4", "3", "2", "1.5"),
}

_NUMBER: Final = r"[0-9]{1,3}(?:[.,][0-9]{1,4})?"
_THREAD: Final = re.compile(rf"M\s*({_NUMBER})(?:\s*[x×*]\s*({_NUMBER}))?(?:[\s-]*(LH))?", re.IGNORECASE)


def read_thread(text: str) -> str:
    """Diameter and pitch in one form (`M14x1.5`; `M14` is `M14x2`), a left-hand thread with `-LH` behind.

    Raises ValueError, whose text says what was expected, for what is no thread of ISO 261.
    """
    found = _THREAD.fullmatch(text.strip())
    if found is None:
        raise ValueError("a metric thread of ISO 261, such as M14x1.5")
    if "," in text:
        raise ValueError(f"a decimal point: {text.strip().replace(',', '.')}")
    diameter, hand = _plain(found[1]), "-LH" if found[3] else ""
    known = pitches(diameter)
    if not known:
        nearest = sorted({*COARSE, *FINE}, key=lambda one: (abs(Decimal(one) - Decimal(diameter)), Decimal(one)))[:2]
        raise ValueError(f"a diameter of ISO 261; next to M{diameter} it has "
                         f"{' and '.join(f'M{one}' for one in sorted(nearest, key=Decimal))}")
    if found[2] is None and diameter not in COARSE:
        raise ValueError(f"a pitch behind it, for M{diameter} has no coarse one in ISO 261: {_offer(diameter, known)}")
    pitch = _plain(found[2]) if found[2] else COARSE[diameter]
    if pitch not in known:
        raise ValueError(f"a pitch that ISO 261 has for M{diameter}: {_offer(diameter, known)}")
    return f"M{diameter}x{pitch}{hand}"


def pitches(diameter: str) -> tuple[str, ...]:
    """The pitches that ISO 261 has for a nominal diameter, coarse first; none for a diameter it hasn't."""
    return (*((COARSE[diameter],) if diameter in COARSE else ()), *FINE.get(diameter, ()))


def diameter_of(thread: str) -> Decimal:
    """The nominal diameter, in millimetres, of a thread in canonical form."""
    return Decimal(thread[1:].partition("x")[0])


def tapping_drill(thread: str) -> tuple[Decimal, Decimal]:
    """Diameter less pitch, in millimetres, and the nearest drill in steps of 0.1 (M12: 10.25, drilled 10.2).

    For information: the rule of the trade (ISO 2306 has the same drills). It takes a thread in canonical form.
    """
    diameter, _, pitch = thread[1:].removesuffix("-LH").partition("x")
    exact = Decimal(diameter) - Decimal(pitch)
    return exact, exact.quantize(Decimal("0.1"), ROUND_HALF_EVEN)


def _plain(number: str) -> str:
    """A decimal without needless zeros."""
    return f"{Decimal(number).normalize():f}"


def _offer(diameter: str, known: tuple[str, ...]) -> str:
    return ", ".join(f"M{diameter}x{pitch}" for pitch in known)
