"""Reads one cell of somebody else's sheet as one of ours, or says what was expected of it."""

import re
from datetime import date, datetime
from decimal import Decimal
from typing import Final

from kitbuilder.bringing_in.formats import NumberFormat, read_day, read_number, read_serial
from kitbuilder.bringing_in.grid import Broken, Cell, Covered
from kitbuilder.bringing_in.mapping import ASKED, Mapping
from kitbuilder.bringing_in.targets import Column, of_days
from kitbuilder.errors import one_of
from kitbuilder.vehicle.facts import LISTED, CellError

#: Spreadsheet programs keep no more digits of a number than these; of a longer one the rest is lost already.
_DIGITS: Final = 15
_JOINTS: Final = re.compile(r"(\s+or\s+|\s+to\s+|^from\s+|^up\s+to\s+|^not\s+(?:from\s+|up\s+to\s+)?)")


class CantRead(ValueError):
    """A cell can't be read; its text says what was expected."""


def shown(cell: Cell) -> str:
    """A cell as a person sees it in the sheet."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, (int, float)):
        return f"{cell:.15g}"
    if isinstance(cell, (Broken, Covered)):
        return cell.text
    if isinstance(cell, datetime):
        return cell.isoformat(" ", "minutes") if (cell.hour, cell.minute) != (0, 0) else cell.date().isoformat()
    return cell.isoformat()


def number_text(value: float) -> str:
    """A number cell as a decimal without exponent. Raises CantRead where the sheet has lost digits of it."""
    if not abs(value) < float(10**_DIGITS):
        raise CantRead(f"text: of a number as long as this the sheet keeps {_DIGITS} digits only; make the column text "
                       "there and type it again")
    return str(int(value)) if value == int(value) else f"{Decimal(f'{value:.{_DIGITS}g}'):f}"


def read_cell(cell: Cell, column: Column, mapping: Mapping) -> str:
    """What stands in a cell, as the catalogue writes it; "" for nothing. Raises CantRead."""
    if isinstance(cell, Broken):
        raise CantRead("a value; the sheet shows an error here")
    if isinstance(cell, Covered):
        if not cell.text:
            return ""
        raise CantRead("a cell of its own; this one is merged with the one above (part them in the sheet)")
    if isinstance(cell, bool):
        cell = "TRUE" if cell else "FALSE"
    if isinstance(cell, (int, float)):
        return _number(cell, column, mapping)
    if isinstance(cell, date):
        return _day(cell, column)
    text = cell.strip().replace("\r\n", "\n").replace("\r", "\n")
    if not text or text in mapping.empty:
        return ""
    return read_text(text, column, mapping)


def read_text(text: str, column: Column, mapping: Mapping) -> str:
    """As `read_cell`, for text that isn't empty."""
    separator = mapping.separators.get(column.name)
    if separator:
        parts = [part.strip() for part in text.split(separator)]
        joint = " and " if column.sort == "names" else " or "
        return joint.join(_one(part, column, mapping) for part in parts if part)
    return _one(text, column, mapping)


def _one(text: str, column: Column, mapping: Mapping) -> str:
    ours = mapping.values.get(column.name, {}).get(text)
    if ours == ASKED:
        raise CantRead(f"a word that the mapping knows; it still asks what this is in ours ([values.{column.name}])")
    if ours is not None:
        return ours
    written = NumberFormat(mapping.decimal, mapping.thousands)
    if column.sort == "number":
        if mapping.decimal == ASKED:
            raise CantRead("a number; which sign stands before the decimals is still asked (decimal)")
        number = read_number(text, written)
        if number is None:
            other = "," if mapping.decimal == "." else "."
            hint = f"; the mapping can say decimal = {other!r}" if read_number(text, NumberFormat(other)) else ""
            raise CantRead(f"a number, such as {_example(written)}{hint}")
        return number
    if column.sort == "loose number":
        return read_number(text, written) or text
    if column.sort == "day":
        if mapping.days == ASKED:
            raise CantRead("a day; how days are written is still asked (days)")
        day = read_day(text, mapping.days)
        if day is None:
            raise CantRead(f"a day written {mapping.days}")
        return day
    if column.sort == "word" and text not in column.words:
        raise CantRead(one_of(text, column.known))
    if column.sort == "condition":
        return _condition(text, column, mapping, written)
    return text


def _example(written: NumberFormat) -> str:
    return f"1{written.thousands}234{written.decimal}5" if written.thousands else f"1{written.decimal}5"


def _condition(text: str, column: Column, mapping: Mapping, written: NumberFormat) -> str:
    """A condition in the catalogue's words; days and numbers in it may be written as the sheet writes them."""
    assert column.fact is not None
    if column.fact.kind != LISTED and ASKED not in (mapping.days, mapping.decimal):
        parts = _JOINTS.split(text)
        for place in range(0, len(parts), 2):
            one = parts[place]
            ours = read_day(one, mapping.days) if of_days(column) else read_number(one, written)
            parts[place] = ours or one
        text = "".join(parts)
    try:
        column.fact.read(text)
    except CellError as error:
        raise CantRead(str(error)) from None
    return text


def _number(value: float, column: Column, mapping: Mapping) -> str:
    if of_days(column):
        if mapping.serial_days in ("", ASKED):
            raise CantRead('a day; a bare number is one only if the mapping says so (serial_days = "1900")')
        day = read_serial(value, mapping.serial_days)
        if day is None:
            raise CantRead(f"the number of a day, counted from {mapping.serial_days}")
        return day
    text = number_text(value)
    ours = mapping.values.get(column.name, {}).get(text)
    if ours is None and column.sort in ("number", "loose number"):
        return text
    # what is a number to the sheet is a word to us: it is in no format any more
    bare = Mapping(values=mapping.values)
    return _one(text, column, bare)


def _day(day: date, column: Column) -> str:
    midnight = not isinstance(day, datetime) or (day.hour, day.minute, day.second) == (0, 0, 0)
    if of_days(column):
        if not midnight:
            raise CantRead("a day without a time")
        text = shown(day)
        return _one(text, column, Mapping()) if column.fact else text
    if column.sort == "text" and not column.identifies:
        return shown(day)
    raise CantRead("no day; where the sheet's program made one of something like 3-12, make the column text there and "
                   "type it again")
