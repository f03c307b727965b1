"""Reads the sheets of fits: what fills which role, on which vehicles."""

from collections.abc import Mapping, Sequence

from kitbuilder import amount
from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import NOTHING, Condition, Finding, Fit, Item, JobType, Requirement, Role


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
        return [one for row in sheet.rows if (one := self._fit(sheet, row, facts)) is not None]

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
        box = self._cells.box(sheet.file, row.line, named)
        if len(self._faults.found) > before or role is None or job is None:
            return None
        conditions = tuple(Condition(name, cell) for name, cell in named.items())
        return job, Fit(sheet.file, row.line, role.name, item, requirement, milli, unit, box, conditions, finding,
                        otherwise, cells.get("note"))

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
        target = unit
        if unit and shown and not self._faults.excused("item", shown.number):
            target = shown.unit
        if amount.quantity(unit) != amount.quantity(target):
            self._fault(sheet, row, "unit", f"a unit that converts to {target}, the unit of {item}")
            target = unit
        try:
            # Without a unit the amount can still be held against what any decimal must be.
            return amount.parse(text, unit or "L", target or "L"), target
        except ValueError as error:
            self._fault(sheet, row, "amount", str(error))
            return 0, ""

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
