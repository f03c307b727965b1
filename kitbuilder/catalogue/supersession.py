"""Reads supersession.csv: which item takes the place of which, alone or together with others, and by what rule.

A row is one item for one. Rows of one `set` belong together: all their new items take the place of all their old ones,
in the amounts told (one where none is). Of the rows and sets of one `group` a booking takes all the old side or all the
new one. Items may come back to themselves here: that breaks nothing, so it is for the check to remark on.
"""

from collections.abc import Mapping
from datetime import date
from typing import Final

from kitbuilder import amount
from kitbuilder.catalogue.cells import day_in
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import SUPERSESSION_RULES, Item, Replacement, Supersession

_WITHDRAWN: Final = "withdrawn"
_AMOUNTS: Final = {"old": "old_amount", "new": "new_amount"}


def read_supersessions(sheet: Sheet, items: Mapping[str, Item], faults: Faults) -> Supersessions:
    """The supersessions by the old item's number, in the order of the file, and what takes its place in sets and
    groups. A chain (A by B, B by C) is fine."""
    reader = _Reader(sheet, items, faults)
    for row in sheet.rows:
        reader.row(row)
    return Supersessions(reader.alone, tuple(reader.together()))


class _Reader:
    def __init__(self, sheet: Sheet, items: Mapping[str, Item], faults: Faults) -> None:
        self._sheet, self._items, self._faults = sheet, items, faults
        self.alone: dict[str, Supersession] = {}
        self._bound: dict[str, list[tuple[SheetRow, Replacement]]] = {}
        self._lines: dict[tuple[str, str], int] = {}
        self._first: dict[tuple[str, str], SheetRow] = {}

    def row(self, row: SheetRow) -> None:
        """Take in one row; what is wrong with it is noted, and it is left out."""
        before = len(self._faults.found)
        old, new, rule = (row.cells.get(column, "") for column in ("old", "new", "rule"))
        of_set, group, note = (row.cells.get(column, "") for column in ("set", "group", "note"))
        self._item(row, "old")
        if new or rule != _WITHDRAWN or of_set or group:
            self._item(row, "new")
        if old in self._items and new in self._items:
            self._pair(row, self._items[old], self._items[new])
        since = self._since(row)
        if not rule:
            self._sheet.missing(row, "rule", f"the rule: {', '.join(SUPERSESSION_RULES)}", self._faults)
        elif rule not in SUPERSESSION_RULES:
            self._fault(row, "rule", f"a rule: {one_of(rule, SUPERSESSION_RULES)}")
        amounts = self._amounts(row)
        for kind in ("set", "group"):
            self._as_its_first(kind, row)
        if len(self._faults.found) > before or old not in self._items:
            return
        if not of_set and not group:
            self.alone[old] = Supersession(old, new, since, note, row.line, rule)  # type: ignore[arg-type]
            return
        one = Replacement({old: amounts["old"]}, {new: amounts["new"]}, of_set, group, since, note, (row.line,),
                          rule)  # type: ignore[arg-type]
        self._bound.setdefault(f"set {of_set}" if of_set else f"row {row.line}", []).append((row, one))

    def together(self) -> list[Replacement]:
        """The sets, and the pairs of groups, in the order of the file."""
        found = []
        for rows in self._bound.values():
            olds: dict[str, int] = {}
            news: dict[str, int] = {}
            for row, one in rows:
                for column, mine, all_ in (("old", one.olds, olds), ("new", one.news, news)):
                    [(number, milli)] = mine.items()
                    if all_.setdefault(number, milli) != milli:
                        self._fault(row, _AMOUNTS[column], (
                            f"one amount of {number} in the whole set: "
                            f"{amount.show(all_[number])}, as in line {self._line_of(rows, column, number)}"))
            for row, one in rows:
                for number in one.news:
                    if number in olds:
                        self._fault(row, "new", f"another item than the set's old ones ({', '.join(olds)})")
            first = rows[0][1]
            found.append(Replacement(
                olds, news, first.set, first.group, first.since,
                "; ".join(dict.fromkeys(one.note for _, one in rows if one.note)),
                tuple(row.line for row, _ in rows), first.rule))
        return found

    @staticmethod
    def _line_of(rows: list[tuple[SheetRow, Replacement]], column: str, number: str) -> int:
        return next(row.line for row, _ in rows if row.cells.get(column) == number)

    def _fault(self, row: SheetRow, column: str, expected: str) -> None:
        self._faults.add(self._sheet.file, row.line, column, row.cells.get(column, ""), expected)

    def _item(self, row: SheetRow, column: str) -> None:
        number = row.cells.get(column, "")
        if not number:
            expected = "an item number" if column == "old" or row.cells.get("set") or row.cells.get("group") else (
                "an item number (or the rule 'withdrawn', where nothing takes its place)")
            self._sheet.missing(row, column, expected, self._faults)
        elif number not in self._items:
            self._faults.unknown(self._sheet.file, row.line, column, "item", number, list(self._items))
        elif row.cells.get("set"):
            self._once_in_set(row)
        elif (column, number) in self._lines:
            done = "is superseded" if column == "old" else "takes the place of another"
            line = self._lines[column, number]
            self._fault(row, column, (
                f"one item for one: each number once under {column} (by line {line} it {done} already), "
                "or the rows that belong together named alike under set"))
        else:
            self._lines[column, number] = row.line

    def _once_in_set(self, row: SheetRow) -> None:
        pair = (row.cells["set"], f"{row.cells.get('old')} {row.cells.get('new')}")
        if self._first.setdefault(pair, row) is not row:
            self._fault(row, "new", f"each pair of a set once (line {self._first[pair].line} has it already)")

    def _pair(self, row: SheetRow, old: Item, new: Item) -> None:
        if old.number == new.number:
            self._fault(row, "new", "another item than the old one")
        elif not row.cells.get("set") and amount.quantity(old.unit) != amount.quantity(new.unit):
            # one can't be taken for so much of the other
            self._fault(row, "new", (
                f"an item whose unit converts to that of {old.number}, {old.unit} ({new.number} has {new.unit})"))

    def _amounts(self, row: SheetRow) -> dict[str, int]:
        found = {"old": 1000, "new": 1000}
        for column, name in _AMOUNTS.items():
            text, item = row.cells.get(name), self._items.get(row.cells.get(column, ""))
            if text is None:
                continue
            if not row.cells.get("set"):
                self._fault(row, name, "nothing here, or the name of a set: without one it is one item for one")
            elif item is not None:
                try:
                    found[column] = amount.parse(text, item.unit, item.unit)
                except ValueError as error:
                    self._fault(row, name, f"so much of {item.number} in {item.unit}: {error}")
        return found

    def _as_its_first(self, kind: str, row: SheetRow) -> None:
        """A set's rows, and a group's, hold from one day on, by one rule; a set's are of one group."""
        name = row.cells.get(kind)
        if name is None:
            return
        first = self._first.setdefault((kind, name), row)
        for column in ("from", "rule", *(("group",) if kind == "set" else ())):
            mine, expected = row.cells.get(column, ""), first.cells.get(column, "")
            if mine != expected:
                self._fault(row, column, (
                    f"{repr(expected) if expected else 'nothing'}, as in line {first.line} of the {kind} {name!r}"))

    def _since(self, row: SheetRow) -> date | None:
        return day_in(self._sheet.file, row, "from", (
            "a day, such as 2026-03-01, or nothing where it has always been so"), self._faults)
