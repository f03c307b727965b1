"""Pick lists: what is held for a booking, in bin order."""

from collections.abc import Mapping, Sequence

from kitbuilder import amount
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.shelf import HoldRow, ShelfLot
from kitbuilder.model.work import PickList, PickRow, WorkKit


def pick_list(booking: Booking, kit: WorkKit, holds: Sequence[HoldRow], items: Mapping[str, Item],
              shelf: Sequence[ShelfLot], warnings: Sequence[str] = ()) -> PickList:
    """The pick list of a booking: holds in bin order, then which tools to fetch, and what the shelf has for findings."""
    titles = {line.need: line.title for line in kit.lines}
    rows = []
    for hold in sorted(holds, key=lambda one: (one.bin, one.item, one.lot, one.id)):
        item = items.get(hold.item)
        need = hold.need.split("/", 1)[1]
        reserve = need.startswith("?")
        rows.append(PickRow(
            hold.item, item.name if item else hold.item, amount.show(hold.quantity), hold.unit, hold.bin, hold.lot,
            hold.use_by, item.codes[0] if item and item.codes else hold.item,
            ("only if asked for: an open question",) if reserve else (titles.get(need, need),), hold.state, hold.id))
    tools = [
        f"{line.name} ({' or '.join(line.acceptable)}){_lies(line.acceptable, shelf)}"
        for line in kit.lines if line.sort == "special tool" and line.wanted]
    condition = [
        f"{line.name} ({' or '.join(line.acceptable)}), if: {line.finding}{_lies(line.acceptable, shelf)}"
        for line in kit.lines if line.finding is not None]
    return PickList(
        warnings=tuple(warnings), booking=booking.number, job=booking.job, registration=booking.registration,
        bay=booking.bay, start=booking.start_wall, lines=tuple(rows), tools=tuple(tools), on_condition=tuple(condition))


def _lies(numbers: Sequence[str], shelf: Sequence[ShelfLot]) -> str:
    free = [lot for lot in shelf if lot.item in numbers and lot.free > 0]
    if not free:
        return ": none on the shelf"
    return ": " + ", ".join(f"{amount.show(lot.free)} {lot.unit} in {lot.bin}" for lot in free)
