"""What bookings need of stock, and by when: the door from kits to sourcing."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from kitbuilder.kit.totals import Total
from kitbuilder.model.booking import Booking
from kitbuilder.model.plan import Held, Need
from kitbuilder.model.work import WorkKit, WorkLine


def needs_of(booking: Booking, kit: WorkKit, stage_starts: Mapping[str, datetime], totals: Sequence[Total],
             acceptable: Mapping[str, tuple[str, ...]], held: Mapping[str, Sequence[Held]]) -> list[Need]:
    """The needs of a booking: certain lines, those added by hand, and what open questions take in every case.

    Special tools come back and are not needed of stock. `held`: what each need (by its name) has now.
    """
    found = [
        _need(booking, line, stage_starts[line.stage], held)
        for line in kit.lines if line.wanted and line.sort != "special tool"]
    for total in totals:
        extra = total.least - _certain(kit, total)
        stages = [stage_starts[line.stage] for line in kit.lines if line.filler == total.filler and not line.finding]
        if extra > 0 and stages:
            found.append(_extra(booking, total, extra, min(stages), acceptable, held, ""))
    return found


def reserves_of(booking: Booking, kit: WorkKit, stage_starts: Mapping[str, datetime], totals: Sequence[Total],
                acceptable: Mapping[str, tuple[str, ...]], held: Mapping[str, Sequence[Held]]) -> list[Need]:
    """What open questions may take beyond that: held from the shelf where it lies, never ordered."""
    found = []
    for total in totals:
        kept = max(total.least, _certain(kit, total))
        stages = [stage_starts[line.stage] for line in kit.lines if line.filler == total.filler and not line.finding]
        if total.most > kept and stages:
            found.append(_extra(booking, total, total.most - kept, min(stages), acceptable, held, "?"))
    return found


def _certain(kit: WorkKit, total: Total) -> int:
    return sum(
        line.amount for line in kit.lines
        if line.wanted and line.filler == total.filler and line.unit == total.unit and not line.by_hand)


def _need(booking: Booking, line: WorkLine, wanted_at: datetime, held: Mapping[str, Sequence[Held]]) -> Need:
    name = f"{booking.number}/{line.need}"
    return Need(
        name, booking.number, booking.priority == "VOR", line.acceptable, line.amount, line.unit, wanted_at,
        booking.state == "authorised", line.circuit, tuple(held.get(name, ())))


def _extra(booking: Booking, total: Total, quantity: int, wanted_at: datetime,
           acceptable: Mapping[str, tuple[str, ...]], held: Mapping[str, Sequence[Held]], mark: str) -> Need:
    name = f"{booking.number}/{mark or '&'}{total.filler}"
    items = (total.filler,) if total.is_item else acceptable[total.filler]
    return Need(name, booking.number, booking.priority == "VOR", items, quantity, total.unit, wanted_at,
                booking.state == "authorised" and not mark, "", tuple(held.get(name, ())))
