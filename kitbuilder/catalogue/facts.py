"""Reads facts.toml: what is asked about a vehicle or a job."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Final

import msgspec

from kitbuilder.catalogue.columns import NAMES_KEPT
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.toml import Keys
from kitbuilder.errors import one_of
from kitbuilder.vehicle.facts import DAYS, LISTED, NUMBERS, CellError, Fact, name_fault
from kitbuilder.vehicle.values import Values, union

#: Ends of a range of whole numbers; well within a machine number, and beyond all that is counted on a vehicle.
_FAR: Final = 10**15

_End = tuple[str, int]


def read_facts(keys: Keys, faults: Faults) -> list[Fact]:
    """The facts in the order they are written. One that is wrong in any way is marked as broken."""
    keys.only("facts")
    found = []
    for one in keys.tables("facts", "fact"):
        before = len(faults.found)
        fact = _read_fact(one)
        if len(faults.found) > before:
            faults.broken.add(("fact", one.name))
        if fact is not None:
            found.append(fact)
    return found


def _read_fact(keys: Keys) -> Fact | None:
    keys.only("of", "values", "from", "to", "groups", "question", "where")
    if keys.name in NAMES_KEPT:
        keys.fault((), keys.name, "a name that is not a column of the sheets")
    of = keys.choice("of", ("vehicle", "job")) or "vehicle"
    question, where = keys.text("question", f"What is the {keys.name}?"), keys.text("where", "")
    end = next((key for key in ("from", "to") if keys.has(key)), None)
    if keys.has("values") and end:
        keys.fault(end, keys.raw(end), "either values, or from and to")
        return None
    if end:
        fact = _range(keys, of, question, where)
    elif keys.has("values"):
        fact = _listed(keys, of, question, where)
    else:
        if not any(map(keys.excused, ("values", "from", "to"))):
            keys.fault((), "", "values, or from and to")
        return None
    return fact and _with_groups(keys, fact)


def _listed(keys: Keys, of: str, question: str, where: str) -> Fact | None:
    before = len(keys.faults.found)
    values = keys.names("values")
    if len(keys.faults.found) > before:
        return None  # groups can't be held against a list that is itself at fault
    if not values:
        keys.fault("values", "", "at least one value")
        return None
    for place, value in enumerate(values):
        if value in values[:place]:
            keys.fault(("values", place), value, "each value once")
        elif problem := name_fault(value):
            keys.fault(("values", place), value, problem)
    return Fact(keys.name, of, LISTED, len(values), values, 0, {}, question, where)


def _range(keys: Keys, of: str, question: str, where: str) -> Fact | None:
    first, last = _end(keys, "from"), _end(keys, "to")
    if first is None or last is None:
        return None
    if first[0] != last[0]:
        keys.fault("to", keys.raw("to"), f"one of the {first[0]}, as in from")
        return None
    if last[1] < first[1]:
        keys.fault("to", keys.raw("to"), f"the ends swapped: from = {keys.raw('to')}, to = {keys.raw('from')}")
        return None
    return Fact(keys.name, of, first[0], last[1] - first[1] + 1, (), first[1], {}, question, where)


def _end(keys: Keys, key: str) -> _End | None:
    value = keys.raw(key)
    if isinstance(value, date) and not isinstance(value, datetime):
        return DAYS, value.toordinal()
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) <= _FAR:
        return NUMBERS, value
    if not keys.excused(key):
        far = f" of at most {len(str(_FAR)) - 1} digits" if isinstance(value, int) else ""
        keys.fault(key, value, f"a day, such as 2009-10-01, or a whole number{far}")
    return None


def _with_groups(keys: Keys, fact: Fact) -> Fact:
    raw = keys.raw("groups")
    if raw is None:
        return fact
    if not isinstance(raw, dict):
        keys.fault("groups", raw, "a table of lists")
        return fact
    groups: dict[str, Values] = {}
    for name, cells in raw.items():
        if problem := name_fault(name):
            keys.fault(("groups", name), name, problem)
        elif _is_value(fact, name):
            keys.fault(("groups", name), name, "a name that is not a value of the fact as well")
        if isinstance(cells, list) and cells:
            groups[name] = _group(keys, fact, name, cells)
        else:
            keys.fault(("groups", name), cells, "a list of at least one value")
    return msgspec.structs.replace(fact, groups=groups)


def _group(keys: Keys, fact: Fact, name: str, cells: Sequence[object]) -> Values:
    runs: list[tuple[int, int]] = []
    before = len(keys.faults.found)
    for place, cell in enumerate(cells):
        text = cell.strip() if isinstance(cell, str) else ""
        expected = "a value" if not text else ""
        if text and fact.kind == LISTED and text not in fact.values:
            expected = f"a value: {one_of(text, fact.values)}"
        elif text:
            try:
                runs.extend(fact.read(text))
            except CellError as error:
                expected = str(error)
            except ValueError:  # a number of thousands of digits
                expected = f"a value of {fact.name}"
        if expected:
            keys.fault(("groups", name, place), cell, expected)
    if not runs and len(keys.faults.found) == before:
        keys.fault(("groups", name), cells, "cells that hold at least one value between them")
    return union(runs)


def _is_value(fact: Fact, name: str) -> bool:
    try:
        fact.read(name)
    except ValueError:
        return False
    return True
