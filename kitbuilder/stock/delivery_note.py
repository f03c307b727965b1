"""Reads the GS1 codes on delivered goods: which item, of which lot, to be used by when, and how many.

The codes are those of the GS1 General Specifications: element strings with Application Identifiers, as a scanner sends
them (with FNC1 as the character 29 between fields, with or without a symbology identifier), or as they are printed,
with brackets; and bare GTINs. biip takes them apart; its reading of years goes by the machine's clock, so days are
read here, by the day that is passed in.
"""

import calendar
import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import NamedTuple

from kitbuilder import amount
from kitbuilder.errors import BadData
from kitbuilder.model.catalogue import Item
from kitbuilder.model.delivery_note import DeliveryNote, NoteFault, NoteRow

#: Symbology identifiers of codes that carry GS1 element strings (ISO/IEC 15424: GS1-128, DataBar, DataMatrix, QR).
CARRIERS = ("]C1", "]e0", "]d2", "]Q3")
#: Lengths of a GTIN.
GTINS = (8, 12, 13, 14)
#: What must be told of a delivery, and can be: others are passed over.
_USE_BY, _BEST_BEFORE = "17", "15"
#: Net amounts (310n kilograms, 315n litres; the fourth digit is the number of decimals).
_NET = {"310": "kg", "315": "L"}


#: The customer's purchase order number, and the number of the shipment (GSIN).
_ORDER, _SHIPMENT = "400", "402"


class _Cannot(ValueError):
    pass


class _Papers(NamedTuple):
    """What the scans tell besides rows: serial numbers by GTIN, boxes and pallets, order and shipment numbers."""

    serials: set[tuple[str, str]]
    containers: list[str]
    orders: list[str]
    shipments: list[str]

    def take(self, container: str | None, order: str, shipment: str | None) -> None:
        """Note what a scan tells."""
        self.containers.extend([container] if container is not None else [])
        self.orders.extend([order] if order else [])
        self.shipments.extend([shipment] if shipment is not None else [])


def read_delivery_note(text: str, items: Iterable[Item], day: date) -> DeliveryNote:
    """What the scans of a delivery say, a line each. `day` is today, by which two-digit years are read.

    The same item and lot on several lines add up; a serial number or a container's number that comes twice is a label
    scanned twice. Raises BadData where the library that reads codes isn't installed.
    """
    try:
        import biip  # noqa: F401 - that it is there
    except ImportError:
        raise BadData("Codes are read with the library biip, which isn't installed: pip install 'kitbuilder[codes]'."
                      ) from None
    known = {code.zfill(14): item for item in items for code in item.codes
             if code.isascii() and code.isdigit() and len(code) in GTINS}
    rows: dict[tuple[str, str, str], NoteRow] = {}
    papers = _Papers(set(), [], [], [])
    faults: list[NoteFault] = []
    # not splitlines: to it the character 29 ends a line
    for number, line in enumerate(re.split("\r\n|\r|\n", text), 1):
        if not line.strip():
            continue
        try:
            _take(number, _elements(line.strip(" \t")), known, day, rows, papers)
        except _Cannot as error:
            shown = "".join(char if char.isprintable() else "|" for char in line.strip())
            faults.append(NoteFault(number, shown, str(error)))
    return DeliveryNote(tuple(rows.values()), tuple(papers.containers), tuple(faults), tuple(papers.orders),
                        tuple(papers.shipments))


def _elements(line: str) -> dict[str, str]:
    """The fields of one scan by Application Identifier; those of amounts with their decimals, such as 3103."""
    from biip import ParseError
    from biip.gs1_messages import GS1Message

    if line[:3] in CARRIERS:
        line = line[3:]
    elif line.startswith("]"):
        raise _Cannot(f"a code of the kind {line[:3]} has no GS1 fields in it")
    line = line.strip("\x1d")
    if line.isascii() and line.isdigit() and len(line) in GTINS:
        return {"01": _gtin(line)}
    try:
        message = GS1Message.parse_hri(line) if line.startswith("(") else GS1Message.parse(line)
    except ParseError as error:
        raise _Cannot(f"these are no GS1 fields ({' '.join(str(error).split())})") from None
    found: dict[str, str] = {}
    for one in message.element_strings:
        if found.setdefault(one.ai.ai, one.value) != one.value:
            raise _Cannot(f"({one.ai.ai}) is told twice, and differently")
        if one.gtin_error or one.sscc_error:
            raise _Cannot(f"the check digit of ({one.ai.ai}){one.value} is wrong: scan it again")
    return found


def _gtin(digits: str) -> str:
    from biip import ParseError
    from biip.gtin import Gtin

    try:
        Gtin.parse(digits)
    except ParseError:
        raise _Cannot("it is as long as a GTIN, but its check digit is wrong: scan it again") from None
    return digits.zfill(14)


