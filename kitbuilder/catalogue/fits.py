"""Reads the sheets of fits: what fills which role, on which vehicles."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence

from kitbuilder import amount
from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow, begin_sheet, row_of
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import NOTHING, Box, Condition, Finding, Fit, Item, JobType, Requirement, Role
from kitbuilder.vehicle.values import Values

_Plain = Callable[[int, list[str]], tuple[str, Fit] | None]


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
        # what many rows say alike is looked at once
        self._listed = {(job.name, role) for job in jobs.values() for role in job.roles if role in roles}
        self._amounts: dict[tuple[str, str, str], tuple[int, str]] = {}
        self._said: dict[str, dict[str, tuple[int, Values, Condition]]] = {name: {} for name in cells.numbers}

    def read(self, file: str, data: bytes, known: Collection[str]) -> Iterator[tuple[str, Fit]]:
        """The fits of a sheet, each with its job (empty: every job that lists the role)."""
        sheet, columns, records = begin_sheet(file, data, known, ("role",), self._faults, [])
        facts = [name for name in sheet.columns if name in self._cells.numbers]
        plain = self._plain_of(sheet.file, columns)
        for line, record in records:
            found = plain(line, record) or self._fit(
                sheet, row_of(file, line, columns, record, self._faults), facts)
            if found is not None:
                yield found

    def _plain_of(self, file: str, columns: Sequence[str | None]) -> _Plain:
        """What makes a fit of a row of which all that can be wrong was looked at in a row before it, which is most of
        them; None for any other row."""
        if self._faults.broken or self._faults.unread or not all(columns):
            return lambda line, record: None
        width = len(columns)
        # a column that isn't there is read from an empty cell behind the last
        job_at, role_at, item_at, requirement_at, amount_at, unit_at, finding_at, note_at, otherwise_at, least_at = (
            columns.index(name) if name in columns else width for name in (
                "job", "role", "item", "requirement", "amount", "unit", "finding", "note", "otherwise", "least"))
        said_at = [(at, self._said[name]) for at, name in enumerate(columns) if name in self._said]
        listed, items, requirements, amounts = self._listed, self._items, self._requirements, self._amounts

        def plain(line: int, record: list[str]) -> tuple[str, Fit] | None:
            if len(record) != width:
                return None
            record.append("")
            job, role, item, requirement, finding = (
                record[job_at], record[role_at], record[item_at], record[requirement_at], record[finding_at])
            shown = items.get(item)
            amount_of = amounts.get((record[amount_at], record[unit_at], shown.unit if shown else ""))
            if (amount_of is None or (job, role) not in listed or record[otherwise_at] or record[least_at]
                    or (finding and finding not in self._findings)
                    or (requirement if shown else item or requirement not in requirements)):
                record.pop()
                return None
            box: Box = {}
            conditions = []
            for at, read in said_at:
                text = record[at]
                if text:
                    said = read.get(text)
                    if said is None:
                        record.pop()
                        return None
                    box[said[0]] = said[1]
                    conditions.append(said[2])
            return job, Fit(file, line, role, item or None, requirement or None, *amount_of, box, tuple(conditions),
                            finding or None, False, record[note_at].strip() or None)

        return plain

    def _fit(self, sheet: Sheet, row: SheetRow, facts: Sequence[str]) -> tuple[str, Fit] | None:
        before = len(self._faults.found)
        cells = row.cells
        item, requirement, finding = cells.get("item"), cells.get("requirement"), cells.get("finding")
        role = self._role(sheet, row)
        job = self._job(sheet, row)
        shown = self._filler(sheet, row, item, requirement)
        if finding is not None and finding not in self._findings:
            self._unknown(sheet, row, "finding", list(self._findings))
        named = {name: cells[name] for name in facts if name in cells}
        otherwise = self._is_otherwise(sheet, row, role, job, named)
        if finding is not None and (otherwise or item == NOTHING):
            self._fault(sheet, row, "finding", "nothing here: neither 'nothing' nor 'otherwise' waits for a finding")
        milli, unit = self._amount(sheet, row, item, requirement, shown)
        least = self._least(sheet, row, role, item, milli, unit) if "least" in cells else 0
        box = self._cells.box(sheet.file, row.line, named)
        if len(self._faults.found) > before or role is None or job is None:
            return None
        conditions = tuple(Condition(name, cell) for name, cell in named.items())
        for one in conditions:
            number = self._cells.numbers[one.fact]
            if number in box:
                self._said[one.fact].setdefault(one.cell, (number, box[number], one))
        return job, Fit(sheet.file, row.line, role.name, item, requirement, milli, unit, box, conditions, finding,
                        otherwise, cells.get("note"), least)

    def _fault(self, sheet: Sheet, row: SheetRow, column: str, expected: str) -> None:
        self._faults.add(sheet.file, row.line, column, row.cells.get(column), expected)

    def _unknown(self, sheet: Sheet, row: SheetRow, what: str, known: Sequence[str]) -> None:
        self._faults.unknown(sheet.file, row.line, what, what, row.cells[what], known)

    def _role(self, sheet: Sheet, row: SheetRow) -> Role | None:
        name = row.cells.get("role", "")
        if not name:
            sheet.missing(row, "role", "a role", self._faults)
        elif name not in self._roles:
            self._unknown(sheet, row, "role", list(self._roles))
        return self._roles.get(name)

    def _job(self, sheet: Sheet, row: SheetRow) -> str | None:
        """The job type, empty for every one that lists the role; None where it can't be known."""
        name, role = row.cells.get("job", ""), row.cells.get("role", "")
        if not name:
            return None if "job" in sheet.meant else ""
        if (name, role) in self._listed:
            return name
        if name not in self._jobs:
            self._unknown(sheet, row, "job", list(self._jobs))
            return None
        listed = self._jobs[name].roles
        if role in self._roles and role not in listed:
            if ("roles", name) not in self._faults.broken:
                self._fault(sheet, row, "role", f"a role that {name} lists: {one_of(role, list(listed))}")
            return None
        return name

    def _filler(self, sheet: Sheet, row: SheetRow, item: str | None, requirement: str | None) -> Item | None:
        """The item that is to fill the role, if it is one."""
        if item is None and requirement is None:
            if not sheet.meant & {"item", "requirement"}:
                column = "item" if "item" in sheet.columns or "requirement" not in sheet.columns else "requirement"
                sheet.missing(row, column, "an item (or 'nothing') or a requirement", self._faults)
        elif item is not None and requirement is not None:
            self._fault(sheet, row, "requirement", f"either an item or a requirement, not both (the item is {item})")
        elif requirement is not None and requirement not in self._requirements:
            self._unknown(sheet, row, "requirement", list(self._requirements))
        if item is not None and item != NOTHING and item not in self._items:
            self._unknown(sheet, row, "item", list(self._items))
        return self._items.get(item) if item is not None else None

    def _amount(self, sheet: Sheet, row: SheetRow, item: str | None, requirement: str | None,
                shown: Item | None) -> tuple[int, str]:
        """Amount and unit as they are shown: in the item's unit, a requirement's as written."""
        before = len(self._faults.found)
        told = item is None and requirement is None  # what is to be measured is missing, which says enough
        text, unit = row.cells.get("amount", ""), row.cells.get("unit", "")
        if item == NOTHING:
            for column, cell in (("amount", text), ("unit", unit)):
                if cell:
                    self._fault(sheet, row, column, "nothing here beside 'nothing'")
            return 0, ""
        if unit not in amount.UNITS:
            if unit:
                self._fault(sheet, row, "unit", f"a unit: {one_of(unit, amount.UNITS)}")
            elif not told:
                sheet.missing(row, "unit", f"a unit: {', '.join(amount.UNITS)}", self._faults)
            unit = ""
        if not text:
            if not told:
                sheet.missing(row, "amount", "a decimal more than zero, such as 1 or 0.5", self._faults)
            return 0, ""
        said = text, unit, shown.unit if shown else ""
        if said in self._amounts:
            return self._amounts[said]
        target = unit
        if unit and shown and not self._faults.excused("item", shown.number):
            target = shown.unit
        if amount.quantity(unit) != amount.quantity(target):
            self._fault(sheet, row, "unit", f"a unit that converts to {target}, the unit of {item}")
            target = unit
        try:
            # Without a unit the amount can still be held against what any decimal must be.
            found = amount.parse(text, unit or "L", target or "L"), target
            if len(self._faults.found) == before and unit:
                self._amounts[said] = found
            return found
        except ValueError as error:
            self._fault(sheet, row, "amount", str(error))
            return 0, ""

    def _least(self, sheet: Sheet, row: SheetRow, role: Role | None, item: str | None, milli: int, unit: str) -> int:
        """The least that a fill to level takes, in the unit in which its amount is shown."""
        text, written = row.cells["least"], row.cells.get("unit", "")
        if item == NOTHING:
            self._fault(sheet, row, "least", "nothing here beside 'nothing'")
        elif role is not None and not role.fill:
            self._fault(sheet, row, "least", f"nothing here: {role.name} is no fill (its role has no key fill)")
        elif written in amount.COUNTED:
            self._fault(sheet, row, "least", f"nothing here: {written} is counted, not filled to a level")
        elif amount.quantity(written) == amount.quantity(unit):
            try:
                least = amount.parse(text, written or "L", unit or "L")
            except ValueError as error:
                self._fault(sheet, row, "least", str(error))
                return 0
            if milli and least >= milli:
                self._fault(sheet, row, "least", f"less than the amount, {row.cells['amount']} {written}")
            return least
        return 0

    def _is_otherwise(self, sheet: Sheet, row: SheetRow, role: Role | None, job: str | None,
                      named: Mapping[str, str]) -> bool:
        text = row.cells.get("otherwise")
        if text is None:
            return False
        if text != "yes":
            self._fault(sheet, row, "otherwise", "'yes' or nothing")
            return False
        for name in named:
            self._fault(sheet, row, name, "no condition beside 'otherwise'")
        if role is None:
            return True
        if role.takes == "any":
            self._fault(sheet, row, "otherwise", f"nothing here: {role.name} takes any number of fits")
        elif job is not None:
            self._only_one(sheet, row, role.name, [job] if job else self._listing.get(role.name, []))
        return True

    def _only_one(self, sheet: Sheet, row: SheetRow, role: str, jobs: Sequence[str]) -> None:
        """Note an 'otherwise' for a role that one of its jobs already has."""
        here = (sheet.file, row.line)
        firsts = {job: self._otherwise.setdefault((job, role), here) for job in jobs}
        taken = {job: first for job, first in firsts.items() if first != here}
        if taken:
            job, (file, line) = next(iter(taken.items()))
            self._fault(sheet, row, "otherwise", f"one 'otherwise' for {role} in {job} ({file}, line {line} has it)")
