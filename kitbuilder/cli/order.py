"""`kitbuilder order`: what is asked of suppliers, what they answer, what comes and what goes back."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.cli import order_returns
from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, here, who
from kitbuilder.errors import StoreRefuses, WrongUse

if TYPE_CHECKING:
    from kitbuilder.model.booking import Booking
    from kitbuilder.model.order import OrderRow
    from kitbuilder.stock.sending import Sender

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True,
                  help="Orders: list, approve, send, settle, cancel, received, returns.")
OrderArgument = Annotated[int, typer.Argument(metavar="ORDER", help="An order's number.")]
ExpectedOption = Annotated[
    str | None, typer.Option("--expected", metavar="TIME", help="When it is to be here, with its zone; without it, "
                             "the slot's time.")]


@app.command("list", epilog="Example: kitbuilder order list")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Cancelled, refused and received ones too.")] = False,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """Order proposals and orders, by supplier and cut-off."""
    from kitbuilder.model.order import OPEN, ORDER_STATES
    from kitbuilder.night.documents import orders_listed
    from kitbuilder.show.workshop import orders_text
    from kitbuilder.store import orders

    place = here()
    sites = [place.site(site)] if site is not None else list(place.sites.values())
    found = {one.name: orders.orders(place.store, one.name, ORDER_STATES if all_ else OPEN) for one in sites}
    if json:
        write_json(orders_listed([order for one in found.values() for order in one]))
    else:
        items = {item.number: item for item in place.edition.items()}
        for where in sites:
            heading = f"{where.name}:\n" if len(sites) > 1 else ""
            write(heading + orders_text(found[where.name], items, where.zone, paper()))
    place.store.close()


@app.command(epilog="Example: kitbuilder order show 3")
def show(order: OrderArgument, json: JsonOption = False) -> None:
    """One order, and all that happened to it: when, by whom."""
    from kitbuilder.model.order_listing import ChangeListed, OrderShown
    from kitbuilder.night.documents import orders_listed
    from kitbuilder.show.orders import history_text
    from kitbuilder.show.workshop import orders_text
    from kitbuilder.store import orders

    place = here()
    row, changes = orders.get(place.store, order), orders.history(place.store, order)
    if json:
        [listed] = orders_listed([row]).orders
        write_json(OrderShown("kitbuilder.order-shown/1", (), listed, row.outbox_key, tuple(
            ChangeListed(one.at.isoformat(), one.state, one.who, one.text) for one in changes)))
    else:
        items = {item.number: item for item in place.edition.items()}
        zone = _zone(place, row)
        write(orders_text([row], items, zone, paper()) + history_text(changes, zone, paper()))
    place.store.close()


@app.command(epilog="Example: kitbuilder order approve 3 --by \"A. Person\"")
def approve(
    order: OrderArgument, by: ByOption = None, expected: ExpectedOption = None,
    sent: Annotated[bool, typer.Option("--sent", help="You have ordered it by telephone already.")] = False,
    json: JsonOption = False,
) -> None:
    """Approve a proposal: it is in the outbox then, and the next run sends it where its supplier takes orders."""
    from kitbuilder.store import bookings, orders

    place, person = here(), _named(by, "approved")
    moment = _moment(expected)
    if moment is not None and not sent:
        raise WrongUse("--expected is for what was ordered by telephone: say --sent too.")
    row = orders.get(place.store, order)
    if row.state == "proposed":
        _still_wanted(row, bookings.every(place.store))
    row = orders.decide(place.store, order, "ordered" if sent else "approved", person, place.now, moment)
    if sent:
        _tell(place, row, _expected(place, row), json)
    elif _sender(place, person).takes_orders(row.source):
        cut_off = f" (its cut-off is {_wall(place, row, row.cut_off)})" if row.cut_off else ""
        _tell(place, row, f". The next run sends it{cut_off}; to send it now: kitbuilder order send {order}", json, "")
    else:
        _tell(place, row, f". {row.source} takes no orders from here: ring them up, then: kitbuilder order sent "
              f"{order} --by NAME", json, "")


@app.command(epilog="Example: kitbuilder order sent 3 --by \"A. Person\"")
def sent(order: OrderArgument, by: ByOption = None, expected: ExpectedOption = None, json: JsonOption = False) -> None:
    """Say that an approved order was ordered by telephone; from then on it counts as expected."""
    from kitbuilder.store import orders

    place, person = here(), _named(by, "ordered")
    moment = _moment(expected)
    if orders.get(place.store, order).state == "proposed":
        raise StoreRefuses(f"Order {order} is only proposed. Approve it: kitbuilder order approve {order} --by NAME, "
                           "with --sent if it is ordered already.")
    row = orders.decide(place.store, order, "ordered", person, place.now, moment)
    _tell(place, row, _expected(place, row), json)


@app.command(epilog="Exit code 1: one was refused, accepted in part or changed; 4: one is unclear or couldn't be sent."
             "\n\nExample: kitbuilder order send")
def send(
    orders: Annotated[
        list[int] | None, typer.Argument(metavar="[ORDER]…", help="Only these; without any, all.")] = None,
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Send approved orders to suppliers that take them, and ask after those that are unclear; nothing is sent twice."""
    from kitbuilder.model.order_listing import AllSent, SentListed
    from kitbuilder.show.orders import sent_text

    place = here()
    where = place.site(site).name if site is not None else None
    done = _sender(place, who(by)).send(where, orders or ())
    told = [one for one in done if one.order.state != "cancelled" or one.why]
    failed = [one for one in told if one.order.state in ("unclear", "approved") and not one.by_hand]
    texts = tuple(sent_text(one.order, one.why, one.by_hand) for one in failed)
    if json:
        write_json(AllSent("kitbuilder.sent/1", texts, tuple(
            SentListed(one.order.id, one.order.source, one.before, one.order.state, one.why, one.by_hand)
            for one in told)))
        warn(texts)
    else:
        lines = [line for one in told for line in paper().wrap(sent_text(one.order, one.why, one.by_hand))]
        write("\n".join(lines or ["Nothing waits to be sent."]) + "\n")
    place.store.close()
    not_as_asked = any(one.order.state in ("refused", "part", "changed") for one in told)
    raise typer.Exit(4 if failed else int(not_as_asked))


