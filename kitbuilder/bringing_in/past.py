"""Past jobs: what each really used, and what is known of its vehicle."""

from collections.abc import Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.bringing_in.fold import fold
from kitbuilder.errors import WrongUse
from kitbuilder.model.bringing_in import RowFault, RowRead
from kitbuilder.model.catalogue import Item
from kitbuilder.vehicle.facts import CellError, Fact


class PastJob(msgspec.Struct, frozen=True):
    """A job that is done: for each fact, in the catalogue's order, the place of its value (None: not known), and by
    item what was used, in milli-units of the item's unit."""

    name: str
    facts: tuple[int | None, ...]
    used: dict[str, int]


class Past(msgspec.Struct, frozen=True):
    """The jobs in order of name, how many lines they had, and the rows that can't be used."""

    jobs: tuple[PastJob, ...]
    lines: int
    faults: tuple[RowFault, ...]


def past_jobs(rows: Sequence[RowRead], job: str, facts: Sequence[Fact], items: dict[str, Item]) -> Past:
    """The past jobs in some rows (`id`, `item`, `amount`, `unit`, facts; `job` where there are several types).

    Amounts of one item in one job are added; what was brought back is a row below zero. A row whose unit is not told
    is in the item's. Raises WrongUse if no row is of the job type.
    """
    words = list(dict.fromkeys(row.cells["job"] for row in rows if "job" in row.cells))
    if words and fold(job) not in map(fold, words):
        raise WrongUse(f"No row is of a job {job!r}. The job types in it: {', '.join(words[:12])}.")
    mine = [row for row in rows if not words or fold(row.cells.get("job", "")) == fold(job)]
    faults: list[RowFault] = []
    known: dict[str, dict[int, tuple[int | None, int]]] = {}
    used: dict[str, dict[str, int]] = {}
    for row in mine:
        name = row.cells["id"]
        told = known.setdefault(name, {})
        spent = used.setdefault(name, {})
        for number, fact in enumerate(facts):
            if fact.name in row.cells:
                _learn(row, fact, number, told, faults)
        milli = _amount(row, items, faults)
        if milli is not None:
            item = row.cells["item"]
            spent[item] = spent.get(item, 0) + milli
    jobs = tuple(
        PastJob(name, tuple(known[name].get(number, (None, 0))[0] for number in range(len(facts))),
                {item: milli for item, milli in sorted(used[name].items()) if milli > 0})
        for name in sorted(known))
    return Past(jobs, len(mine), tuple(faults))


def _learn(row: RowRead, fact: Fact, number: int, told: dict[int, tuple[int | None, int]],
           faults: list[RowFault]) -> None:
    """Take what a row says of a fact; a cell that leaves several values open says nothing."""
    cell = row.cells[fact.name]
    try:
        values = fact.read(cell)
    except CellError as error:
        faults.append(RowFault(row.row, fact.name, cell, str(error)))
        return
    if len(values) != 1 or values[0][0] != values[0][1]:
        return
    place = values[0][0]
    before, where = told.setdefault(number, (place, row.row))
    if before is not None and before != place:
        faults.append(RowFault(row.row, fact.name, cell, f"{fact.value(before)}, as row {where} says of the same job"))


def _amount(row: RowRead, items: dict[str, Item], faults: list[RowFault]) -> int | None:
    number, text = row.cells["item"], row.cells["amount"]
    item = items.get(number)
    if item is None:
        faults.append(RowFault(row.row, "item", number, "an item of items.csv; bring it in first"))
        return None
    back = text.startswith("-")
    try:
        milli = amount.parse(text.removeprefix("-"), row.cells.get("unit", item.unit), item.unit)
    except ValueError as error:
        faults.append(RowFault(row.row, "amount", text, str(error)))
        return None
    return -milli if back else milli
