"""What the sheets of a catalogue say: combinations tables, items, fits."""

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation

from kitbuilder import amount
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.errors import one_of
from kitbuilder.kinds import KINDS, PROPERTIES
from kitbuilder.model.catalogue import NOTHING, Box, Condition, Finding, Fit, Item, JobType, Requirement, Role
from kitbuilder.vehicle.facts import CellError, Fact
from kitbuilder.vehicle.tables import Row, Table
from kitbuilder.vehicle.values import Values

ITEM_COLUMNS = frozenset({"number", "name", "unit", "rank", "kind", "codes", "listed", "claimed", "note", *PROPERTIES})
FIT_COLUMNS = frozenset({"job", "role", "item", "requirement", "amount", "unit", "finding", "otherwise", "note"})
TABLE_COLUMNS = frozenset({"share", "note"})

_RANK = re.compile(r"-?\d+(\.\d+)?")


class CellReader:
    """Reads the cells of fact columns; the same words mean the same set, so each is read once."""

    def __init__(self, facts: Sequence[Fact], faults: Faults) -> None:
        self.numbers = {fact.name: number for number, fact in enumerate(facts)}
        self._facts, self._faults = facts, faults
        self._known: dict[tuple[int, str], Values | CellError] = {}

    def box(self, file: str, row: int, cells: Mapping[str, str], column: str = "") -> Box:
        """The box that some cells make together; what can't be read is noted and left out."""
        box: Box = {}
        for name, text in cells.items():
            number = self.numbers[name]
            values = self._known.get((number, text))
            if values is None:
                try:
                    values = self._facts[number].read(text)
                except CellError as error:
                    values = error
                self._known[number, text] = values
            if isinstance(values, CellError):
                self._faults.add(file, row, column or name, text, str(values))
            else:
                box[number] = values
        return box


def read_table(sheet: Sheet, facts: Sequence[Fact], cells: CellReader, faults: Faults) -> Table:
    """A combinations table."""
    columns = [name for name in sheet.columns if name in cells.numbers]
    if not columns and sheet.columns:
        faults.add(sheet.file, 1, "", ",".join(sheet.columns), "at least one column named like a fact")
    if len({facts[cells.numbers[name]].of for name in columns}) > 1:
        faults.add(sheet.file, 1, "", ",".join(columns), "facts all of the vehicle, or all of the job")
    if sheet.columns and not sheet.rows:
        faults.add(sheet.file, 0, "", "", "at least one row (a table without rows allows no vehicle)")
    rows = []
    for row in sheet.rows:
        share = None
        if "share" in sheet.columns:
            share = _share(row.cells.get("share", ""))
            if share is None:
                faults.add(sheet.file, row.line, "share", row.cells.get("share"), "a decimal more than zero")
        box = cells.box(sheet.file, row.line, {name: row.cells[name] for name in columns if name in row.cells})
        rows.append(Row(row.line, box, share))
    return Table(sheet.file, tuple(sorted(cells.numbers[name] for name in columns)), tuple(rows))


def _share(text: str) -> tuple[int, int] | None:
    try:
        share = Decimal(text)
    except InvalidOperation:
        return None
    return share.as_integer_ratio() if share.is_finite() and share > 0 and re.fullmatch(r"[\d.]+", text) else None


def read_items(sheet: Sheet, faults: Faults) -> dict[str, Item]:
    """The items by number."""
    found: dict[str, Item] = {}
    codes: dict[str, str] = {}
    for row in sheet.rows:
        number = row.cells.get("number", "")
        if not number or number == NOTHING:
            faults.add(sheet.file, row.line, "number", number,
                       "a number other than 'nothing', which is kept for fits" if number else "an item number")
            continue
        if number in found:
            faults.add(sheet.file, row.line, "number", number, "each number once")
            continue
        found[number] = _item(sheet.file, row, number, faults)
        for code in found[number].codes:
            if code in codes and codes[code] != number:
                faults.add(sheet.file, row.line, "codes", code, f"a code that is on one item only ({codes[code]} has it)")
            codes[code] = number
            if expected := _gtin_fault(code):
                faults.add(sheet.file, row.line, "codes", code, expected)
    return found


