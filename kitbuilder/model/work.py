"""A booking's kit as the workshop works with it: lines after edits by hand, pick lists, checks, gates."""

from datetime import date, datetime
from typing import Literal

import msgspec
from msgspec import UNSET, UnsetType

from kitbuilder import amount
from kitbuilder.model.along import SetAside
from kitbuilder.model.catalogue import Sort
from kitbuilder.model.stock_elsewhere import ElsewhereReport


class WorkLine(msgspec.Struct, frozen=True, kw_only=True):
    """A line after edits. `need` names it within its booking by role and what fills it, never by stage or amount;
    `filler` is what fills it as built, by which edits address it; `item` or `requirement` what is taken now (one of
    them is None). `amount` is in milli-units of `unit`. `finding`: what it waits for, `condition` the same in words,
    `chance` as a decimal. `by_hand` says who changed it and why ("" if nobody did); `added`: it is no line of the kit
    as built. `advised`: renewed while the job is open if the customer chooses it. `along`: chosen to go along to a job
    where no shelf is at hand, in case its finding turns out. `binding`, `ways`: as a `Need` has them; `because`: why it
    is something else than what was asked for, in sentences."""

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
    item: str | None = None
    requirement: str | None = None
    per_visit: bool = False
    circuit: str = ""
    condition: str = ""
    chance: str = "1"
    by_hand: str = ""
    added: bool = False
    advised: bool = False
    along: bool = False
    binding: str = ""
    ways: tuple[int, ...] = ()
    because: tuple[str, ...] = ()

    @property
    def wanted(self) -> bool:
        """Whether it is held and ordered without asking: certain, and waiting for no finding and no choice, or chosen
        to go along all the same."""
        return self.certainty == "certain" and (self.along or not self.waits)

    @property
    def waits(self) -> bool:
        """Whether it is needed only if a finding turns out, or the customer chooses it."""
        return self.finding is not None or self.advised

    @property
    def takes(self) -> tuple[str, bool, str]:
        """What it is filled with, as totals add it up: item or requirement, whether it is an item, what is measured."""
        return (self.item or self.requirement or "", self.item is not None, amount.quantity(self.unit))


class EditConflict(msgspec.Struct, frozen=True):
    """An edit by hand that can't be carried out (any more), in words."""

    edit: int
    text: str


class WorkKit(msgspec.Struct, frozen=True):
    """A booking's lines after edits, and the edits that couldn't be carried out.

    Under open questions `extras` are what every answer takes beyond the certain lines, `reserves` what some answer
    takes beyond that: held from the shelf where it lies, never ordered, fetched only once it is asked for.
    `elsewhere`: what another booking of the visit has for this one too, in words. `instead`: the lines of the ways that
    aren't taken (by now), where several items take others' place together.
    """

    booking: int
    lines: tuple[WorkLine, ...]
    conflicts: tuple[EditConflict, ...]
    extras: tuple[WorkLine, ...] = ()
    reserves: tuple[WorkLine, ...] = ()
    elsewhere: tuple[str, ...] = ()
    instead: tuple[WorkLine, ...] = ()

    @property
    def must_be_there(self) -> tuple[WorkLine, ...]:
        """What is held and ordered whatever the open questions' answers; special tools come back, and are not."""
        return (*(line for line in self.lines if line.wanted and line.sort != "special tool"), *self.extras)


class PickRow(msgspec.Struct, frozen=True):
    """A row of a pick list: take so much of a lot from a bin. `code`: what the label may show. `roles`: the roles it
    is for, `titles` the same in words. `holds`: the numbers of the holds behind it. `because`: why it is another
    item than the kit names, in sentences."""

    item: str
    name: str
    amount: str
    unit: str
    bin: str
    lot: str
    use_by: date | None
    code: str
    roles: tuple[str, ...]
    titles: tuple[str, ...]
    state: str
    holds: tuple[int, ...]
    because: tuple[str, ...] = ()


