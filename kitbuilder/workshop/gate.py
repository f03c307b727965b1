"""The start gate: may this job start? Worked out stage by stage, with the evidence for each part."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from kitbuilder import amount
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item, Stage
from kitbuilder.model.order import OPEN, OrderRow
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import Evidence, Gate, GateStage, WorkKit, WorkLine

_HELD = {"planned": "on the shelf", "picking": "on the shelf", "picked": "in the tote", "issued": "signed for"}


def gate(booking: Booking, kit: WorkKit, stages: Sequence[Stage], starts: Mapping[str, datetime],
         holds: Sequence[HoldRow], orders: Sequence[OrderRow], items: Mapping[str, Item], now: datetime,
         risks: Sequence[str] = (), warnings: Sequence[str] = (), problems: Sequence[str] = (),
         ask: Sequence[str] = ()) -> Gate:
    """The answer for a booking at a moment.

    `starts`: when each stage is to start, from the actual start where there is one. What is held counts as there;
    what was ordered, or confirmed by its supplier, counts from when it is expected, and from now if that is past. What
    nobody has decided on or sent, what a supplier changed, and what is unclear doesn't count, and is said. `problems`
    (nobody knows what fits) forbid the start, `ask` (open questions) don't.
    """
    found = []
    wanted = [line for stage in stages for line in kit.must_be_there if line.stage == stage.name]
    shares = _shared_out(wanted, _parts(booking, holds, orders), booking.number)
    for stage in stages:
        lines = [line for line in wanted if line.stage == stage.name]
        if lines:
            found.append(_stage(booking, stage.name, starts[stage.name], lines, shares, items, now))
    answers = {one.answer for one in found}
    answer = "start"
    if problems or answers & {"late", "short"}:
        answer = "don't start"
    elif ask or "must arrive" in answers:
        answer = "start, but"
    return Gate(warnings=tuple(warnings), booking=booking.number, answer=answer, stages=tuple(found),  # type: ignore[arg-type]
                risks=tuple(risks), problems=tuple(problems), ask=tuple(ask))


class _Part:
    """Something held, ordered or proposed for the booking; `left` in thousandths of its quantity's smallest unit."""

    def __init__(self, need: str, item: str, milli: int, unit: str, hold: HoldRow | None,
                 order: OrderRow | None) -> None:
        self.need, self.item, self.unit, self.hold, self.order = need, item, unit, hold, order
        self.left = _smallest(milli, unit)


def _parts(booking: Booking, holds: Sequence[HoldRow], orders: Sequence[OrderRow]) -> list[list[_Part]]:
    """What there is for a booking, the surest first: held, ordered (the earliest first), proposed."""
    found: list[list[_Part]] = [[], [], []]
    for hold in sorted(holds, key=lambda one: one.id):
        if hold.booking == booking.number and hold.state in _HELD:
            found[0].append(_Part(hold.need, hold.item, hold.quantity, hold.unit, hold, None))
    coming = [(order.expected(one.item), order.id, place, order, one) for order in orders if order.state in OPEN
              for place, one in enumerate(order.wanted_for) if one.booking == booking.number]
    for _, _, _, order, one in sorted(coming, key=lambda each: each[:3]):
        unit = next((line.unit for line in order.lines if line.item == one.item), None)
        if unit is not None:
            found[1 if order.comes else 2].append(_Part(one.need, one.item, one.quantity, unit, None, order))
    return found


def _shared_out(lines: Sequence[WorkLine], parts: Sequence[Sequence[_Part]],
                booking: int) -> dict[str, list[tuple[_Part, int]]]:
    """What each line gets of the parts. A part counts once, for the line it was meant for; what that leaves, since a
    question was answered or the kit was built anew, goes to lines that may be filled with it."""
    found: dict[str, list[tuple[_Part, int]]] = {line.need: [] for line in lines}
    short = {line.need: _smallest(line.amount, line.unit) for line in lines}

    def take(line: WorkLine, part: _Part) -> None:
        taken = min(short[line.need], part.left)
        # an item that is measured otherwise since can't be added up
        if taken > 0 and amount.quantity(part.unit) == amount.quantity(line.unit):
            part.left -= taken
            short[line.need] -= taken
            found[line.need].append((part, taken))

    for sort in parts:
        for line in lines:
            for part in sort:
                if part.need == f"{booking}/{line.need}":
                    take(line, part)
        for line in lines:
            for part in sort:
                if part.item in line.acceptable:
                    take(line, part)
    return found


