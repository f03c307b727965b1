"""Statements of what is known, and what is left open once they are put together.

Three ranks: seen on the vehicle, told, read from a register. A higher rank outranks a lower one (as
fitted beats as built); statements of one rank that contradict each other are an error.
"""

from collections.abc import Sequence
from itertools import combinations
from typing import Final

import msgspec

from kitbuilder.errors import Contradiction, WrongUse, one_of
from kitbuilder.vehicle.facts import CellError, Fact
from kitbuilder.vehicle.tables import Box, Table, meet
from kitbuilder.vehicle.values import NONE, Values, both, union
from kitbuilder.vehicle.worlds import Space, Worlds

SEEN: Final = "seen"
TOLD: Final = "told"
REGISTER: Final = "register"
INFERRED: Final = "inferred"
OPEN: Final = "open"
RANKS: Final = (SEEN, TOLD, REGISTER)


class Statement(msgspec.Struct, frozen=True):
    """One piece of knowledge: a fact's name, a cell of its values, and its source (a rank).

    `place` says where a register has it, for the warnings.
    """

    fact: str
    cell: str
    source: str
    place: str = ""

    def __str__(self) -> str:
        said = {SEEN: "seen", TOLD: "told", REGISTER: "in the register"}[self.source]
        return f"{self.fact} = {self.cell} ({self.place or said})"


class Standing(msgspec.Struct, frozen=True):
    """What statements come to: the open worlds, the statements that stand, what to warn of."""

    worlds: Worlds
    stands: tuple[Statement, ...]
    warnings: tuple[str, ...]

    def source(self, fact: Fact) -> str:
        """The highest rank of a statement on the fact that stands, else `inferred` or `open`."""
        ranks = [RANKS.index(one.source) for one in self.stands if one.fact == fact.name]
        if ranks:
            return RANKS[min(ranks)]
        space = self.worlds.space
        number = space.number[fact.name]
        return OPEN if self.worlds.opened(number) == space.all().opened(number) else INFERRED


def settle(space: Space, tables: Sequence[Table], statements: Sequence[Statement]) -> Standing:
    """Put statements together by rank, from the highest down.

    Raises WrongUse for an unknown fact or a cell that can't be read (one of the register is set aside
    with a warning instead), Contradiction if all that is seen, or all that is told, leaves no world.
    """
    warnings: list[str] = []
    read: list[tuple[Statement, Values]] = []
    for statement in statements:
        try:
            values = _read(space, statement)
        except WrongUse as wrong:
            if statement.source != REGISTER:
                raise
            warnings.append(f"{wrong} Set aside.")
            continue
        read.append((statement, values))
    read.sort(key=lambda one: space.number[one[0].fact])
    for rank in (SEEN, TOLD):
        of_rank = [one for one in read if one[0].source == rank]
        if _narrow(space.all(), of_rank).empty:
            raise Contradiction(_explain(space, tables, of_rank))
    standing = [one for one in read if one[0].source == SEEN]
    worlds = _narrow(space.all(), standing)
    for rank in (TOLD, REGISTER):
        for one in (one for one in read if one[0].source == rank):
            narrowed = _narrow(worlds, [one])
            if narrowed.empty:
                warnings.append(_set_aside(space, standing, one))
            else:
                worlds = narrowed
                standing.append(one)
    return Standing(worlds, tuple(statement for statement, _ in standing), tuple(warnings))


def cells_of(space: Space, statements: Sequence[Statement]) -> dict[str, str]:
    """Statements that can be read and all be true, as one cell a fact: as written, or where several speak of one fact,
    what they have in common."""
    found: dict[str, list[str]] = {}
    for one in statements:
        cells = found.setdefault(one.fact, [])
        if one.cell not in cells:
            cells.append(one.cell)
    together = {}
    for name, cells in found.items():
        fact = space.facts[space.number[name]]
        values = fact.everything
        for cell in cells:
            values = both(values, fact.read(cell))
        together[name] = cells[0] if len(cells) == 1 else " or ".join(fact.cells(values))
    return together


def follows_from(standing: Standing, tables: Sequence[Table], fact: Fact) -> str:
    """What narrows an inferred fact, in words: the fewest facts with statements, and the fewest tables, that do.

    Where several sets as small do, all are named.
    """
    space, worlds = standing.worlds.space, standing.worlds
    number = space.number[fact.name]
    opened = worlds.opened(number)
    stated = sorted({space.number[one.fact] for one in standing.stands})
    near = [table for table in tables if table.file in space.joints[space.joint_of[number]].files]
    for size in range(len(stated) + 1):
        found = []
        for facts in combinations(stated, size):
            told = {one: worlds.values[one] for one in facts}
            if space.all().within(told).opened(number) != opened:
                continue
            files = next(
                some for count in range(1, len(near) + 1) for some in combinations(near, count)
                if _opened(some, told, number, fact.everything) == opened)
            found.append(f"from {_list([space.facts[one].name for one in facts])} by "
                         f"{_list([table.file for table in files])}")
        if found:
            return "follows " + "; and ".join(found)
    raise AssertionError("all that stands narrows it")