class PickList(msgspec.Struct, frozen=True, kw_only=True):
    """`kitbuilder pick BOOKING --json`: `lines` to be fetched, in bin order; `reserved` stays where it lies until an
    open question is answered; of `not_held` nothing is held yet; `elsewhere` is with another booking of the visit.
    `back`: old units that go back, and by when; `comes_off`: what has to be got rid of; `hazards`: what the products'
    safety data sheets say, in words."""

    format: Literal["kitbuilder.pick/1"] = "kitbuilder.pick/1"
    warnings: tuple[str, ...] = ()
    booking: int
    job: str
    registration: str
    bay: str
    start: str
    lines: tuple[PickRow, ...]
    reserved: tuple[PickRow, ...] = ()
    not_held: tuple[str, ...] = ()
    tools: tuple[str, ...] = ()
    on_condition: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()
    back: tuple[str, ...] = ()
    comes_off: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


class Evidence(msgspec.Struct, frozen=True):
    """Where so much of a line's part is, or is to come from: how sure, when it is there (ISO 8601, UTC), and how many
    whole minutes before its stage starts (negative: too late; what is there already is never too late).

    `sureness`: `on the shelf` (held in a bin), `in the tote`, `signed for`, `promised` by a supplier, or `overdue`:
    promised for a moment that is past, and not booked in.
    """

    need: str
    item: str
    name: str
    amount: str
    unit: str
    source: str
    sureness: Literal["on the shelf", "in the tote", "signed for", "promised", "overdue"]
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
    """May this job start? `start`: all is there. `start, but`: something is to be there before its stage, or to be
    asked first. `don't start`: something comes too late, or nothing is sure to bring it, or nobody knows what fits
    (`problems`). `ask`: open questions. `risks`: what open findings may bring."""

    format: Literal["kitbuilder.gate/1"] = "kitbuilder.gate/1"
    warnings: tuple[str, ...] = ()
    booking: int
    answer: Literal["start", "start, but", "don't start"]
    stages: tuple[GateStage, ...]
    risks: tuple[str, ...]
    problems: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()


class Scan(msgspec.Struct, frozen=True):
    """One item found in the tote, in milli-units of the item's unit."""

    item: str
    lot: str
    quantity: int


class CheckVerdict(msgspec.Struct, frozen=True):
    """What a scan came to, and in words."""

    verdict: Literal[
        "taken", "wrong item", "not held", "tool", "too many", "wrong lot", "use-by passed", "unknown", "no amount",
        "undone", "nothing to undo"]
    text: str


class BookingReport(msgspec.Struct, frozen=True, kw_only=True):
    """A booking in the morning report: its state in words and why it isn't ready, if it isn't; `visit` is its diary's
    name for the stay, "" where the booking is a visit of its own."""

    booking: int
    start: str
    job: str
    registration: str
    priority: Literal["normal", "VOR"] = "normal"
    visit: str = ""
    state: Literal["needs a person", "ready", "ready by stage", "ask first", "not ready", "enquiry"]
    why: tuple[str, ...]


class Report(msgspec.Struct, frozen=True, kw_only=True):
    """`kitbuilder night report --json`: first what needs a person, then the bookings by state. `set_aside`: what to
    have at hand for findings of the day's bookings, left out where the settings don't ask for it. `unasked`: the orders
    under way that went without a person's approval, left out where the settings let none go so; `elsewhere`: what
    is to be told of sources whose stock is kept elsewhere, left out where there is none. `gap`: how far from the best
    a plan that isn't `proven` may be, in words."""

    format: Literal["kitbuilder.report/1"] = "kitbuilder.report/1"
    warnings: tuple[str, ...] = ()
    site: str
    day: str
    now: datetime
    attention: tuple[str, ...]
    bookings: tuple[BookingReport, ...]
    proven: bool
    set_aside: tuple[SetAside, ...] | UnsetType = UNSET
    elsewhere: tuple[ElsewhereReport, ...] | UnsetType = UNSET
    unasked: tuple[str, ...] | UnsetType = UNSET
    gap: str = ""
