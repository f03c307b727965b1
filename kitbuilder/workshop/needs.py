"""What bookings need of stock, and by when: the door from kits to sourcing."""

from collections.abc import Mapping, Sequence
from datetime import datetime

import msgspec

from kitbuilder import amount
from kitbuilder.kit.totals import Total
from kitbuilder.model.along import Along
from kitbuilder.model.booking import Booking
from kitbuilder.model.plan import Held, Need
from kitbuilder.model.work import WorkKit, WorkLine
from kitbuilder.stock.supersede import in_any_way

#: What the name of a need begins with that open questions bring: in every case, or only in some.
EXTRA, RESERVE = "&", "?"


def with_open(kit: WorkKit, totals: Sequence[Total], stages: Sequence[str]) -> WorkKit:
    """A kit with what its open questions bring. `totals` are of its lines after edits, `stages` in order."""
    extras, reserves = [], []
    for total in totals:
        name = (total.filler, total.is_item, amount.quantity(total.unit))
        lines = [line for line in kit.lines if line.takes == name and not line.waits and not line.added
                 and line.sort != "special tool"]
        certain = sum(amount.convert(line.amount, line.unit, total.unit) for line in lines if line.wanted)
        opened = [line for line in lines if not line.wanted]
        if not opened:
            continue
        if total.least > certain:
            extras.append(_opened(EXTRA, total, total.least - certain, lines, opened, stages))
        if total.most > max(total.least, certain):
            reserves.append(_opened(RESERVE, total, total.most - max(total.least, certain), lines, opened, stages))
    return msgspec.structs.replace(kit, extras=tuple(extras), reserves=tuple(reserves))


def with_chosen(kit: WorkKit, along: Along) -> WorkKit:
    """A kit in which the lines on condition that were chosen to go along are wanted, as built; those that only some
    answer to an open question brings wait for it all the same."""
    left = {(one.item or one.requirement, amount.quantity(one.unit)): one for one in along.take}
    taken: dict[tuple[str | None, str], int] = {}
    lines = []
    for line in kit.lines:
        key = (line.filler, amount.quantity(line.unit))
        one = left.get(key)
        if line.finding is not None and line.certainty == "certain" and not line.advised and one is not None:
            most = amount.parse(one.amount, one.unit, one.unit)
            if amount.convert(taken.get(key, 0), line.unit, one.unit) < most:
                # a tool serves all its findings, so the first line has all of it
                taken[key] = taken.get(key, 0) + (10**15 if line.sort == "special tool" else line.amount)
                line = msgspec.structs.replace(line, along=True)
        lines.append(line)
    return msgspec.structs.replace(kit, lines=tuple(lines))


def _opened(mark: str, total: Total, quantity: int, lines: Sequence[WorkLine], opened: Sequence[WorkLine],
            stages: Sequence[str]) -> WorkLine:
    """It is wanted when the first of its lines may be, which is the safe side; an item and a requirement of one name,
    or two quantities of one requirement, keep needs of their own."""
    first = min(opened, key=lambda line: stages.index(line.stage))
    circuits = {line.circuit for line in lines if line.circuit}
    need = f"{mark}{total.filler}" + ("" if total.is_item else f":{amount.quantity(total.unit)}")
    return WorkLine(
        need=need, stage=first.stage, role=first.role, title=" or ".join(dict.fromkeys(line.title for line in opened)),
        filler=total.filler, name=first.name, amount=quantity, unit=total.unit, sort=first.sort,
        certainty="certain" if mark == EXTRA else "possible", finding=None, acceptable=total.acceptable,
        item=first.item, requirement=first.requirement, circuit=circuits.pop() if len(circuits) == 1 else "")


def is_reserve(need: str) -> bool:
    """Whether a need, by its whole name, is only there for what some answer to an open question takes."""
    return need.partition("/")[2].startswith(RESERVE)


def needs_of(booking: Booking, kit: WorkKit, stage_starts: Mapping[str, datetime],
             held: Mapping[str, Sequence[Held]]) -> list[Need]:
    """The needs of a booking: certain lines, those added by hand, and what open questions take in every case.

    Special tools come back and are not needed of stock. `held`: what each need (by its name) has now.
    """
    return [_need(booking, line, stage_starts, held) for line in in_any_way(kit, reserved=False)]


def reserves_of(booking: Booking, kit: WorkKit, stage_starts: Mapping[str, datetime],
                held: Mapping[str, Sequence[Held]]) -> list[Need]:
    """What open questions may take beyond that: held from the shelf where it lies, never ordered."""
    return [_need(booking, line, stage_starts, held, may_order=False)
            for line in in_any_way(kit, reserved=True)]


def _need(booking: Booking, line: WorkLine, stage_starts: Mapping[str, datetime], held: Mapping[str, Sequence[Held]],
          may_order: bool = True) -> Need:
    name = f"{booking.number}/{line.need}"
    return Need(
        name, booking.number, booking.priority == "VOR", line.acceptable, line.amount, line.unit,
        stage_starts[line.stage], may_order and booking.state == "authorised", line.circuit, tuple(held.get(name, ())),
        line.binding, line.ways)
