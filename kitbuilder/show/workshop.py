"""Pick lists, gates, reports, bookings and stock as text."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from msgspec import UNSET

from kitbuilder import amount
from kitbuilder.model.booking import Booking
from kitbuilder.model.shelf import ReserveRow, ShelfLot
from kitbuilder.model.work import BookingReport, CheckVerdict, Evidence, Gate, PickList, PickRow, Report
from kitbuilder.show.kit import FIRST
from kitbuilder.show.paper import Paper, counted

_STAGES = {"ready": "all there", "must arrive": "must arrive", "late": "TOO LATE", "short": "MISSING"}
_STATES = {"planned": "", "picking": "being picked", "picked": "IN THE TOTE"}


def pick_text(picks: PickList, paper: Paper) -> str:
    """A pick list in bin order."""
    where = f", bay {picks.bay}" if picks.bay else ""
    lines = [paper.heading(f"PICK LIST for booking {picks.booking}")]
    start = picks.start.replace("T", " ")[:16]
    lines += paper.wrap(f"{picks.job}, {picks.registration or 'no registration'}, {start}{where}")
    if not picks.lines:
        lines += ["", "Nothing to fetch: nothing is held for it."]
    for row in picks.lines:
        lines += ["", *_pick_row(row, paper)]
    if picks.reserved:
        lines += ["", paper.heading("LEAVE WHERE IT LIES until an open question is answered")]
        for row in picks.reserved:
            lines += _pick_row(row, paper)
    for title, rows in (
            ("NEEDED, BUT NOT HELD YET", picks.not_held), ("WITH ANOTHER BOOKING OF THIS VISIT", picks.elsewhere),
            ("TOOLS TO FETCH", picks.tools), ("ON CONDITION, NOT HELD", picks.on_condition),
            ("GOES BACK", picks.back), ("COMES OFF; WASTE CODES OF THE EUROPEAN LIST", picks.comes_off),
            ("HAZARDS, BY THE SAFETY DATA SHEETS", picks.hazards)):
        if rows:
            lines += ["", paper.heading(title)]
            for text in rows:
                lines += paper.wrap(text, 4, "  -")
    lines += ["", *paper.wrap(FIRST)]
    return "\n".join(lines) + "\n"


def _pick_row(row: PickRow, paper: Paper) -> list[str]:
    """Bin, amount, item and name; below, what the eye compares with the label, and what it is for."""
    left = f"  {row.bin:<12} {row.amount + ' ' + row.unit:<9} {row.item:<12} "
    room = paper.width - len(left)
    if room >= 20:
        name = Paper(room).wrap(row.name)
        lines = [left + name[0], *(" " * len(left) + more for more in name[1:])]
    else:
        lines = [*paper.wrap(" ".join(left.split()), 2), *paper.wrap(row.name, 15)]
    label = (f"lot {row.lot}" if row.lot else "", f"use by {row.use_by}" if row.use_by else "",
             f"code {row.code}" if row.code != row.item else "", _STATES.get(row.state, row.state))
    for text in (", ".join(part for part in label if part), f"for: {'; '.join(row.titles)}" if row.titles else "",
                 *row.because):
        lines += paper.wrap(text, 15) if text else []
    return lines


def verdict_text(verdict: CheckVerdict, paper: Paper) -> str:
    """The answer to one scan: `ok`, or what is wrong, in capitals."""
    if verdict.verdict == "taken":
        return "\n".join(paper.wrap(verdict.text, 4, "ok"))
    return "\n".join(paper.wrap(verdict.text, 4, f"{verdict.verdict.upper()}: "))


def _wall(moment: datetime, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"


def gate_text(gate: Gate, zone: str, paper: Paper) -> str:
    """May this job start? Stage by stage, with where each part is."""
    lines = [paper.heading(line) for line in paper.wrap(f"Booking {gate.booking}: {_answer(gate)}")]
    for stage in gate.stages:
        start = _wall(datetime.fromisoformat(stage.start), zone)
        lines += paper.wrap(f"{start}  {stage.stage}: {_STAGES[stage.answer]}", 2)
        for text in stage.missing:
            lines += paper.wrap(text, 8, "      -")
        for one in stage.evidence:
            if one.sureness in ("promised", "overdue"):
                lines += paper.wrap(_arrival(one, zone), 8, "      -")
    for title, rows in (
            ("NOBODY KNOWS WHAT FITS; ASK WHOEVER KEEPS THE CATALOGUE", gate.problems),
            ("ASK FIRST", gate.ask), ("WHAT MAY STILL TURN UP", gate.risks)):
        if rows:
            lines.append(paper.heading(title))
            for text in rows:
                lines += paper.wrap(text, 4, "  -")
    return "\n".join([*lines, *paper.wrap(FIRST)]) + "\n"


def _answer(gate: Gate) -> str:
    answers = {stage.answer for stage in gate.stages}
    if gate.answer == "start":
        return "START. All that the job needs is there."
    if gate.answer == "start, but":
        what = ["what is named below must be here before its stage"] if "must arrive" in answers else []
        what += ["ask first what is still open"] if gate.ask else []
        return f"START, but {', and '.join(what)}."
    why = ["something is missing"] if "short" in answers else []
    why += ["something comes too late"] if "late" in answers else []
    why += ["nobody knows what fits"] if gate.problems else []
    return f"DON'T START: {', and '.join(why)}."


def _arrival(one: Evidence, zone: str) -> str:
    what = f"{one.amount} {one.unit} {one.name} ({one.item}) from {one.source}"
    stage = (f"{_span(one.margin_min)} before the stage" if one.margin_min > 0 else "just when the stage starts"
             if one.margin_min == 0 else f"{_span(-one.margin_min)} AFTER the stage starts")
    if one.sureness == "overdue":
        late = "" if one.margin_min >= 0 else f", {_span(-one.margin_min)} after the stage was to start"
        return f"{what}: was promised for earlier and isn't booked in{late}"
    return f"{what}: promised for {_wall(datetime.fromisoformat(one.ready), zone)}, {stage}"


def _span(minutes: int) -> str:
    if minutes < 120:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


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
    if report.unasked is not UNSET and report.unasked:
        lines += ["", paper.heading("ORDERED WITHOUT ASKING, as the settings let it")]
        for text in report.unasked:
            lines += paper.wrap(text, 4, "  -")
    if report.set_aside is not UNSET and report.set_aside:
        from kitbuilder.show.on_condition import set_aside_text

        lines += ["", *set_aside_text(report.set_aside, paper)]
    if report.elsewhere is not UNSET:
        from kitbuilder.show.elsewhere import elsewhere_text

        lines += elsewhere_text(report.elsewhere, paper)
    if not report.proven:
        more = f": {report.gap}" if report.gap else ""
        lines += ["", *paper.wrap(f"The plan behind this is good, but not proven to be the best there is{more}.")]
    return "\n".join(lines) + "\n"


def _report_row(row: BookingReport, paper: Paper) -> list[str]:
    start = row.start.replace("T", " ")[:16]
    more = (", VOR" if row.priority == "VOR" else "") + (f", visit {row.visit}" if row.visit else "")
    lines = paper.wrap(f"{row.booking:>4}  {start}  {row.job}, {row.registration or '-'}{more}", 8, "")
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
        start = one.start_wall.replace("T", " ")[:16]
        lines += paper.wrap(f"{one.number:>4}  {start}  {one.job}, {one.registration or '-'}, {state}{vor}", 6)
    return "\n".join(lines) + "\n"


def stock_text(lots: Sequence[ShelfLot], paper: Paper,
               aside: Mapping[tuple[str, str, str, str], Sequence[ReserveRow]] | None = None) -> str:
    """What lies where. `aside`: what of it is set aside for findings, by site, item, lot and bin."""
    if not lots:
        return "The shelf is empty.\n"
    lines = [paper.heading(f"{'item':<14} {'bin':<14} {'there':>10} {'promised':>10}  lot, use by")]
    for lot in lots:
        there, promised = f"{amount.show(lot.on_hand)} {lot.unit}", f"{amount.show(lot.held)} {lot.unit}"
        more = ", ".join(part for part in (
            lot.lot, str(lot.use_by or ""), f"QUARANTINE: {lot.quarantine}" if lot.quarantine else "") if part)
        left = f"{lot.item:<14} {lot.bin:<14} {there:>10} {promised:>10}  "
        if len(left + more) <= paper.width:
            lines.append((left + more).rstrip())
        else:
            lines += [left.rstrip(), *paper.wrap(more, 4)]
        for one in (aside or {}).get((lot.site, lot.item, lot.lot, lot.bin), ()):
            whom = f"booking{'s' if len(one.bookings) > 1 else ''} {', '.join(map(str, one.bookings))}"
            much = f"{amount.show(one.quantity)} {one.unit}"
            lines += paper.wrap(f"{much} set aside for findings of {one.day}, {whom}", 4)
    return "\n".join(lines) + "\n"