def _stage(booking: Booking, stage: str, start: datetime, lines: Sequence[WorkLine],
           shares: Mapping[str, list[tuple[_Part, int]]], items: Mapping[str, Item], now: datetime) -> GateStage:
    evidence: list[Evidence] = []
    missing: list[str] = []
    answers = {"ready"}
    for line in lines:
        undecided = []
        sure = 0
        for part, taken in shares[line.need]:
            if part.order is not None and not part.order.comes:
                undecided.append((part.order, taken))
                continue
            sure += taken
            one = _evidence(line, part, taken, items, now, start)
            evidence.append(one)
            if part.order is not None:
                answers.add("must arrive" if one.margin_min >= 0 else "late")
        short = _smallest(line.amount, line.unit) - sure
        if short > 0:
            answers.add("short")
            missing.append(_missing(booking, line, short, undecided))
    answer = next(one for one in ("short", "late", "must arrive", "ready") if one in answers)
    return GateStage(stage, start.isoformat(), answer, tuple(evidence), tuple(missing))


def _evidence(line: WorkLine, part: _Part, taken: int, items: Mapping[str, Item], now: datetime,
              start: datetime) -> Evidence:
    if part.hold is not None:
        # what is there is never too late, however long ago the stage was to start
        source, sureness, ready = f"bin {part.hold.bin}", _HELD[part.hold.state], now
        margin = max(int((start - now).total_seconds() // 60), 0)
    else:
        assert part.order is not None
        expected = part.order.expected(part.item)
        source, ready = part.order.from_site or part.order.source, max(expected, now)
        sureness = "promised" if expected >= now else "overdue"
        margin = int((start - ready).total_seconds() // 60)
    name = items[part.item].name if part.item in items else part.item
    size = _smallest(1, line.unit)
    return Evidence(
        line.need, part.item, name, amount.show(taken // size), line.unit, source, sureness,  # type: ignore[arg-type]
        ready.isoformat(), margin)


def _missing(booking: Booking, line: WorkLine, short: int, undecided: Sequence[tuple[OrderRow, int]]) -> str:
    """What isn't sure to come, said once: how much of it waits for a decision, and how much nothing brings."""
    numbers = " or ".join(line.acceptable)
    text = f"{_shown(short, line.unit)} {line.unit} {line.name}" + (f" ({numbers})" if numbers else "")
    if not numbers:
        return f"{text}: no item of the catalogue will do"
    told = []
    for order, taken in undecided:
        before = f" before {to_wall(order.cut_off, booking.zone):%Y-%m-%d %H:%M}" if order.cut_off else ""
        at = order.from_site or order.source
        verb = "wait" if taken > _smallest(1000, line.unit) else "waits"
        what = {
            "proposed": f"{verb} for a decision on order {order.id} at {at}{before}",
            "approved": f"{verb} for order {order.id} to be sent to {order.source}{before}",
            "changed": f"{verb} for a decision on order {order.id}, which {order.source} changed",
        }.get(order.state, f"may come: nobody knows whether {order.source} has order {order.id}")
        told.append(f"{_shown(taken, line.unit)} {what}")
    rest = short - sum(taken for _, taken in undecided)
    if told and rest > 0:
        told.append(f"nothing brings {_shown(rest, line.unit)}")
    return f"{text}: {', '.join(told) if told else 'neither held nor ordered'}"


def _smallest(milli: int, unit: str) -> int:
    """Thousandths of the quantity's smallest unit, in which litres and millilitres add up exactly."""
    return milli * amount.MEASURED[unit][1] if unit in amount.MEASURED else milli


def _shown(smallest: int, unit: str) -> str:
    """What is missing back in a unit, as a decimal, rounded up to a thousandth of it; what is there is rounded down."""
    return amount.show(-(-smallest // _smallest(1, unit)))


def risks_of(kit: WorkKit) -> list[str]:
    """What may turn out once the job is open, with its chance; the line waits for it."""
    return [
        f"{line.name} ({' or '.join(line.acceptable)}), if: {line.condition} (chance {_percent(line.chance)})"
        for line in kit.lines if line.finding is not None]


def _percent(chance: str) -> str:
    percent = float(chance) * 100
    if 0 < percent < 1:
        return "under 1 %"
    return "over 99 %" if 99 < percent < 100 else f"{round(percent)} %"
