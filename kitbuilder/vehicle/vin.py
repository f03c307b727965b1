"""Vehicle identification numbers: their form, the check digit, and what a catalogue's patterns say of one.

ISO 3779: seventeen places, capital letters without I, O and Q, and digits. Places 1 to 3 name the maker (ISO 3780),
4 to 9 describe the vehicle, 10 to 17 tell it from others. What the places mean is the maker's own business, so it
stands in the catalogue's vin.csv and nowhere here. The VIN says how a vehicle was built: statements from it rank as
those of a register, below what is seen and what is told.

The library vininfo judges this module in the tests. It isn't used here: it tells that a VIN is wrong and not where, a
table of makers decides whether it looks at the check digit, and parts of it read the clock.
"""

from collections.abc import Sequence
from typing import Final

import msgspec

from kitbuilder.errors import WrongUse
from kitbuilder.model.catalogue import Condition
from kitbuilder.vehicle.pattern import PatternFault, Place, bare, read_pattern
from kitbuilder.vehicle.statements import REGISTER, Statement
from kitbuilder.vehicle.values import Values

LENGTH: Final = 17
#: In the order of a VIN's witness: digits first, as most makers' places have them.
LETTERS: Final = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
#: How many of the last places a serial has that the column `serial` speaks of.
SERIAL: Final = 6

# 49 CFR 565.15(c)(4), tables III and IV
_VALUES: Final = {char: int(char) for char in "0123456789"} | {
    char: value for letters, first in (("ABCDEFGH", 1), ("JKLMN", 1), ("P", 7), ("R", 9), ("STUVWXYZ", 2))
    for value, char in enumerate(letters, first)}
_WEIGHTS: Final = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
#: First places of makers in North America (ISO 3780), where place 9 has to be a check digit; elsewhere it is not.
_NORTH_AMERICA: Final = "12345"
_MISTAKEN: Final = {"I": "1", "O": "0", "Q": "0"}


class VinPattern(msgspec.Struct, frozen=True, omit_defaults=True):
    """A row of vin.csv: VINs of a pattern, of some serials only (their last six places as a number), and the facts
    that they have, as cells. `places`: what each place may be, "" for anything."""

    places: tuple[str, ...]
    cells: tuple[Condition, ...]
    row: int
    serial: Values | None = None
    note: str = ""

    def matches(self, vin: str) -> bool:
        """Whether it speaks of a VIN. A serial that isn't all digits is in no range."""
        if any(chars and char not in chars for char, chars in zip(vin, self.places, strict=True)):
            return False
        if self.serial is None:
            return True
        last = vin[-SERIAL:]
        return last.isdecimal() and any(low <= int(last) <= high for low, high in self.serial)


def read_vin(text: str) -> str:
    """A VIN in seventeen capitals and digits, however it is typed (spaces, hyphens, small letters).

    Raises WrongUse with the first place that can't be so.
    """
    vin = bare(text)
    for place, char in enumerate(vin, 1):
        if char in _MISTAKEN:
            raise WrongUse(f"The VIN {text.strip()!r} has the letter {char} at place {place}. A VIN has no I, O or Q: "
                           f"is it a {_MISTAKEN[char]}?")
        if char not in LETTERS:
            raise WrongUse(f"The VIN {text.strip()!r} has {char!r} at place {place}. "
                           "A VIN has the letters A to Z and digits only.")
    if len(vin) != LENGTH:
        many = "1 place" if len(vin) == 1 else f"{len(vin)} places"
        raise WrongUse(f"The VIN {text.strip()!r} has {many}. Expected {LENGTH}; read it again, on the chassis plate "
                       "or on the frame.")
    return vin


def is_vin(text: str) -> bool:
    """Whether a text has the form of a VIN."""
    try:
        read_vin(text)
    except WrongUse:
        return False
    return True


def check_digit(vin: str) -> str:
    """The digit, or X, that a VIN has at place 9 if its maker puts a check digit there.

    49 CFR 565.15(c)(4): the values of all places times their weights, summed; the remainder by 11, ten being X.
    It finds most slips of one place, and proves nothing: seventeen ones pass.
    """
    remainder = sum(_VALUES[char] * weight for char, weight in zip(vin, _WEIGHTS, strict=True)) % 11
    return "X" if remainder == 10 else str(remainder)


def check_digit_warning(vin: str) -> str:
    """What to warn of where a check digit has to be right and isn't; else empty."""
    due = check_digit(vin)
    if vin[0] not in _NORTH_AMERICA or vin[8] == due:
        return ""
    return (f"The VIN {vin} has {vin[8]} at place 9, where a North American one has its check digit, {due}. "
            "Read it again.")


def of_vin(patterns: Sequence[VinPattern], vin: str) -> list[Statement]:
    """What the rows that match a VIN say of its vehicle, as built."""
    return [Statement(cell.fact, cell.cell, REGISTER, f"vin.csv line {one.row}")
            for one in patterns if one.matches(vin) for cell in one.cells]


def by_vin(patterns: Sequence[VinPattern], typed: str | None,
           registered: Sequence[str]) -> tuple[list[Statement], list[str]]:
    """What a vehicle's VIN says of it, and what to warn of. One that is `typed` counts before the `registered` ones,
    of which the first counts. Raises WrongUse for a typed one that has not the form of a VIN.
    """
    vins = list(registered) if typed is None else [read_vin(typed), *registered]
    if not vins:
        return [], []
    vin = vins[0]
    others = sorted(set(vins) - {vin})
    warnings = [f"The register has another VIN for this vehicle, {other}; {vin} counts." for other in others]
    warnings.append(check_digit_warning(vin))
    found = of_vin(patterns, vin)
    if typed is not None and not found:
        has = "No row of the catalogue's vin.csv matches" if patterns else "The catalogue has no vin.csv for"
        warnings.append(f"{has} the VIN {vin}; it narrows nothing.")
    return found, [text for text in warnings if text]


def vin_places(text: str) -> tuple[frozenset[str], ...]:
    """What each of the seventeen places of a pattern may be. Raises PatternFault; a `*` stands at the end only, so
    that every place has its number."""
    typed = next((char for char in text.upper() if char in _MISTAKEN), "")
    if typed:
        raise PatternFault(f"a pattern without {typed}, which no VIN has; is it a {_MISTAKEN[typed]}?")
    places = list(read_pattern(text))
    many = [at for at, place in enumerate(places) if place.many]
    if many and many != [len(places) - 1]:
        raise PatternFault("one * at most, at the end, where it stands for the places that are left")
    if many:
        places.pop()
        any_one = Place(frozenset(), without=True)
        places += [any_one] * (LENGTH - len(places))
    if len(places) != LENGTH:
        raise PatternFault(f"a pattern of {LENGTH} places (this has {len(places)}), or of fewer with a * at the end")
    return tuple(_letters(place, number) for number, place in enumerate(places, 1))


def _letters(place: Place, number: int) -> frozenset[str]:
    everything = frozenset(LETTERS)
    strange = min(place.chars - everything - set(_MISTAKEN), default="")
    if strange:
        raise PatternFault(f"the letters A to Z and digits; {strange!r} at place {number} is none")
    found = everything - place.chars if place.without else place.chars & everything
    if not found:
        raise PatternFault(f"something that a VIN may have at place {number}")
    return found


def matched(places: Sequence[frozenset[str]]) -> tuple[str, ...]:
    """Seventeen places as they are matched with."""
    return tuple("" if len(chars) == len(LETTERS) else "".join(sorted(chars)) for chars in places)
