"""`kitbuilder check`: the technician's kit check, and the start gate."""

import sys
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.place import BookingArgument, ByOption, Place, here, who
from kitbuilder.errors import WrongUse
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.work import WorkLine
from kitbuilder.show.paper import Paper, counted, terminal_width

if TYPE_CHECKING:
    from kitbuilder.workshop.check import Tote

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
What is typed or scanned, a line each:
  RI-60114          an item number or a code: one of it, or all of an oil
  RI-60114 4        so many
  RI-60114 all      all that is still to come, as in a sealed bag
  RI-60114/L7 4     of lot L7
  undo              take the last one back
  end               finish (so does the end of the input)
"""


@app.command(epilog=_EPILOG)
def check(
    booking: BookingArgument,
    gate_only: Annotated[bool, typer.Option("--gate", help="Only the start gate, no scanning.")] = False,
    sign: Annotated[bool, typer.Option("--sign", help="The technician takes the tote (needs --by): what was found is "
                                       "issued.")] = False,
    started: Annotated[bool, typer.Option("--started", help="The job starts now: its stages run from now.")] = False,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Check the tote by scanning before the job starts; it ends in the start gate.

    A check that was left off goes on where it stopped. Exit code 1: don't start, or not all was found.
    """
    from kitbuilder.calendar.wall import to_wall
    from kitbuilder.night.report import gate_of
    from kitbuilder.show.workshop import gate_text
    from kitbuilder.store import bookings, checks, holds, orders
    from kitbuilder.workshop.check import Tote, still_missing
    from kitbuilder.workshop.work import items_of, load

    if sign and gate_only:
        raise WrongUse("--sign is for a tote that was checked; leave --gate out.")
    if sign and not (by or "").strip():
        raise WrongUse("The technician signs by name: --by NAME.")
    place = here()
    one = bookings.get(place.store, booking)
    site = place.site(one.site)
    work = load(place.store, place.edition, site, booking, place.now)
    items = {item.number: item for item in place.edition.items()}
    warnings: list[str] = []
    if not gate_only:
        try:
            _scan(place, one, work.lines.lines, items, to_wall(place.now, site.zone).date(), who(by))
        except KeyboardInterrupt:
            _tell("\nLeft off; what was scanned is kept.")
            raise typer.Exit(130) from None
        tote = Tote(holds.holds(place.store, booking), checks.scans(place.store, booking), items)
        warnings = [f"not found in the tote: {text}" for text in still_missing(tote)]
        if sign:
            warnings += _sign(place, tote, who(by))
    if started:
        one = bookings.change(place.store, booking, place.now, actual_start=one.actual_start or place.now)
        work = load(place.store, place.edition, site, booking, place.now)
    told = [*warnings, *([work.outdated] if work.outdated else [])]
    answer = gate_of(
        work, holds.holds(place.store, booking), orders.orders(place.store, one.site),
        items_of(place.edition, [work], [row.item for row in holds.holds(place.store, booking)]), place.now, told)
    if json:
        write_json(answer)
    else:
        write(gate_text(answer, site.zone, paper()))
    warn(answer.warnings)
    place.store.close()
    raise typer.Exit(1 if answer.answer == "don't start" or warnings else 0)


def _scan(place: Place, booking: Booking, lines: Sequence[WorkLine], items: Mapping[str, Item], today: date,
          person: str) -> None:
    """Judge what comes in line by line, keeping each scan at once; a verdict a line, on standard error."""
    from kitbuilder.show.workshop import verdict_text
    from kitbuilder.store import checks, holds
    from kitbuilder.workshop.check import Codes, Tote, judge, read, still_missing, undo

    codes = Codes(items)
    number = booking.number
    at_terminal = sys.stdin.isatty()

    def tote() -> Tote:
        # read anew for every scan: another terminal may be checking the same tote
        return Tote(holds.holds(place.store, number), checks.scans(place.store, number), items)

    if at_terminal:
        _tell(f"Booking {number}: scan or type, 'end' to finish, 'undo' to take the last one back.")
        _tell(f"{counted(len(still_missing(tote())), 'item')} to be found.")
    for line in _lines(at_terminal):
        scan = None
        if line.casefold() == "undo":
            verdict = undo(checks.scans(place.store, number), tote())
            if verdict.verdict == "undone":
                checks.undo(place.store, number)
        else:
            verdict, scan = judge(read(line, codes), tote(), today, lines)
            if scan is not None:
                checks.note(place.store, number, scan, person, place.now)
        # whoever scans looks at the tote: what is wrong can be heard
        bell = "\a" if at_terminal and verdict.verdict not in ("taken", "tool", "undone") else ""
        _tell(bell + verdict_text(verdict, Paper(terminal_width())))
        if at_terminal and scan is not None and not still_missing(tote()):
            _tell("All is found. Type 'end' to finish.")


def _lines(at_terminal: bool) -> Iterator[str]:
    """The lines that say something, up to `end` or the end of the input; with a prompt where a person types them."""
    while True:
        if at_terminal:
            print("> ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        text = " ".join(line.split())
        if not line or text.casefold() == "end":
            if at_terminal and not line:
                _tell("")
            return
        if text:
            yield text


def _tell(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _sign(place: Place, tote: "Tote", person: str) -> list[str]:
    """Issue what was found; what stands in the way, in words."""
    from kitbuilder.show.orders import owed_text
    from kitbuilder.store.signing import sign
    from kitbuilder.workshop.check import still_missing

    half = tote.half_found()
    if still_missing(tote) or half:
        told = [f"held for an open question and only scanned in part: {text}; scan all of it, or undo" for text in half]
        return [*told, "nothing was signed for"]
    found = tote.holds_found()
    owed = sign(place.store, [hold.id for hold in found], person, place.now, place.edition.exchange,
                place.edition.heading.currency)
    _tell(f"{counted(len({hold.item for hold in found}), 'item')} signed for by {person}." if found
          else "Nothing is held for it, so there was nothing to sign for.")
    for unit in owed:
        _tell("\n".join(Paper(terminal_width()).wrap(owed_text(unit, tote.name(unit.item)))))
    return []