@app.command()
def take(order: OrderArgument, by: ByOption = None, json: JsonOption = False) -> None:
    """Take an order as its supplier changed it: another price, another item, another time."""
    from kitbuilder.store import outbox

    place, person = here(), _named(by, "taken")
    row = outbox.take(place.store, order, person, place.now)
    _tell(place, row, _expected(place, row), json)


@app.command(epilog="Example: kitbuilder order settle 3 --accepted --by \"A. Person\"")
def settle(
    order: OrderArgument,
    accepted: Annotated[bool, typer.Option("--accepted", help="The supplier has it.")] = False,
    not_accepted: Annotated[bool, typer.Option("--not-accepted", help="The supplier doesn't have it.")] = False,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Say what you found out of an unclear order; the next run looks for another way if they don't have it."""
    from kitbuilder.store import outbox

    if accepted == not_accepted:
        raise WrongUse("Say whether the supplier has it: --accepted or --not-accepted.")
    place, person = here(), _named(by, "settled")
    row = outbox.settle(place.store, order, accepted, person, place.now)
    _tell(place, row, _expected(place, row) if accepted else "", json)


@app.command(epilog="Examples: kitbuilder order rest 3 --expected 2026-03-13T08:00+00:00 --by \"A. Person\"\n\n"
             "          kitbuilder order rest 3 --cancel --by \"A. Person\"")
def rest(
    order: OrderArgument, expected: ExpectedOption = None,
    cancel: Annotated[bool, typer.Option("--cancel", help="It doesn't come any more.")] = False,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Say when what is still to come of an order will be here, or that it isn't coming any more."""
    from kitbuilder.store import outbox

    if cancel == (expected is not None):
        raise WrongUse("Say when the rest will be here (--expected TIME), or that it isn't coming (--cancel).")
    place, person = here(), _named(by, "changed")
    moment = _moment(expected)
    if moment is None:
        row = outbox.drop_rest(place.store, order, person, place.now)
        _tell(place, row, " as far as it came; the next run looks for the rest", json)
    else:
        row = outbox.expect(place.store, order, moment, person, place.now)
        _tell(place, row, _expected(place, row), json)


@app.command()
def cancel(order: OrderArgument, by: ByOption = None, json: JsonOption = False) -> None:
    """Cancel an order or a proposal; the next run looks for another way."""
    from kitbuilder.model.order import UNDER_WAY
    from kitbuilder.store import orders

    place, person = here(), _named(by, "cancelled")
    before = orders.get(place.store, order)
    row = orders.decide(place.store, order, "cancelled", person, place.now)
    told = before.state in UNDER_WAY and before.state != "approved"
    _tell(place, row, f". {row.source} has it, or may have it: tell them" if told else "", json)


@app.command(epilog="Example: kitbuilder order received 3")
def received(order: OrderArgument, json: JsonOption = False) -> None:
    """Say that all that was to come of an order has come: it no longer counts as expected.

    `kitbuilder stock receive --order` books goods in against an order, and says so by itself when all is there.
    """
    from kitbuilder.store import orders

    place = here()
    _tell(place, orders.decide(place.store, order, "received", who(None), place.now), "", json)


def _named(by: str | None, done: str) -> str:
    if by is None:
        raise WrongUse(f"An order is {done} by a named person: --by NAME.")
    return who(by)


def _moment(expected: str | None) -> datetime | None:
    if expected is None:
        return None
    try:
        moment = datetime.fromisoformat(expected)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise WrongUse(f"--expected {expected!r} is no time with its zone, as 2026-03-11T08:00+00:00.")
    return moment


def _sender(place: Place, person: str) -> "Sender":
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.sending import Sender

    return Sender(place.store, place.settings, load_plugins(), place.edition.heading.currency, person, place.now)


def _zone(place: Place, order: "OrderRow") -> str:
    return place.sites[order.site].zone if order.site in place.sites else "UTC"


def _wall(place: Place, order: "OrderRow", moment: datetime) -> str:
    from kitbuilder.calendar.wall import to_wall

    return f"{to_wall(moment, _zone(place, order)):%Y-%m-%d %H:%M}"


def _expected(place: Place, order: "OrderRow") -> str:
    return "" if order.expected_at is None else f", expected {_wall(place, order, order.expected_at)}"


def _tell(place: Place, order: "OrderRow", more: str, json: bool, end: str = ".") -> None:
    from kitbuilder.model.workshop_listing import Done

    text = f"Order {order.id} at {order.source} is {order.state}{more}{end}"
    if json:
        write_json(Done("kitbuilder.done/1", (), text, order.id))
    else:
        write("\n".join(paper().wrap(text)) + "\n")
    place.store.close()


def _still_wanted(order: "OrderRow", known: "list[Booking]") -> None:
    """Refuse an order for bookings of which none stands any more: it can't be taken back once it is sent."""
    standing = {one.number for one in known if one.state == "authorised"}
    if not any(one.booking in standing for one in order.wanted_for):
        raise StoreRefuses(f"Order {order.id} is for no booking that is authorised any more. Run the night again: it "
                           "works out what is needed now.")


# after the others, which is their place in the help
order_returns.add_to(app)
