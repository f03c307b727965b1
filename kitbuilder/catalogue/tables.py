"""Reads combinations tables, and joins those that share facts."""

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Final

import msgspec

from kitbuilder.catalogue.cells import CellReader, comma
from kitbuilder.catalogue.columns import TABLE_COLUMNS
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import Sheet, SheetRow
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint, Row, Table, TableFault, clusters, join

#: More digits couldn't be kept exactly as a fraction of machine numbers.
_SHARE: Final = re.compile(r"(?=.*[1-9])(?=[0-9.]{1,18}$)[0-9]+(\.[0-9]+)?")
#: Rows that can't be joined are told one by one; a table that is wrong all through needn't be told to its end.
_MOST_TOLD: Final = 20


def read_table(sheet: Sheet, facts: Sequence[Fact], cells: CellReader, faults: Faults) -> Table:
    """A combinations table. What is wrong with it marks it as broken, so that it is not joined."""
    before = len(faults.found)
    columns = list(dict.fromkeys(name for name in sheet.columns if name in cells.numbers))
    whose = [facts[cells.numbers[name]].of for name in columns if not faults.excused("fact", name)]
    excused = any(faults.excused("fact", name) for name in sheet.columns)
    if sheet.whole:
        if not columns and not excused and set(sheet.columns) <= TABLE_COLUMNS:
            faults.add(sheet.file, sheet.line, "", ", ".join(sheet.columns), "at least one column named like a fact")
        if len(set(whose)) > 1:
            faults.add(sheet.file, sheet.line, "", ", ".join(columns), "facts all of the vehicle, or all of the job")
        if not sheet.rows:
            faults.add(sheet.file, 0, "", "", "at least one row (a table without rows allows no world)")
    rows = []
    for row in sheet.rows:
        share = _share(sheet, row, faults) if "share" in sheet.columns else None
        box = cells.box(sheet.file, row.line, {name: row.cells[name] for name in columns if name in row.cells})
        rows.append(Row(row.line, box, share))
    if len(faults.found) > before or not sheet.sound or excused:
        faults.broken.add(("table", sheet.file))
    return Table(sheet.file, tuple(sorted(cells.numbers[name] for name in columns)), tuple(rows))


def _share(sheet: Sheet, row: SheetRow, faults: Faults) -> tuple[int, int] | None:
    text = row.cells.get("share", "")
    if _SHARE.fullmatch(text):
        return Decimal(text).as_integer_ratio()
    long = re.fullmatch(r"[0-9.]+", text) and len(text) > 18
    faults.add(sheet.file, row.line, "share", text,
               comma(text) or f"a decimal more than zero{', with fewer digits' if long else ''}")
    return None


def join_tables(tables: Sequence[Table], facts: Sequence[Fact], faults: Faults) -> list[Joint]:
    """The joins of the tables that share facts. A join with a broken table in it is left out."""
    found = []
    sizes = [fact.size for fact in facts]
    for together in clusters(tables):
        if any(("table", table.file) in faults.broken for table in together):
            continue
        joint = _join(together, sizes, faults)
        if joint is not None:
            found.append(joint)
    return found


def _join(tables: Sequence[Table], sizes: Sequence[int], faults: Faults) -> Joint | None:
    """The join, or None with every row noted that stands in its way: each is left out and the rest tried again."""
    for _ in range(_MOST_TOLD):
        try:
            joint = join(tables, sizes)
        except TableFault as error:
            files = ", ".join(error.files)
            faults.add(files, error.row, "share" if error.row or "share" in str(error) else "", "", str(error))
            left = [_without(table, error.row) if table.file == files else table for table in tables]
            if not error.row or not all(table.rows for table in left):
                return None
            tables = left
        else:
            if not joint.boxes:
                files = ", ".join(joint.files)
                faults.add(files, 0, "", "", "tables that allow at least one world together")
            return joint
    return None


def _without(table: Table, row: int) -> Table:
    return msgspec.structs.replace(table, rows=tuple(one for one in table.rows if one.row != row))
