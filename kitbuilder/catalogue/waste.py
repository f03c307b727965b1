"""Reads waste.csv: what comes off in a job and has to be got rid of, with its code of the European List of Waste."""

from collections.abc import Mapping

from kitbuilder import amount
from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import Condition, JobType, Role, Waste


def read_wastes(sheet: Sheet, cells: CellReader, jobs: Mapping[str, JobType], roles: Mapping[str, Role],
                faults: Faults) -> tuple[Waste, ...]:
    """The rows in the order of the file."""
    facts = [name for name in sheet.columns if name in cells.numbers]
    return tuple(_waste(sheet, row, facts, cells, jobs, roles, faults) for row in sheet.rows)


def _waste(sheet: Sheet, row: SheetRow, facts: list[str], cells: CellReader, jobs: Mapping[str, JobType],
           roles: Mapping[str, Role], faults: Faults) -> Waste:
    job, role, what = (row.cells.get(column, "") for column in ("job", "role", "what"))
    if job and job not in jobs:
        faults.unknown(sheet.file, row.line, "job", "job", job, list(jobs))
    if role and role not in roles:
        faults.unknown(sheet.file, row.line, "role", "role", role, list(roles))
    if job in jobs and role in roles and role not in jobs[job].roles and ("roles", job) not in faults.broken:
        faults.add(sheet.file, row.line, "role", role,
                   f"a role that {job} lists, or none: {one_of(role, list(jobs[job].roles))}")
    if not job and not role and not sheet.meant & {"job", "role"}:
        column = "role" if "role" in sheet.columns or "job" not in sheet.columns else "job"
        sheet.missing(row, column, "a job, or a role with whose lines it comes off", faults)
    if not what:
        sheet.missing(row, "what", "what comes off, in words", faults)
    code = _code(sheet, row, faults)
    milli, unit = _amount(sheet, row, faults)
    named = {name: row.cells[name] for name in facts if name in row.cells}
    box = cells.box(sheet.file, row.line, named)
    conditions = tuple(Condition(name, cell) for name, cell in named.items())
    return Waste(sheet.file, row.line, job, role, what, code, milli, unit, box, conditions, row.cells.get("note"))


def _code(sheet: Sheet, row: SheetRow, faults: Faults) -> str:
    text = row.cells.get("code")
    if text is None:
        sheet.missing(row, "code", "a code of the European List of Waste, such as 13 02 06*", faults)
        return ""
    from kitbuilder.kinds.waste import read_code

    try:
        return read_code(text)
    except ValueError as error:
        faults.add(sheet.file, row.line, "code", text, str(error))
        return ""


def _amount(sheet: Sheet, row: SheetRow, faults: Faults) -> tuple[int, str]:
    """Amount and unit, which go together; 0 where it isn't told how much."""
    text, unit = row.cells.get("amount"), row.cells.get("unit", "")
    if unit and unit not in amount.UNITS:
        faults.add(sheet.file, row.line, "unit", unit, f"a unit: {one_of(unit, amount.UNITS)}")
        unit = ""
    elif text is not None and not unit:
        sheet.missing(row, "unit", f"a unit: {', '.join(amount.UNITS)}", faults)
    if text is None:
        if unit:
            sheet.missing(row, "amount", "a decimal more than zero, such as 1 or 0.5, beside a unit", faults)
        return 0, ""
    try:
        return amount.parse(text, unit or "L", unit or "L"), unit
    except ValueError as error:
        faults.add(sheet.file, row.line, "amount", text, str(error))
        return 0, ""