def _item(file: str, row: SheetRow, number: str, faults: Faults) -> Item:
    cells = row.cells
    if "name" not in cells:
        faults.add(file, row.line, "name", "", "a name")
    unit = cells.get("unit", "")
    if unit not in amount.UNITS:
        faults.add(file, row.line, "unit", unit, f"a unit: {', '.join(amount.UNITS)}")
        unit = "each"
    rank = cells.get("rank", "")
    if rank and not _RANK.fullmatch(rank):
        faults.add(file, row.line, "rank", rank, "a number, or nothing")
        rank = ""
    kind = cells.get("kind", "")
    if kind and kind not in KINDS:
        faults.add(file, row.line, "kind", kind, f"a kind: {one_of(kind, list(KINDS))}")
    properties = _properties(file, row, kind, faults)
    lists = {column: _names(cells.get(column, "")) for column in ("codes", "listed", "claimed")}
    for column, names in lists.items():
        if any(not name or "and" in name.split() for name in names):
            faults.add(file, row.line, column, cells[column], "names with 'and' between them")
    return Item(number, cells.get("name", ""), unit, rank, kind, lists["codes"], properties,
                lists["listed"], lists["claimed"])


def _properties(file: str, row: SheetRow, kind: str, faults: Faults) -> dict[str, str]:
    known = KINDS[kind].properties if kind in KINDS else {}
    found: dict[str, str] = {}
    for name in PROPERTIES:
        text = row.cells.get(name)
        if text is None:
            continue
        if name not in known:
            if not kind or kind in KINDS:
                faults.add(file, row.line, name, text, f"nothing here: {kind or 'an item without a kind'} has no {name}")
            continue
        try:
            found[name] = known[name].read(text)
        except ValueError as error:
            faults.add(file, row.line, name, text, str(error))
    if kind in KINDS and (expected := KINDS[kind].together(found)):
        faults.add(file, row.line, "rating", row.cells.get("rating"), expected)
    return found


def _names(cell: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in re.split(r"\s+and\s+", cell)) if cell else ()


def _gtin_fault(code: str) -> str | None:
    """What was expected of a code of GTIN form (8, 12, 13 or 14 digits; GS1 General Specifications, 7.9)."""
    if not (code.isascii() and code.isdigit() and len(code) in (8, 12, 13, 14)):
        return None
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(code[:-1])))
    digit = str(-total % 10)
    return None if code[-1] == digit else f"a check digit of {digit} ({code[:-1]}{digit}), or another form of code"


