"""Reads plates.csv: what the numbers on type plates of components tell of the vehicle."""

from collections.abc import Sequence
from typing import NamedTuple

from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.patterned import check_patterned, fact_columns, read_patterned
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.pattern import PatternFault, Place, overlap, read_pattern, written
from kitbuilder.vehicle.plates import PlatePattern
from kitbuilder.vehicle.tables import Joint


class _Plates(NamedTuple):
    """The plates of a component with numbers of a pattern."""

    component: str
    places: tuple[Place, ...]


def read_plates(sheet: Sheet, facts: Sequence[Fact], cells: CellReader, joints: Sequence[Joint],
                faults: Faults) -> tuple[PlatePattern, ...]:
    """The rows in the order of the file. Two of one component that contradict each other on some number are a fault."""
    columns = fact_columns(sheet, facts, cells, faults)
    rows = [read for row in sheet.rows
            if (read := read_patterned(sheet, row, columns, _plates(sheet, row, faults), cells, faults)) is not None]
    check_patterned(sheet, rows, _Meeting([one.matches for one in rows]), facts, joints, faults)
    return tuple(
        PlatePattern(one.matches.component, written(one.matches.places), one.conditions(facts), one.row.line,
                     one.row.cells["pattern"], one.row.cells.get("note", "")) for one in rows)


def _plates(sheet: Sheet, row: SheetRow, faults: Faults) -> _Plates | None:
    component, text = row.cells.get("component"), row.cells.get("pattern")
    if component is None:
        sheet.missing(row, "component", "the component that has the plate, such as gearbox", faults)
    elif "=" in component:
        faults.add(sheet.file, row.line, "component", component, "a name without an equals sign")
        component = None
    if text is None:
        sheet.missing(row, "pattern", "a pattern of the numbers on its plates, such as TL6-2[0-4]*", faults)
        return None
    try:
        places = read_pattern(text)
        if not places or all(place.many for place in places):
            raise PatternFault("a pattern with something in it that a plate has")
    except PatternFault as error:
        faults.add(sheet.file, row.line, "pattern", text, str(error))
        return None
    return None if component is None else _Plates(component, places)


class _Meeting:
    """Which rows match the same plates."""

    def __init__(self, rows: Sequence[_Plates]) -> None:
        self._rows = rows

    def before(self, at: int) -> list[int]:
        """The rows before one that are of its component."""
        return [other for other in range(at) if self._rows[other].component == self._rows[at].component]

    def witness(self, one: _Plates, other: _Plates) -> str | None:
        """Whether some number matches both, without one to show."""
        return "" if overlap(one.places, other.places) else None
