"""Reads a CSV file that isn't a catalogue's own (a price list, a register) as rows of cells."""

from collections.abc import Collection
from pathlib import Path

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import SheetRow, read_sheet
from kitbuilder.errors import BadData

__all__ = ["SheetRow", "read_rows"]


def read_rows(path: Path, needed: Collection[str], known: Collection[str] | None = None,
              data: bytes | None = None) -> list[SheetRow]:
    """The rows of a CSV file: UTF-8 with or without mark; comma, semicolon or tab; empty rows skipped.

    A row has `line` (as an editor counts it) and `cells` (trimmed, by column, empty ones left out).
    `known` limits the columns, where it is given; `data` are the file's bytes, where they are read already. Raises
    BadData with all that is wrong.
    """
    try:
        data = path.read_bytes() if data is None else data
    except OSError as error:
        raise BadData(f"{path.name} can't be read: {error.strerror}.") from None
    faults = Faults()
    anything = _Anything() if known is None else known
    sheet = read_sheet(path.name, data, anything, needed, faults)
    if faults.found:
        raise BadData("; ".join(str(fault) for fault in sorted(faults.found)) + ".")
    return list(sheet.rows)


class _Anything(Collection[str]):
    def __contains__(self, name: object) -> bool:
        return True

    def __iter__(self):  # type: ignore[no-untyped-def]
        return iter(())

    def __len__(self) -> int:
        return 0
