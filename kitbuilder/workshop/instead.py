"""What a person takes in an item's place, put into the kits that get it: a swap by hand, with its reason.

So it is needed, held, picked and checked instead of the item, and the item isn't ordered again.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from kitbuilder import amount
from kitbuilder.model.booking import EditRow
from kitbuilder.model.order import OrderRow
from kitbuilder.model.work import WorkLine
from kitbuilder.workshop.work import Work


class Instead(NamedTuple):
    """So much (milli-units of `unit`) of `item`, which is taken in place of `of` for an order."""

    of: str
    item: str
    quantity: int
    unit: str


def gets(order: OrderRow, one: Instead, starts: Mapping[int, datetime]) -> dict[tuple[int, str], int]:
    """Which booking and need gets how much of it, the first start first, as the store shares it out."""
    left = one.quantity
    found = {}
    waiting = [(starts[wanted.booking], place, wanted) for place, wanted in enumerate(order.wanted_for)
               if wanted.item == one.of and wanted.booking in starts]
    for _, _, wanted in sorted(waiting, key=lambda each: each[:2]):
        taken = min(left, wanted.quantity)
        left -= taken
        if taken:
            found[wanted.booking, wanted.need] = taken
    return found


def swaps(works: Mapping[int, Work], shares: Mapping[tuple[int, str], int], one: Instead, who: str, why: str,
          now: datetime) -> tuple[list[EditRow], list[int]]:
    """The edits by which the kits take the item, and the bookings whose kit a person must change themselves: where it
    covers a line in part only, or the line is of an open question. A kit that takes it anyway needs no edit."""
    edits: list[EditRow] = []
    by_hand: list[int] = []
    for booking in dict.fromkeys(booking for booking, _ in shares):
        work = works.get(booking)
        lines = [] if work is None else [line for line in (*work.lines.lines, *work.lines.extras, *work.lines.reserves)
                                         if (booking, f"{booking}/{line.need}") in shares]
        lines = [line for line in lines if one.item not in line.acceptable]
        whole = work is not None and all(_covered(work, booking, line, shares, one) for line in lines)
        if work is None or not whole:
            by_hand.append(booking)
            continue
        edits += [EditRow(booking=booking, action="swap", role=role, filler=filler, item=one.item, who=who, why=why,
                          at=now) for role, filler in dict.fromkeys((line.role, line.filler) for line in lines)]
    return edits, by_hand


def _covered(work: Work, booking: int, line: WorkLine, shares: Mapping[tuple[int, str], int], one: Instead) -> bool:
    """Whether it covers all that a swap of a line changes: all of its role's lines that are filled with the same."""
    if line not in work.lines.lines or amount.quantity(line.unit) != amount.quantity(one.unit):
        return False
    same: Sequence[WorkLine] = [each for each in work.lines.lines if each.wanted and (
        each.role, each.filler) == (line.role, line.filler)]
    return all(amount.convert(shares.get((booking, f"{booking}/{each.need}"), 0), one.unit, each.unit) >= each.amount
               for each in same)