def _take(number: int, told: dict[str, str], known: dict[str, Item], day: date,
          rows: dict[tuple[str, str, str], NoteRow], papers: _Papers) -> None:
    container, order = told.get("00"), told.get(_ORDER, "").strip()
    if container is not None and container in papers.containers:
        raise _Cannot(f"the box or pallet {container} was scanned already")
    gtin = told.get("01") or told.get("02")
    if gtin is None:
        if container is None and not order and _SHIPMENT not in told:
            raise _Cannot("it names no item: neither (01) nor (02)")
        papers.take(container, order, told.get(_SHIPMENT))
        return
    item = known.get(gtin.zfill(14))
    if item is None:
        raise _Cannot(f"no item of the catalogue has the code {gtin.lstrip('0')}: put it under codes in items.csv")
    serial = (gtin, told["21"]) if "21" in told else None
    if serial in papers.serials:
        raise _Cannot(f"the one with the serial number {told['21']} was scanned already")
    lot, use_by = told.get("10", ""), _day(told, day)
    quantity = _quantity(told, item)
    scans: tuple[int, ...] = (number,)
    for other in rows.values():
        if (other.item, other.lot) == (item.number, lot) and other.use_by != use_by:
            raise _Cannot(f"scan {other.scans[0]} tells another day for {item.number}"
                          + (f", lot {lot}" if lot else "") + ": look at the labels")
    before = rows.get((item.number, lot, order))
    if before is not None:
        quantity, scans = before.quantity + quantity, (*before.scans, number)
    rows[item.number, lot, order] = NoteRow(item.number, lot, use_by, quantity, item.unit, scans, order)
    if serial is not None:
        papers.serials.add(serial)
    papers.take(container, "", told.get(_SHIPMENT))


def _quantity(told: dict[str, str], item: Item) -> int:
    """Milli-units of the item's unit."""
    count = _count(told)
    if item.unit in amount.COUNTED:
        return count * 1000
    for ai, value in told.items():
        unit = _NET.get(ai[:3]) if len(ai) == 4 else None
        if unit is not None and amount.quantity(unit) == amount.quantity(item.unit):
            places = int(ai[3])
            digits = value.zfill(places + 1)
            text = digits[:-places] + "." + digits[-places:] if places else digits
            return amount.parse(text, unit, item.unit) * count
    raise _Cannot(f"it doesn't say how much is in one, and {item.number} is counted in {item.unit}: book it in by hand")


def _count(told: dict[str, str]) -> int:
    counts = {told[ai] for ai in ("30", "37") if ai in told}
    if len(counts) > 1:
        raise _Cannot("(30) and (37) tell different counts")
    count = int(counts.pop()) if counts else 1
    if count == 0:
        raise _Cannot("it tells a count of 0")
    return count


def _day(told: dict[str, str], today: date) -> date | None:
    """The last day of use: (17), else (15)."""
    text = told.get(_USE_BY) or told.get(_BEST_BEFORE)
    return None if text is None else gs1_day(text, today)


def gs1_day(text: str, today: date) -> date:
    """The day of YYMMDD. Day 00 is the month's last; the year is the one from 49 before to 50 after this one that ends
    so (GS1 General Specifications, 7.12). Raises ValueError for no such day."""
    year, month, day = int(text[:2]), int(text[2:4]), int(text[4:6])
    ahead = (year - today.year) % 100
    full = today.year + (ahead if ahead <= 50 else ahead - 100)
    try:
        return date(full, month, day or calendar.monthrange(full, month)[1])
    except (ValueError, calendar.IllegalMonthError):
        raise _Cannot(f"there is no day {text}") from None


def for_orders(note: DeliveryNote, known: Mapping[str, int]) -> dict[int, int | str]:
    """Which order each row (by its place) is for, by the purchase order numbers on the labels; empty: none is named.

    `known`: our orders by what may stand for them. One order that is named anywhere is for all rows. Where several are,
    a row whose own label names none can't be told, and has a sentence instead.
    """
    named = {known[text] for text in (*note.orders, *(row.order for row in note.rows)) if text in known}
    if len(named) < 2:
        return {place: order for place in range(len(note.rows)) for order in named}
    which = " or ".join(map(str, sorted(named)))
    return {place: known.get(row.order, f"is it for order {which}? Book it in by hand, or scan each order's apart")
            for place, row in enumerate(note.rows)}


def number_of(note: DeliveryNote) -> str:
    """What can stand for the delivery note's number: the one shipment's, else the one box's or pallet's; else ""."""
    for numbers in (set(note.shipments), set(note.containers)):
        if len(numbers) == 1:
            return next(iter(numbers))
    return ""
