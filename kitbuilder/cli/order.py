"""`kitbuilder order`: what is to be asked of suppliers."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, here, who
from kitbuilder.errors import StoreRefuses, WrongUse

if TYPE_CHECKING:
    from kitbuilder.model.booking import Booking
    from kitbuilder.model.order import OrderRow

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="Orders: list, approve, cancel, received.")

OrderArgument = Annotated[int, typer.Argument(metavar="ORDER", help="An order's number.")]


@app.command("list", epilog="Example: kitbuilder order list")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Cancelled and received ones too.")] = False,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """Order proposals and orders, by supplier and cut-off."""
    from kitbuilder.night.documents import orders_listed
    from kitbuilder.show.workshop import orders_text
    from kitbuilder.store import orders

    place = here()
    states = ("proposed", "ordered", "cancelled", "received") if all_ else ("proposed", "ordered")
    sites = [place.site(site)] if site is not None else list(place.sites.values())
    found = {one.name: orders.orders(place.store, one.name, states) for one in sites}
    if json:
        write_json(orders_listed([order for one in found.values() for order in one]))
    else:
        items = {item.number: item for item in place.edition.items()}
        for where in sites:
            heading = f"{where.name}:\n" if len(sites) > 1 else ""
            write(heading + orders_text(found[where.name], items, where.zone, paper()))
    place.store.close()


@app.command(epilog="Example: kitbuilder order approve 3 --by \"A. Person\"")
def approve(
    order: OrderArgument, by: ByOption = None,
    expected: Annotated[
        str | None, typer.Option("--expected", metavar="TIME", help="When it is to be here, with its zone; without it, "
                                 "the slot's time.")] = None,
    json: JsonOption = False,
) -> None:
    """Say that an order is ordered; from then on it counts as expected. Sending it is still done by hand."""
    place = here()
    if by is None:
        raise WrongUse("An order is approved by a named person: --by NAME.")
    moment = None
    if expected is not None:
        try:
            moment = datetime.fromisoformat(expected)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            raise WrongUse(f"--expected {expected!r} is no time with its zone, as 2026-03-11T08:00+00:00.")
    _decide(place, order, "ordered", by, moment, json)


@app.command()
def cancel(order: OrderArgument, by: ByOption = None, json: JsonOption = False) -> None:
    """Cancel an order or a proposal; the next run looks for another way."""
    place = here()
    if by is None:
        raise WrongUse("An order is cancelled by a named person: --by NAME.")
    _decide(place, order, "cancelled", by, None, json)


@app.command(epilog="Example: kitbuilder order received 3")
def received(order: OrderArgument, json: JsonOption = False) -> None:
    """Say that what was ordered has come: it no longer counts as expected.

    Book it in with `kitbuilder stock receive`; the next run holds it for its bookings.
    """
    _decide(here(), order, "received", who(None), None, json)


def _decide(place: Place, number: int, state: str, by: str, expected: datetime | None, json: bool) -> None:
    from kitbuilder.calendar.wall import to_wall
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store import bookings, orders

    if state == "ordered":
        _still_wanted(place, number, orders.orders(place.store, None, ("proposed",)), bookings.every(place.store))
    order = orders.decide(place.store, number, state, who(by), place.now, expected)  # type: ignore[arg-type]
    text = f"Order {number} at {order.source} is {state}"
    if state == "ordered" and order.expected_at:
        zone = place.sites[order.site].zone if order.site in place.sites else "UTC"
        text += f", expected {to_wall(order.expected_at, zone):%Y-%m-%d %H:%M}"
    text += "."
    if json:
        write_json(Done("kitbuilder.done/1", (), text, number))
    else:
        write(f"{text}\n")
    place.store.close()


def _still_wanted(place: Place, number: int, proposed: "list[OrderRow]", known: "list[Booking]") -> None:
    """Refuse an order for bookings of which none stands any more: it can't be taken back once it is sent."""
    standing = {one.number for one in known if one.state == "authorised"}
    order = next((one for one in proposed if one.id == number), None)
    if order is not None and not any(one.booking in standing for one in order.wanted_for):
        raise StoreRefuses(f"Order {number} is for no booking that is authorised any more. Run the night again: it "
                           "works out what is needed now.")
