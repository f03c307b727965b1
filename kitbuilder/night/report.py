"""The morning report: first what needs a person, then every booking by its state."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import OrderRow
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import BookingReport, Gate, Report
from kitbuilder.workshop.gate import gate, tools_used_twice
from kitbuilder.workshop.work import Work

_ORDER = ("needs a person", "not ready", "ask first", "ready by stage", "ready", "enquiry")


def gate_of(work: Work, holds: Sequence[HoldRow], orders: Sequence[OrderRow], items: Mapping[str, Item],
            now: datetime, warnings: Sequence[str] = ()) -> Gate:
    """A booking's start gate, with what open questions and findings may bring."""
    risks = [f"not known: {one.question}" for one in work.kit.questions]
    risks += [
        f"{line.name}, if: {line.finding}" for line in work.lines.lines if line.finding is not None]
    return gate(work.booking, work.lines, work.stages, work.starts, [
        hold for hold in holds if hold.booking == work.booking.number], orders, items, now, risks, warnings)


def report(site: str, day: str, now: datetime, works: Sequence[Work], troubled: Mapping[int, Sequence[str]],
           bookings: Sequence[Booking], holds: Sequence[HoldRow], orders: Sequence[OrderRow],
           items: Mapping[str, Item], attention: Sequence[str], proven: bool) -> Report:
    """The report of a site's window. `troubled`: what is wrong with bookings, by number."""
    by_number = {work.booking.number: work for work in works}
    rows = []
    for booking in bookings:
        if booking.state == "cancelled":
            continue
        work = by_number.get(booking.number)
        rows.append(_booking(booking, work, troubled.get(booking.number, ()), holds, orders, items, now))
    rows.sort(key=lambda row: (_ORDER.index(row.state), row.start, row.booking))
    told = list(attention)
    told += tools_used_twice([
        (work.booking.number, line.acceptable[0], work.starts[line.stage], work.finish)
        for work in works for line in work.lines.lines
        if line.sort == "special tool" and line.wanted and line.acceptable])
    told += [_order(order, now) for order in orders if order.state == "proposed"]
    return Report(site=site, day=day, now=now, attention=tuple(told), bookings=tuple(rows), proven=proven)


def _order(order: OrderRow, now: datetime) -> str:
    zone = "UTC"
    cut_off = f", cut-off {to_wall(order.cut_off, zone):%Y-%m-%d %H:%M} {zone}" if order.cut_off else ""
    return (f"Order {order.id} at {order.source} waits for a decision{cut_off}: "
            f"kitbuilder order approve {order.id} --by NAME")


def _booking(booking: Booking, work: Work | None, trouble: Sequence[str], holds: Sequence[HoldRow],
             orders: Sequence[OrderRow], items: Mapping[str, Item], now: datetime) -> BookingReport:
    why = list(trouble)
    if booking.missing:
        why.append("it vanished from its diary; cancel it or put it back")
    if work is not None:
        why += [problem.text for problem in work.kit.problems]
        why += [conflict.text for conflict in work.lines.conflicts]
    if why or work is None:
        return _row(booking, "needs a person", why or ["it has no kit"])
    if booking.state == "enquiry":
        return _row(booking, "enquiry", ["not authorised: nothing is ordered for it"])
    answer = gate_of(work, holds, orders, items, now)
    missing = [text for stage in answer.stages for text in stage.missing]
    if answer.answer == "don't start":
        late = [stage.stage for stage in answer.stages if stage.answer == "late"]
        return _row(booking, "not ready", [*missing, *(f"too late for stage {stage}" for stage in late)])
    if work.kit.questions:
        return _row(booking, "ask first", [one.question for one in work.kit.questions[:2]])
    if answer.answer == "start, but":
        waits = [
            f"{one.item} from {one.source} {one.ready} for stage {stage.stage}"
            for stage in answer.stages for one in stage.evidence if one.sureness != "on the shelf"]
        return _row(booking, "ready by stage", waits)
    return _row(booking, "ready", [])


def _row(booking: Booking, state: str, why: Sequence[str]) -> BookingReport:
    return BookingReport(
        booking=booking.number, start=booking.start_wall, job=booking.job, registration=booking.registration,
        state=state, why=tuple(why))  # type: ignore[arg-type]
