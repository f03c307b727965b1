"""Pick lists: what is held for a booking, in bin order."""

import re
from collections.abc import Callable, Mapping, Sequence

from kitbuilder import amount
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.kit import Kit
from kitbuilder.model.shelf import HoldRow, ReserveRow, ShelfLot
from kitbuilder.model.work import PickList, PickRow, WorkKit, WorkLine
from kitbuilder.workshop.beside import comes_off, goes_back, hazards
from kitbuilder.workshop.needs import is_reserve

_Ordered = tuple[tuple[bool, int, str], ...]
_Place = tuple[_Ordered, str, str, _Ordered, str, str, str]


def pick_list(booking: Booking, kit: WorkKit, holds: Sequence[HoldRow], items: Mapping[str, Item],
              shelf: Sequence[ShelfLot], warnings: Sequence[str] = (), built: Kit | None = None,
              aside: Sequence[ReserveRow] = ()) -> PickList:
    """The pick list of a booking: holds in bin order, then which tools to fetch, and what the shelf has for findings.
    `aside`: what is set aside at the site for findings. With the kit as `built`, also what goes back, what comes off,
    and the hazards of what is fetched.

    What lies in one bin, of one lot, is one row, whatever it is for. Holds that are issued are done with.
    """
    purposes = _purposes(kit)
    mine = [one for one in aside if booking.number in one.bookings]
    fetch: dict[_Place, list[HoldRow]] = {}
    stays: dict[_Place, list[HoldRow]] = {}
    for hold in holds:
        # bins of one aisle are walked as they are numbered, not A-10 before A-2
        place = (in_order(hold.bin), hold.bin, hold.item, in_order(hold.lot), hold.lot, hold.state, hold.unit)
        if hold.state != "issued":
            (stays if is_reserve(hold.need) else fetch).setdefault(place, []).append(hold)
    held = {hold.need for hold in holds}
    fetched = {hold.item for hold in holds}
    return PickList(
        warnings=tuple(warnings), booking=booking.number, job=booking.job, registration=booking.registration,
        bay=booking.bay, start=booking.start_wall,
        lines=tuple(_row(fetch[place], items, purposes) for place in sorted(fetch)),
        reserved=tuple(_row(stays[place], items, purposes) for place in sorted(stays)),
        not_held=tuple(
            f"{amount.show(line.amount)} {line.unit} {line.name}{_numbers(line)}"
            for line in kit.must_be_there if f"{booking.number}/{line.need}" not in held),
        tools=tuple(
            f"{line.name}{_numbers(line)}{'' if line.wanted else ', perhaps: ask first'}"
            f"{_lies(line.acceptable, shelf, ())}"
            for line in kit.lines if line.sort == "special tool" and (line.along or not line.waits)),
        on_condition=tuple(
            f"{line.name}{_numbers(line)}, if: {line.condition}{_lies(line.acceptable, shelf, mine)}"
            for line in kit.lines if line.waits and not line.along),
        elsewhere=kit.elsewhere,
        back=goes_back(booking, built, fetched) if built else (), comes_off=comes_off(built) if built else (),
        hazards=hazards(built, fetched) if built else ())


def in_order(text: str) -> _Ordered:
    """A key by which `A-2` comes before `A-10`: digits count as numbers, and come before letters."""
    parts = re.findall(r"[0-9]+|[^0-9]+", text)
    return tuple((False, int(part), "") if part.isascii() and part.isdigit() else (True, 0, part) for part in parts)


def _purposes(kit: WorkKit) -> Callable[[str], list[WorkLine]]:
    """What a need is for: its line, or the lines that an open question may bring."""
    named = {line.need: [line] for line in kit.lines}
    for opened in (*kit.extras, *kit.reserves):
        named[opened.need] = [
            line for line in kit.lines
            if line.takes == opened.takes and not line.wanted and not line.waits and not line.added] or (
                [opened] if opened.because else [])
    return lambda need: named.get(need, [])


def _row(holds: Sequence[HoldRow], items: Mapping[str, Item], purposes: Callable[[str], list[WorkLine]]) -> PickRow:
    one = holds[0]
    item = items.get(one.item)
    lines = [line for hold in holds for line in purposes(hold.need.partition("/")[2])]
    name, code = (item.name, (*item.codes, item.number)[0]) if item else (one.item, one.item)
    return PickRow(
        one.item, name, amount.show(sum(hold.quantity for hold in holds)), one.unit, one.bin, one.lot, one.use_by, code,
        tuple(dict.fromkeys(line.role for line in lines)), tuple(dict.fromkeys(line.title for line in lines)),
        one.state, tuple(hold.id for hold in holds),
        tuple(dict.fromkeys(text for line in lines for text in line.because)))


def _numbers(line: WorkLine) -> str:
    if not line.acceptable and line.because:
        return f" ({'; '.join(line.because)})"
    return f" ({' or '.join(line.acceptable)})" if line.acceptable else " (no item of the catalogue will do)"


def _lies(numbers: Sequence[str], shelf: Sequence[ShelfLot], aside: Sequence[ReserveRow]) -> str:
    told = [f"{amount.show(one.quantity)} {one.unit} set aside in {one.bin}" for one in aside if one.item in numbers]
    if told:
        return f": {', '.join(told)}"
    free = [lot for lot in shelf if lot.item in numbers and lot.free > 0]
    if not free:
        return ": none free on the shelf"
    several = len({lot.item for lot in free}) > 1
    return ": " + ", ".join(
        f"{amount.show(lot.free)} {lot.unit}{f' {lot.item}' if several else ''} in {lot.bin}" for lot in free)


def shortages(holds: Sequence[HoldRow], found: int) -> list[tuple[HoldRow, int]]:
    """Of holds of one item in one place only `found` (milli-units in all) is there: which of them fall short, and what
    each is left with. What is only reserved goes first, then the last made."""
    left = found
    short = []
    for hold in sorted(holds, key=lambda one: (is_reserve(one.need), one.id)):
        kept = min(hold.quantity, left)
        left -= kept
        if kept < hold.quantity:
            short.append((hold, kept))
    return short