def _opened(tables: Sequence[Table], told: Box, number: int, everything: Values) -> Values:
    """The values of a fact that some world within `told` has, by these tables alone."""
    return union(run for box in _within(tables, told) for run in box.get(number, everything))


def _read(space: Space, statement: Statement) -> Values:
    where = f" ({statement.place})" if statement.place else ""
    if statement.fact not in space.number:
        raise WrongUse(
            f"There is no fact {statement.fact!r}{where}. {_expected(one_of(statement.fact, list(space.number)))}")
    if not statement.cell.strip():
        raise WrongUse(f"The fact {statement.fact!r} was given no value{where}; leave it out if it is not known.")
    fact = space.facts[space.number[statement.fact]]
    try:
        return fact.read(statement.cell)
    except CellError as error:
        raise WrongUse(
            f"{statement.fact} can't be {statement.cell.strip()!r}{where}. {_expected(str(error))}") from None


def _expected(what: str) -> str:
    return f"Expected {what}" if what.endswith("?") else f"Expected {what}."


def _narrow(worlds: Worlds, statements: Sequence[tuple[Statement, Values]]) -> Worlds:
    for statement, values in statements:
        if worlds.empty:
            break
        worlds = worlds.where(worlds.space.number[statement.fact], values)
    return worlds


def _fewest(worlds: Worlds, statements: Sequence[tuple[Statement, Values]]) -> list[tuple[Statement, Values]]:
    """The fewest of the statements that leave none of the worlds."""
    for size in range(len(statements) + 1):
        for some in combinations(statements, size):
            if _narrow(worlds, some).empty:
                return list(some)
    raise AssertionError("the statements leave a world")


def _explain(space: Space, tables: Sequence[Table], statements: Sequence[tuple[Statement, Values]]) -> str:
    fewest = _fewest(space.all(), statements)
    said = _list([str(one) for one, _ in fewest])
    if len(fewest) == 1 and not fewest[0][1]:
        return f"This leaves no value: {said}. Mend it, or leave it out."
    blamed = _fewest_tables(space, tables, fewest)
    verb = "These can't be true together" if len(fewest) > 1 else "This can't be true"
    by = f" They disagree by {_list(blamed)}." if blamed else ""
    if len(fewest) == 1 and blamed:
        by = f" No vehicle in {_list(blamed)} has it."
    return f"{verb}: {said}.{by} Look again at the vehicle, and leave out what is not sure."


def _fewest_tables(space: Space, tables: Sequence[Table], statements: Sequence[tuple[Statement, Values]]) -> list[str]:
    """The fewest tables, first by file name among equals, without which the statements leave a world; else none."""
    told: Box = {}
    for statement, values in statements:
        number = space.number[statement.fact]
        met = meet(told, {number: values})
        if met is None or not values:
            return []
        told = met
    return fewest_tables(tables, told)


def fewest_tables(tables: Sequence[Table], told: Box) -> list[str]:
    """The fewest tables, first by file name among equals, without which a box has a world; none where none is."""
    ordered = sorted(tables, key=lambda table: table.file)
    for size in range(1, len(ordered) + 1):
        for gone in combinations(ordered, size):
            if _within([table for table in ordered if table not in gone], told):
                return [table.file for table in gone]
    return []


def _within(tables: Sequence[Table], told: Box) -> list[Box]:
    """The boxes within `told` that agree with all the tables."""
    boxes = {_frozen(told): told}
    for table in tables:
        met = [one for box in boxes.values() for row in table.rows if (one := meet(box, row.box)) is not None]
        boxes = {_frozen(box): box for box in met if all(box.values())}
    return list(boxes.values())


def _frozen(box: Box) -> tuple[tuple[int, Values], ...]:
    return tuple(sorted(box.items()))


def _set_aside(space: Space, standing: Sequence[tuple[Statement, Values]], one: tuple[Statement, Values]) -> str:
    if one[1] == NONE:
        return f"{one[0]} leaves no value. Set aside."
    against = _fewest(_narrow(space.all(), [one]), standing)
    if not against:
        return f"{one[0]} is on no vehicle of the combinations tables. Set aside."
    return f"{one[0]} disagrees with {_list([str(other) for other, _ in against])}. Set aside."


def _list(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
