"""The start gate: may this job start? Worked out stage by stage, with the evidence for each part."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from kitbuilder import amount
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item, Stage
from kitbuilder.model.order import OrderRow
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import Evidence, Gate, GateStage, WorkKit, WorkLine


def gate(booking: Booking, kit: WorkKit, stages: Sequence[Stage], starts: Mapping[str, datetime],
         holds: Sequence[HoldRow], orders: Sequence[OrderRow], items: Mapping[str, Item], now: datetime,
         risks: Sequence[str] = (), warnings: Sequence[str] = ()) -> Gate:
    """The answer for a booking at a moment.

    `starts`: when each stage is to start, from the actual start where there is one. What is held counts as there;
    what a named person has ordered counts from when it is expected; a proposal nobody has decided on doesn't.
    """
    found = []
    for stage in stages:
        lines = [line for line in kit.lines if line.stage == stage.name and line.wanted and line.sort != "special tool"]
        if lines:
            found.append(_stage(booking, stage.name, starts[stage.name], lines, holds, orders, items, now))
    answers = {one.answer for one in found}
    answer = "don't start" if answers & {"late", "short"} else "start, but" if "must arrive" in answers else "start"
    return Gate(warnings=tuple(warnings), booking=booking.number, answer=answer, stages=tuple(found),  # type: ignore[arg-type]
                risks=tuple(risks))


def _stage(booking: Booking, stage: str, start: datetime, lines: Sequence[WorkLine], holds: Sequence[HoldRow],
           orders: Sequence[OrderRow], items: Mapping[str, Item], now: datetime) -> GateStage:
    evidence: list[Evidence] = []
    missing: list[str] = []
    answers = {"ready"}
    for line in lines:
        left = line.amount
        need = f"{booking.number}/{line.need}"
        for hold in holds:
            if hold.need == need and hold.state != "released":
                left -= amount.convert(hold.quantity, hold.unit, line.unit)
                where = f"bin {hold.bin}" if hold.state in ("planned", "picking") else "the tote"
                evidence.append(_evidence(line, hold.item, where, "on the shelf", now, start))
        for order in orders:
            for one in order.wanted_for:
                if one.need != need or one.booking != booking.number or left <= 0:
                    continue
                if order.state == "proposed":
                    missing.append(f"{line.name}: order {order.id} at {order.source} waits for a decision"
                                   + (f" before {order.cut_off:%Y-%m-%d %H:%M} UTC" if order.cut_off else ""))
                    continue
                expected = order.expected_at or order.ready
                left -= amount.convert(one.quantity, items[one.item].unit if one.item in items else line.unit, line.unit)
                answers.add("must arrive" if expected <= start else "late")
                evidence.append(_evidence(line, one.item, order.source, "promised", expected, start))
        if left > 0:
            answers.add("short")
            missing.append(f"{amount.show(left)} {line.unit} of {line.name} ({' or '.join(line.acceptable) or line.filler})")
    answer = next(one for one in ("short", "late", "must arrive", "ready") if one in answers)
    return GateStage(stage, start.isoformat(), answer, tuple(evidence), tuple(missing))  # type: ignore[arg-type]


def _evidence(line: WorkLine, item: str, source: str, sureness: str, ready: datetime, start: datetime) -> Evidence:
    margin = int((start - ready).total_seconds() // 60)
    return Evidence(line.need, item, source, sureness, ready.isoformat(), margin)


def tools_used_twice(uses: Sequence[tuple[int, str, datetime, datetime]]) -> list[str]:
    """Special tools that two bookings want at overlapping times: booking, item, from, until."""
    found = []
    for number, (booking, item, start, end) in enumerate(uses):
        for other, same, other_start, other_end in uses[number + 1:]:
            if same == item and other != booking and start < other_end and other_start < end:
                found.append(f"{item} is wanted by booking {booking} and booking {other} at the same time")
    return sorted(set(found))
