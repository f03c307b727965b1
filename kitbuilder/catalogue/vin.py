"""Reads vin.csv: what VINs of a pattern tell of their vehicles."""

from collections.abc import Iterator, Sequence
from functools import reduce
from operator import or_
from typing import Final, NamedTuple

from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.patterned import check_patterned, fact_columns, read_patterned
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.vehicle.facts import NUMBERS, CellError, Fact
from kitbuilder.vehicle.pattern import PatternFault
from kitbuilder.vehicle.tables import Joint
from kitbuilder.vehicle.values import Values, both
from kitbuilder.vehicle.vin import LENGTH, LETTERS, SERIAL, VinPattern, matched, vin_places

_SERIALS: Final = Fact("serial", "vehicle", NUMBERS, 10 ** SERIAL, (), 0, {}, "", "")


class _Vins(NamedTuple):
    """VINs: what each place may be, and their serials (None: any, also one that is no number)."""

    places: tuple[frozenset[str], ...]
    serial: Values | None


def read_vins(sheet: Sheet, facts: Sequence[Fact], cells: CellReader, joints: Sequence[Joint],
              faults: Faults) -> tuple[VinPattern, ...]:
    """The rows in the order of the file. Two that contradict each other on some VIN are a fault."""
    columns = fact_columns(sheet, facts, cells, faults)
    rows = [read for row in sheet.rows
            if (read := read_patterned(sheet, row, columns, _vins(sheet, row, faults), cells, faults)) is not None]
    check_patterned(sheet, rows, _Meeting([one.matches for one in rows]), facts, joints, faults)
    return tuple(
        VinPattern(matched(one.matches.places), one.conditions(facts), one.row.line, one.matches.serial,
                   one.row.cells.get("note", "")) for one in rows)


def _vins(sheet: Sheet, row: SheetRow, faults: Faults) -> _Vins | None:
    text, cell = row.cells.get("pattern"), row.cells.get("serial")
    if text is None:
        sheet.missing(row, "pattern", "a pattern of VINs, such as 000D[A-F]?*", faults)
        return None
    try:
        places = vin_places(text)
    except PatternFault as error:
        faults.add(sheet.file, row.line, "pattern", text, str(error))
        return None
    if cell is None:
        return _Vins(places, None)
    try:
        serial = _SERIALS.read(cell)
    except CellError as error:
        faults.add(sheet.file, row.line, "serial", cell, f"{error}: the last {SERIAL} places of the VIN as a number")
        return None
    if _first(places[-SERIAL:], serial) is None:
        faults.add(sheet.file, row.line, "serial", cell, f"a serial that VINs of the pattern can have ({text})")
        return None
    return _Vins(places, serial)


class _Meeting:
    """Which rows match the same VINs. A set of rows is a number with one bit a row: makers fill sheets of thousands."""

    def __init__(self, rows: Sequence[_Vins]) -> None:
        self._rows = rows
        self._at: list[dict[str, int]] = [dict.fromkeys(LETTERS, 0) for _ in range(LENGTH)]
        for number, row in enumerate(rows):
            for at, chars in zip(self._at, row.places, strict=True):
                for char in chars:
                    at[char] |= 1 << number

    def before(self, at: int) -> Iterator[int]:
        """The rows before one that share a character with it at every place."""
        found = (1 << at) - 1
        for here, chars in zip(self._at, self._rows[at].places, strict=True):
            if len(chars) < len(LETTERS) and found:
                found &= reduce(or_, (here[char] for char in chars))
        while found:
            lowest = found & -found
            yield lowest.bit_length() - 1
            found ^= lowest

    def witness(self, one: _Vins, other: _Vins) -> str | None:
        """The first VIN that both match."""
        places = [a & b for a, b in zip(one.places, other.places, strict=True)]
        vin = "".join(min(chars, key=LETTERS.index) for chars in places)
        told = [each.serial for each in (one, other) if each.serial is not None]
        if not told:
            return vin
        last = _first(places[-SERIAL:], both(told[0], told[-1]))
        return None if last is None else vin[:-SERIAL] + last


def _first(places: Sequence[frozenset[str]], serials: Values) -> str | None:
    """The first of some serials whose digits are in their places."""
    return next(_numbers(places, serials, ""), None)


def _numbers(places: Sequence[frozenset[str]], serials: Values, begun: str) -> Iterator[str]:
    lowest, highest = int(begun.ljust(SERIAL, "0")), int(begun.ljust(SERIAL, "9"))
    if not both(((lowest, highest),), serials):
        return
    if len(begun) == SERIAL:
        yield begun
        return
    for digit in sorted(places[len(begun)] & set("0123456789")):
        yield from _numbers(places, serials, begun + digit)