class FitReader:
    """Reads fits sheets against what the other files declare."""

    def __init__(self, cells: CellReader, items: Mapping[str, Item], requirements: Mapping[str, Requirement],
                 roles: Mapping[str, Role], findings: Mapping[str, Finding], jobs: Mapping[str, JobType],
                 faults: Faults) -> None:
        self._cells, self._items, self._requirements = cells, items, requirements
        self._roles, self._findings, self._jobs, self._faults = roles, findings, jobs, faults
        self._listing: dict[str, list[str]] = {}
        for job in jobs.values():
            for role in job.roles:
                self._listing.setdefault(role, []).append(job.name)
        self._otherwise: dict[tuple[str, str], tuple[str, int]] = {}

    def read(self, sheet: Sheet) -> list[tuple[str, Fit]]:
        """The fits of a sheet, each with its job (empty: every job that lists the role)."""
        facts = [name for name in sheet.columns if name in self._cells.numbers]
        return [one for row in sheet.rows if (one := self._fit(sheet.file, row, facts)) is not None]

    def _fit(self, file: str, row: SheetRow, facts: Sequence[str]) -> tuple[str, Fit] | None:
        before = len(self._faults.found)
        cells = row.cells
        role = self._role(file, row)
        job = self._job(file, row)
        item, requirement = cells.get("item"), cells.get("requirement")
        shown = self._filler(file, row, item, requirement)
        finding = cells.get("finding")
        if finding is not None and finding not in self._findings:
            self._faults.unknown(file, row.line, "finding", "finding", finding, list(self._findings))
        named = {name: cells[name] for name in facts if name in cells}
        otherwise = self._is_otherwise(file, row, role, job, list(named))
        if finding is not None and (otherwise or item == NOTHING):
            self._faults.add(file, row.line, "finding", finding,
                             "nothing here: neither 'nothing' nor 'otherwise' waits for a finding")
        milli, unit = self._amount(file, row, item, requirement, shown)
        box = self._cells.box(file, row.line, named)
        if len(self._faults.found) > before or role is None or job is None:
            return None
        conditions = tuple(Condition(name, cell) for name, cell in named.items())
        return job, Fit(file, row.line, role.name, item, requirement, milli, unit, box, conditions, finding,
                        otherwise, cells.get("note"))

    def _role(self, file: str, row: SheetRow) -> Role | None:
        name = row.cells.get("role", "")
        if not name:
            self._faults.add(file, row.line, "role", "", "a role")
        elif name not in self._roles:
            self._faults.unknown(file, row.line, "role", "role", name, list(self._roles))
        return self._roles.get(name)

    def _job(self, file: str, row: SheetRow) -> str | None:
        name, role = row.cells.get("job", ""), row.cells.get("role", "")
        if name and name not in self._jobs:
            self._faults.unknown(file, row.line, "job", "job", name, list(self._jobs))
            return None
        if name and role in self._roles and role not in self._jobs[name].roles:
            if ("job", name) not in self._faults.broken:
                self._faults.add(file, row.line, "role", role,
                                 f"a role that {name} lists: {one_of(role, list(self._jobs[name].roles))}")
            return None
        return name

    def _filler(self, file: str, row: SheetRow, item: str | None, requirement: str | None) -> Item | None:
        if (item is None) == (requirement is None):
            self._faults.add(file, row.line, "item", item, "either an item (or 'nothing') or a requirement")
        elif item is not None and item != NOTHING and item not in self._items:
            self._faults.unknown(file, row.line, "item", "item", item, list(self._items))
        elif requirement is not None and requirement not in self._requirements:
            self._faults.unknown(file, row.line, "requirement", "requirement", requirement, list(self._requirements))
        return self._items.get(item) if item is not None else None

    def _amount(self, file: str, row: SheetRow, item: str | None, requirement: str | None,
                shown: Item | None) -> tuple[int, str]:
        text, unit = row.cells.get("amount", ""), row.cells.get("unit", "")
        if item == NOTHING:
            for column, cell in (("amount", text), ("unit", unit)):
                if cell:
                    self._faults.add(file, row.line, column, cell, "nothing here beside 'nothing'")
            return 0, ""
        if unit not in amount.UNITS:
            self._faults.add(file, row.line, "unit", unit, f"a unit: {', '.join(amount.UNITS)}")
            return 0, unit
        if shown is None and requirement is None:
            return 0, unit
        target = shown.unit if shown else unit
        if amount.quantity(unit) != amount.quantity(target):
            self._faults.add(file, row.line, "unit", unit, f"a unit that converts to {target}, the unit of {item}")
            return 0, target
        try:
            return amount.parse(text, unit, target), target
        except ValueError as error:
            self._faults.add(file, row.line, "amount", text, str(error))
            return 0, target

    def _is_otherwise(self, file: str, row: SheetRow, role: Role | None, job: str | None, named: list[str]) -> bool:
        text = row.cells.get("otherwise")
        if text is None:
            return False
        if text != "yes":
            self._faults.add(file, row.line, "otherwise", text, "'yes' or nothing")
        for name in named:
            self._faults.add(file, row.line, name, row.cells[name], "no condition beside 'otherwise'")
        if role is not None and role.takes == "any":
            self._faults.add(file, row.line, "otherwise", text, f"nothing here: {role.name} takes any number of fits")
        if role is not None and job is not None:
            for one in ([job] if job else self._listing.get(role.name, [])):
                first = self._otherwise.setdefault((one, role.name), (file, row.line))
                if first != (file, row.line):
                    self._faults.add(file, row.line, "otherwise", text,
                                     f"one 'otherwise' for {role.name} in {one} ({first[0]}, line {first[1]} is the first)")
        return True
