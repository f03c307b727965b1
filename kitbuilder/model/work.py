"""A booking's kit as the workshop works with it: lines after edits by hand, pick lists, checks, gates."""

from datetime import date, datetime
from typing import Literal

import msgspec

from kitbuilder.model.catalogue import Sort


class WorkLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line after edits. `need` names it within its booking by role and what fills it, never by stage or amount;
    `amount` is in milli-units of `unit`. `by_hand` says who changed it and why ("" if nobody did)."""

    need: str
    stage: str
    role: str
    title: str
    filler: str
    name: str
    amount: int
    unit: str
    sort: Sort
    certainty: Literal["certain", "possible"]
    finding: str | None
    acceptable: tuple[str, ...]
    per_visit: bool = False
    circuit: str = ""
    by_hand: str = ""

    @property
    def wanted(self) -> bool:
        """Whether it is held and ordered without asking: certain, and not waiting for a finding."""
        return self.certainty == "certain" and self.finding is None


class EditConflict(msgspec.Struct, frozen=True):
    """An edit by hand that finds nothing to change any more, in words."""

    edit: int
    text: str


class WorkKit(msgspec.Struct, frozen=True):
    """A booking's lines after edits, and the edits that found nothing to change."""

    booking: int
    lines: tuple[WorkLine, ...]
    conflicts: tuple[EditConflict, ...]


class PickRow(msgspec.Struct, frozen=True):
    """A row of a pick list, in bin order: take so much of a lot from a bin. `code`: what the label may show.
    `roles`: what it is for. `hold` is the number by which the pick is told done."""

    item: str
    name: str
    amount: str
    unit: str
    bin: str
    lot: str
    use_by: date | None
    code: str
    roles: tuple[str, ...]
    state: str
    hold: int


class PickList(msgspec.Struct, frozen=True, kw_only=True):
    """`kitbuilder pick BOOKING --json`."""

    format: Literal["kitbuilder.pick/1"] = "kitbuilder.pick/1"
    warnings: tuple[str, ...] = ()
    booking: int
    job: str
    registration: str
    bay: str
    start: str
    lines: tuple[PickRow, ...]
    tools: tuple[str, ...] = ()
    on_condition: tuple[str, ...] = ()


class Evidence(msgspec.Struct, frozen=True):
    """Where a line's part is, or is to come from: how sure, when there, and how many minutes before its stage starts
    (negative: too late)."""

    need: str
    item: str
    source: str
    sureness: str
    ready: str
    margin_min: int


class GateStage(msgspec.Struct, frozen=True):
    """A stage of the start gate: when it is to start (ISO 8601, UTC), whether all is there by then, what isn't."""

    stage: str
    start: str
    answer: Literal["ready", "must arrive", "late", "short"]
    evidence: tuple[Evidence, ...]
    missing: tuple[str, ...]


class Gate(msgspec.Struct, frozen=True, kw_only=True):
    """May this job start? `start`: all is there. `start, but`: what isn't is to be there before its stage.
    `don't start`: something will be too late, or can't be had. `risks`: what open findings or questions may bring."""

    format: Literal["kitbuilder.gate/1"] = "kitbuilder.gate/1"
    warnings: tuple[str, ...] = ()
    booking: int
    answer: Literal["start", "start, but", "don't start"]
    stages: tuple[GateStage, ...]
    risks: tuple[str, ...]


class Scan(msgspec.Struct, frozen=True):
    """One item found in the tote, in milli-units."""

    item: str
    lot: str
    quantity: int


class CheckVerdict(msgspec.Struct, frozen=True):
    """What a scan came to: `taken`, `wrong item`, `too many`, `wrong lot`, `use-by passed`, `unknown`, `undone`."""

    verdict: str
    text: str


class BookingReport(msgspec.Struct, frozen=True, kw_only=True):
    """A booking in the morning report: its state in words and why it isn't ready, if it isn't."""

    booking: int
    start: str
    job: str
    registration: str
    state: Literal["needs a person", "ready", "ready by stage", "ask first", "not ready", "enquiry"]
    why: tuple[str, ...]


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """`kitbuilder night report --json`: first what needs a person, then the bookings by state."""

    format: Literal["kitbuilder.report/1"] = "kitbuilder.report/1"
    warnings: tuple[str, ...] = ()
    site: str
    day: str
    now: datetime
    attention: tuple[str, ...]
    bookings: tuple[BookingReport, ...]
    proven: bool
