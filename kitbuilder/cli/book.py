"""`kitbuilder book`: bookings made and changed at the desk."""

import secrets
from datetime import datetime
from typing import Annotated

import typer

from kitbuilder.cli.common import (
    CatalogueOption,
    FactOption,
    JobArgument,
    JsonOption,
    PlateOption,
    paper,
    write,
    write_json,
)
from kitbuilder.cli.place import BookingArgument, Place, SiteOption, here
from kitbuilder.errors import WrongUse

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="Bookings: add, list, move, cancel, authorise.")

#: The diary that bookings made at the command line belong to.
DESK = "desk"
StartOption = Annotated[
    str, typer.Option("--start", metavar="TIME", help="Planned start at the site, as 2026-03-11T07:30.")]


def _start(text: str) -> datetime:
    try:
        start = datetime.fromisoformat(text)
        date_only = ":" not in text  # a day alone would pass for midnight
    except ValueError:
        date_only = True
    if date_only:
        raise WrongUse(f"--start {text!r} is no day and time. Expected one such as 2026-03-11T07:30.")
    if start.tzinfo is not None:
        raise WrongUse("--start is the time at the site; leave the zone out.")
    return start


def _told(wall: datetime, zone: str) -> str:
    """A start in words; where clocks skip it, with what it means."""
    from kitbuilder.calendar.wall import to_utc, to_wall

    means = to_wall(to_utc(wall, zone), zone)
    skipped = "" if means == wall else f" (clocks skip that: it means {means:%H:%M})"
    return f"{wall:%Y-%m-%d %H:%M}{skipped}"


def _done(place: Place, text: str, number: int, json: bool) -> None:
    from kitbuilder.model.workshop_listing import Done

    if json:
        write_json(Done("kitbuilder.done/1", (), text, number))
    else:
        write(f"{text}\n")
    place.store.close()


@app.command(epilog="Example: kitbuilder book add gearbox-oil-change --start 2026-03-12T08:00 --vehicle \"DEMO 008\"")
def add(
    job: JobArgument, start: StartOption,
    vehicle: Annotated[str, typer.Option(
        "--vehicle", metavar="REG", help="The vehicle's registration, or its VIN.")] = "",
    fact: FactOption = None,
    plate: PlateOption = None,
    enquiry: Annotated[bool, typer.Option("--enquiry", help="Not authorised yet: nothing is ordered for it.")] = False,
    vor: Annotated[bool, typer.Option("--vor", help="Vehicle off the road: it goes before the rest.")] = False,
    visit: Annotated[str, typer.Option("--visit", metavar="NAME", help="Bookings of one name are of one visit.")] = "",
    bay: Annotated[str, typer.Option("--bay", metavar="NAME", help="Where the work is done.")] = "",
    technician: Annotated[str, typer.Option("--technician", metavar="NAME", help="Who does the work.")] = "",
    site: SiteOption = None, catalogue: CatalogueOption = None,
    json: JsonOption = False,
) -> None:
    """Make a booking; its number is what people see, type and scan."""
    from kitbuilder.calendar.wall import to_utc
    from kitbuilder.cli.common import statements
    from kitbuilder.model.booking import DiaryEntry
    from kitbuilder.store import bookings
    from kitbuilder.vehicle.statements import TOLD, Statement, cells_of, settle

    place = here(catalogue)
    where, wall = place.site(site), _start(start)
    place.edition.job(job)
    told = statements(fact, None)
    if plate:
        from kitbuilder.vehicle.plates import of_plates

        # a diary tells: whoever read the plate isn't there when the kit is built
        told += [Statement(one.fact, one.cell, TOLD, one.place) for one in of_plates(place.edition.plates, plate)]
    settle(place.edition.space, place.edition.tables, told)
    entry = DiaryEntry(
        id=f"{place.now:%Y%m%d}-{secrets.token_hex(6)}", start=wall, site=where.name, job=job, visit=visit,
        registration=vehicle, state="enquiry" if enquiry else "authorised", priority="VOR" if vor else "normal",
        bay=bay, technician=technician, facts=cells_of(place.edition.space, told))
    number, _ = bookings.put(place.store, DESK, entry, to_utc(wall, where.zone), where.zone, place.now)
    _done(place, f"Booking {number}: {job}, {_told(wall, where.zone)}.", number, json)


@app.command("list", epilog="Example: kitbuilder book list --json")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Cancelled and past ones too.")] = False,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """List bookings by planned start."""
    from zoneinfo import ZoneInfo

    from kitbuilder.calendar.wall import to_wall
    from kitbuilder.model.workshop_listing import BookingListed, BookingsListed
    from kitbuilder.show.workshop import bookings_text
    from kitbuilder.store import bookings

    place = here()
    found = bookings.every(place.store, None if site is None else place.site(site).name)
    if not all_:
        # what began earlier today is still to be seen
        found = [one for one in found if one.state != "cancelled"
                 and to_wall(one.start, one.zone).date() >= to_wall(place.now, one.zone).date()]
    if json:
        write_json(BookingsListed("kitbuilder.bookings/1", (), tuple(
            BookingListed(one.number, one.start.astimezone(ZoneInfo(one.zone)).isoformat(), one.job, one.registration,
                          one.site, one.state, one.priority, one.visit, one.missing) for one in found)))
    else:
        write(bookings_text(found, paper()))
    place.store.close()


@app.command(epilog="Example: kitbuilder book move 12 --start 2026-03-13T08:00")
def move(booking: BookingArgument, start: StartOption, json: JsonOption = False) -> None:
    """Move a booking to another start."""
    from kitbuilder.calendar.wall import to_utc
    from kitbuilder.store import bookings

    place = here()
    one, wall = bookings.get(place.store, booking), _start(start)
    bookings.change(place.store, booking, place.now, start=to_utc(wall, one.zone), start_wall=wall.isoformat())
    _done(place, f"Booking {booking} starts {_told(wall, one.zone)}.", booking, json)


@app.command()
def cancel(booking: BookingArgument, json: JsonOption = False) -> None:
    """Cancel a booking; the next run lets go what was planned for it."""
    from kitbuilder.model.order import UNDER_WAY
    from kitbuilder.store import bookings, orders

    place = here()
    if bookings.get(place.store, booking).state == "cancelled":
        _done(place, f"Booking {booking} is cancelled already.", booking, json)
        return
    bookings.change(place.store, booking, place.now, state="cancelled")
    ordered = [
        str(one.id) for one in orders.orders(place.store, None, UNDER_WAY)
        if any(each.booking == booking for each in one.wanted_for)]
    more = f" What was ordered for it still comes: order {', '.join(ordered)}." if ordered else ""
    _done(place, f"Booking {booking} is cancelled.{more}", booking, json)


@app.command()
def authorise(booking: BookingArgument, json: JsonOption = False) -> None:
    """Authorise an enquiry: from the next run on, things are ordered for it."""
    from kitbuilder.store import bookings

    place = here()
    bookings.change(place.store, booking, place.now, state="authorised")
    _done(place, f"Booking {booking} is authorised.", booking, json)
