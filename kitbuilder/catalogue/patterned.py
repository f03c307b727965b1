"""What vin.csv and plates.csv have in common: rows with a pattern, and the facts of what it matches."""

from collections.abc import Iterable, Sequence
from typing import Generic, NamedTuple, Protocol, TypeVar

from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.model.catalogue import Box, Condition
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint
from kitbuilder.vehicle.values import both
from kitbuilder.vehicle.worlds import Space

K = TypeVar("K")
C = TypeVar("C", contravariant=True)


class Patterned(NamedTuple, Generic[K]):
    """A row that could be read: what it matches, by a key of its reader's own, and the facts that it tells."""

    row: SheetRow
    matches: K
    box: Box

    def conditions(self, facts: Sequence[Fact]) -> tuple[Condition, ...]:
        """Its cells, in the order of facts.toml."""
        return tuple(Condition(facts[number].name, self.row.cells[facts[number].name]) for number in sorted(self.box))


def fact_columns(sheet: Sheet, facts: Sequence[Fact], cells: CellReader, faults: Faults) -> list[str]:
    """The columns of facts; those of the job, which no vehicle tells, are noted as faults."""
    named = [name for name in sheet.columns if name in cells.numbers]
    for name in named:
        if facts[cells.numbers[name]].of == "job" and not faults.excused("fact", name):
            faults.add(sheet.file, sheet.line, name, name, "facts of the vehicle only; this one is of the job")
    return named


def read_patterned(sheet: Sheet, row: SheetRow, columns: Sequence[str], matches: K | None, cells: CellReader,
                   faults: Faults) -> Patterned[K] | None:
    """A row with its facts; None where anything of it can't be read (`matches` is None where its pattern can't)."""
    before = len(faults.found)
    named = {name: row.cells[name] for name in columns if name in row.cells}
    if not named and sheet.sound and not faults.unread:
        faults.add(sheet.file, row.line, "", "", "a cell for one fact at least: what the pattern tells")
    box = cells.box(sheet.file, row.line, named)
    if matches is None or len(faults.found) > before or len(box) < len(named) or not named:
        return None
    return Patterned(row, matches, box)


class Meeting(Protocol, Generic[C]):
    """What a reader knows of its rows' patterns, told by the rows' places in their list."""

    def before(self, at: int) -> Iterable[int]:
        """The rows before one that may match something that it matches, too."""
        ...

    def witness(self, one: C, other: C) -> str | None:
        """Something that both match, "" where there is no need to show it; None where nothing is."""
        ...


def check_patterned(sheet: Sheet, rows: Sequence[Patterned[K]], meeting: Meeting[K], facts: Sequence[Fact],
                    joints: Sequence[Joint], faults: Faults) -> None:
    """Note rows that no vehicle has, and, once for each, rows that contradict an earlier one that matches the same.

    Three rows of which no two contradict each other can still leave no value; that comes out where they are used.
    """
    if any(one.file == "facts.toml" or one.file.startswith("combinations/") for one in faults.found):
        return  # facts and tables may not be what they are meant to be
    everything = Space(facts, joints).all()
    for at, one in enumerate(rows):
        empty = next((number for number, values in one.box.items() if not values), None)
        if empty is not None:
            name = facts[empty].name
            faults.add(sheet.file, one.row.line, name, one.row.cells[name], f"a cell that leaves a value of {name}")
        elif everything.within(one.box).empty:
            names = ", ".join(condition.fact for condition in one.conditions(facts))
            faults.add(sheet.file, one.row.line, names, "",
                       "facts that a vehicle of the combinations tables can have together")
        else:
            _contradiction(sheet, one, [rows[other] for other in meeting.before(at)], meeting, facts, faults)


def _contradiction(sheet: Sheet, one: Patterned[K], before: Sequence[Patterned[K]], meeting: Meeting[K],
                   facts: Sequence[Fact], faults: Faults) -> None:
    for other in before:
        apart = [number for number in one.box if number in other.box and not both(one.box[number], other.box[number])]
        if not apart or not all(other.box.values()):
            continue
        seen = meeting.witness(one.matches, other.matches)
        if seen is not None:
            name = facts[apart[0]].name
            faults.add(sheet.file, one.row.line, name, one.row.cells[name],
                       f"no contradiction to line {other.row.line}, which says {other.row.cells[name]} of the same"
                       f"{f' (such as {seen})' if seen else ''}")
            return
