"""`kitbuilder pick`: the pick list of a booking, and what was picked."""

from typing import Annotated

import typer

from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import BookingArgument, ByOption, here, milli, who
from kitbuilder.errors import WrongUse

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder pick 12                       the list, in bin order
  kitbuilder pick 12 --done                all of it is in the tote
  kitbuilder pick 12 --short 7=2           of hold 7 only 2 are there
"""


@app.command(epilog=_EPILOG)
def pick(
    booking: BookingArgument,
    start: Annotated[bool, typer.Option("--start", help="Somebody picks it now: no run moves it any more.")] = False,
    done: Annotated[bool, typer.Option("--done", help="All that is held is in the tote.")] = False,
    short: Annotated[list[str] | None, typer.Option("--short", metavar="HOLD=AMOUNT",
                     help="Of a hold only so much is there (0: nothing); may be repeated.")] = None,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """The pick list of a booking in bin order; with --done, --start or --short what has been done with it."""
    from kitbuilder.show.workshop import pick_text
    from kitbuilder.store import bookings, holds, shelves
    from kitbuilder.workshop.picking import pick_list
    from kitbuilder.workshop.work import items_of, load

    place = here()
    one = bookings.get(place.store, booking)
    work = load(place.store, place.edition, place.site(one.site), booking)
    rows = holds.holds(place.store, booking)
    person = who(by)
    for text in short or ():
        number, sign, found = text.partition("=")
        row = next((row for row in rows if str(row.id) == number), None)
        if not sign or row is None:
            raise WrongUse(f"--short {text!r} names no hold of booking {booking}. Expected HOLD=AMOUNT, as "
                           f"{rows[0].id if rows else 7}=2; the list shows the holds with --json.")
        quantity = 0 if found.strip("0.") == "" and found else milli(found, row.unit)
        holds.short_pick(place.store, row.id, quantity, person, place.now)
    rows = holds.holds(place.store, booking)
    if start or done:
        holds.step(place.store, [row.id for row in rows if row.state == "planned"], "picking", person, place.now)
    if done:
        rows = holds.holds(place.store, booking)
        holds.step(place.store, [row.id for row in rows if row.state == "picking"], "picked", person, place.now)
    rows = [row for row in holds.holds(place.store, booking) if row.state != "issued"]
    items = items_of(place.edition, [work], [row.item for row in rows])
    warnings = ("Something was short: count its bin (kitbuilder stock count), and run the night again.",) if short else ()
    answer = pick_list(one, work.lines, rows, items, shelves.lots(place.store, one.site, list(items)), warnings)
    if json:
        write_json(answer)
    else:
        write(pick_text(answer, paper()))
    place.store.close()
    raise typer.Exit(1 if short else 0)
