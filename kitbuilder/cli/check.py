"""`kitbuilder check`: the technician's kit check, and the start gate."""

import sys
from typing import Annotated

import typer

from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import BookingArgument, ByOption, here, milli, who
from kitbuilder.errors import WrongUse

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
What is typed or scanned, a line each:
  RI-60114          an item number or a code: one, or all of a bag
  RI-60114 4        so many
  RI-60114/L7 4     of lot L7
  undo              take the last one back
  end               finish (so does the end of the input)
"""


@app.command(epilog=_EPILOG)
def check(
    booking: BookingArgument,
    gate_only: Annotated[bool, typer.Option("--gate", help="Only the start gate, no scanning.")] = False,
    issue: Annotated[bool, typer.Option("--sign", help="The technician takes the tote: what was found is issued.")] = False,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Check the tote by scanning before the job starts; it ends in the start gate. Exit code 1: don't start."""
    from kitbuilder.night.report import gate_of
    from kitbuilder.show.workshop import gate_text
    from kitbuilder.store import bookings, checks, holds, orders
    from kitbuilder.workshop.check import judge, still_missing
    from kitbuilder.workshop.work import items_of, load

    place = here()
    one = bookings.get(place.store, booking)
    site = place.site(one.site)
    work = load(place.store, place.edition, site, booking)
    rows = [row for row in holds.holds(place.store, booking) if row.state != "issued"]
    items = {item.number: item for item in place.edition.items()}
    person, warnings = who(by), []
    scans = []
    if not gate_only:
        scans = checks.scans(place.store, booking)
        for line in sys.stdin:
            words = line.split()
            if not words:
                continue
            if words == ["end"]:
                break
            if words == ["undo"]:
                print("undone" if checks.undo(place.store, booking) else "nothing to undo", file=sys.stderr)
                scans = checks.scans(place.store, booking)
                continue
            quantity = None
            if len(words) > 1:
                number = words[0].partition("/")[0]
                unit = next((row.unit for row in rows if row.item == number), "each")
                try:
                    quantity = milli(words[1], unit)
                except WrongUse as wrong:
                    print(str(wrong), file=sys.stderr)
                    continue
            verdict, scan = judge(words[0], quantity, rows, scans, items, place.now.date())
            print(f"{verdict.verdict}: {verdict.text}", file=sys.stderr)
            if scan is not None:
                checks.note(place.store, booking, scan, person, place.now)
                scans.append(scan)
        missing = still_missing(rows, scans, items)
        warnings = [f"not found in the tote: {text}" for text in missing]
        if issue and missing:
            raise WrongUse("The tote isn't complete: " + "; ".join(missing) + ". Nothing was signed for.")
        if issue:
            holds.step(place.store, [row.id for row in rows if row.state == "planned"], "picking", person, place.now)
            ids = [row.id for row in holds.holds(place.store, booking) if row.state == "picking"]
            holds.step(place.store, ids, "picked", person, place.now)
            ids = [row.id for row in holds.holds(place.store, booking) if row.state == "picked"]
            holds.step(place.store, ids, "issued", person, place.now)
    answer = gate_of(
        work, holds.holds(place.store, booking), orders.orders(place.store, one.site), items_of(place.edition, [work]),
        place.now, warnings)
    if json:
        write_json(answer)
    else:
        for text in warnings:
            print(f"warning: {text}", file=sys.stderr)
        write(gate_text(answer, site.zone, paper()))
    place.store.close()
    raise typer.Exit(1 if answer.answer == "don't start" or warnings else 0)
