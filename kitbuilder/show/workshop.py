"""Pick lists, orders, gates, reports, bookings and stock as text."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from kitbuilder import amount
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import OrderRow
from kitbuilder.model.shelf import ShelfLot
from kitbuilder.model.work import BookingReport, Gate, PickList, Report
from kitbuilder.show.kit import FIRST
from kitbuilder.show.paper import Paper, counted

_ANSWERS = {
    "start": "START. All that the job needs is there.",
    "start, but": "START, but what is named below must be here before its stage.",
    "don't start": "DON'T START. What is named below can't be here in time.",
}
_STAGES = {"ready": "all there", "must arrive": "must arrive", "late": "TOO LATE", "short": "MISSING"}


def pick_text(picks: PickList, paper: Paper) -> str:
    """A pick list in bin order."""
    where = f", bay {picks.bay}" if picks.bay else ""
    lines = [paper.heading(f"PICK LIST for booking {picks.booking}")]
    lines += paper.wrap(f"{picks.job}, {picks.registration or 'no registration'}, {picks.start}{where}")
    if not picks.lines:
        lines += ["", "Nothing is held for it."]
    for row in picks.lines:
        left = f"  {row.bin:<12} {row.amount + ' ' + row.unit:<9} {row.item:<12} "
        name = Paper(max(paper.width - len(left), 20)).wrap(row.name)
        lines += [left + name[0], *(" " * len(left) + more for more in name[1:])]
        lot = f"lot {row.lot}" if row.lot else ""
        use_by = f"use by {row.use_by}" if row.use_by else ""
        more = ", ".join(part for part in (lot, use_by, "; ".join(row.roles), row.state) if part)
        lines += paper.wrap(more, 15)
    for title, rows in (("TOOLS TO FETCH", picks.tools), ("ON CONDITION, NOT HELD", picks.on_condition)):
        if rows:
            lines += ["", paper.heading(title)]
            for text in rows:
                lines += paper.wrap(text, 4, "  -")
    lines += ["", *paper.wrap(FIRST)]
    return "\n".join(lines) + "\n"


def orders_text(orders: Sequence[OrderRow], items: Mapping[str, Item], zone: str, paper: Paper) -> str:
    """Orders by supplier and cut-off, with what they cost and for whom they are; times on the site's clock."""
    if not orders:
        return "No order is open.\n"
    lines: list[str] = []
    for order in orders:
        cut_off = f", cut-off {_wall(order.cut_off, zone)}" if order.cut_off else ""
        state = f"ordered by {order.decided_by}" if order.state == "ordered" else order.state
        lines += [paper.heading(f"Order {order.id} at {order.source}: {state}")]
        lines += paper.wrap(f"for {_wall(order.expected_at or order.ready, zone)}{cut_off}", 2)
        for line in order.lines:
            name = items[line.item].name if line.item in items else line.item
            made_of = " + ".join(f"{count} x {amount.show(size)}" for size, count in line.packs)
            packs = f" ({made_of})" if made_of else ""
            money = amount.show_money(line.minor, order.currency)
            lines += paper.wrap(
                f"{amount.show(line.quantity)} {line.unit}{packs} {line.item} {name}: {money} {order.currency}", 4, "  -")
        if order.fee:
            lines += paper.wrap(f"fee {amount.show_money(order.fee, order.currency)} {order.currency}", 4, "  -")
        total = order.fee + sum(line.minor for line in order.lines)
        booked = ", ".join(str(number) for number in sorted({one.booking for one in order.wanted_for}))
        lines += paper.wrap(f"total {amount.show_money(total, order.currency)} {order.currency}, for booking {booked}", 2)
        lines.append("")
    return "\n".join(lines)


def _wall(moment: datetime, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"


def gate_text(gate: Gate, zone: str, paper: Paper) -> str:
    """May this job start? Stage by stage, with where each part is."""
    lines = [paper.heading(line) for line in paper.wrap(f"Booking {gate.booking}: {_ANSWERS[gate.answer]}")]
    for stage in gate.stages:
        lines += paper.wrap(f"{_wall(datetime.fromisoformat(stage.start), zone)}  {stage.stage}: {_STAGES[stage.answer]}", 2)
        for text in stage.missing:
            lines += paper.wrap(text, 8, "      -")
        for one in stage.evidence:
            if one.sureness != "on the shelf":
                margin = f"{one.margin_min} min before" if one.margin_min >= 0 else f"{-one.margin_min} min AFTER"
                ready = _wall(datetime.fromisoformat(one.ready), zone)
                lines += paper.wrap(f"{one.item} from {one.source}, {one.sureness} for {ready}: {margin} the stage", 8, "      -")
    if gate.risks:
        lines.append(paper.heading("WHAT MAY STILL TURN UP"))
        for text in gate.risks:
            lines += paper.wrap(text, 4, "  -")
    return "\n".join([*lines, *paper.wrap(FIRST)]) + "\n"


def report_text(report: Report, paper: Paper) -> str:
    """The morning report: what needs a person first."""
    lines = [paper.heading(f"MORNING REPORT for {report.site}, from {report.day}")]
    if report.attention:
        lines += ["", paper.heading("NEEDS A PERSON")]
        for text in report.attention:
            lines += paper.wrap(text, 4, "  -")
    for state in dict.fromkeys(row.state for row in report.bookings):
        rows = [row for row in report.bookings if row.state == state]
        lines += ["", paper.heading(f"{state.upper()}: {counted(len(rows), 'booking')}")]
        for row in rows:
            lines += _report_row(row, paper)
    if not report.proven:
        lines += ["", *paper.wrap("The plan behind this is good, but not proven to be the best there is.")]
    return "\n".join(lines) + "\n"


def _report_row(row: BookingReport, paper: Paper) -> list[str]:
    lines = paper.wrap(f"{row.booking:>4}  {row.start.replace('T', ' ')[:16]}  {row.job}, {row.registration or '-'}", 8, "")
    for text in row.why:
        lines += paper.wrap(text, 10, "        -")
    return lines


def bookings_text(bookings: Sequence[Booking], paper: Paper) -> str:
    """Bookings, one a line."""
    if not bookings:
        return "No booking is known.\n"
    lines = []
    for one in bookings:
        state = "missing from its diary" if one.missing and one.state != "cancelled" else one.state
        vor = ", VOR" if one.priority == "VOR" else ""
        lines += paper.wrap(
            f"{one.number:>4}  {one.start_wall.replace('T', ' ')[:16]}  {one.job}, {one.registration or '-'}, {state}{vor}", 6)
    return "\n".join(lines) + "\n"


def stock_text(lots: Sequence[ShelfLot], paper: Paper) -> str:
    """What lies where."""
    if not lots:
        return "The shelf is empty.\n"
    lines = [paper.heading(f"{'item':<14} {'bin':<14} {'there':>10} {'promised':>10}  lot, use by")]
    for lot in lots:
        there, promised = f"{amount.show(lot.on_hand)} {lot.unit}", f"{amount.show(lot.held)} {lot.unit}"
        more = ", ".join(part for part in (
            lot.lot, str(lot.use_by or ""), f"QUARANTINE: {lot.quarantine}" if lot.quarantine else "") if part)
        lines.append(f"{lot.item:<14} {lot.bin:<14} {there:>10} {promised:>10}  {more}".rstrip())
    return "\n".join(lines) + "\n"
