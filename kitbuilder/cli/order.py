"""`kitbuilder order`: what is asked of suppliers, what they answer, what comes and what goes back."""

from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli import order_answers, order_returns
from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.order_common import (
    ExpectedOption,
    OrderArgument,
    expected_text,
    may_approve,
    moment_of,
    named,
    sender_of,
    tell,
    wall_of,
    zone_of,
)
from kitbuilder.cli.place import ByOption, SiteOption, here, who
from kitbuilder.errors import StoreRefuses, WrongUse

if TYPE_CHECKING:
    from kitbuilder.model.booking import Booking
    from kitbuilder.model.order import OrderRow

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True,
                  help="Orders: list, approve, send, settle, cancel, received, returns.")


@app.command("list", epilog="Example: kitbuilder order list")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Cancelled, refused and received ones too.")] = False,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """Order proposals and orders, by supplier and cut-off; and what is to be loaded here for other sites."""
    from kitbuilder.model.order import OPEN, ORDER_STATES
    from kitbuilder.night.documents import orders_listed
    from kitbuilder.show.orders import orders_text
    from kitbuilder.show.transfers import loads_text
    from kitbuilder.stock.supersede import why_ordered
    from kitbuilder.store import orders, transfers

    place = here()
    sites = [place.site(site)] if site is not None else list(place.sites.values())
    found = {one.name: orders.orders(place.store, one.name, ORDER_STATES if all_ else OPEN) for one in sites}
    loads = {one.name: transfers.loads_at(place.store, one.name) for one in sites}
    because = why_ordered([order for one in found.values() for order in one], place.edition.supersessions)
    if json:
        write_json(orders_listed([order for one in found.values() for order in one], loads, because))
    else:
        items = {item.number: item for item in place.edition.items()}
        for where in sites:
            heading = f"{where.name}:\n" if len(sites) > 1 else ""
            write(heading + orders_text(found[where.name], items, where.zone, paper(), because))
            loading = loads_text(loads[where.name], items, where.zone, paper())
            write(f"\n{loading}" if loading else "")
    place.store.close()


@app.command(epilog="Example: kitbuilder order show 3")
def show(order: OrderArgument, json: JsonOption = False) -> None:
    """One order, and all that happened to it: when, by whom."""
    from kitbuilder.model.order_listing import ChangeListed, OrderShown
    from kitbuilder.night.documents import orders_listed
    from kitbuilder.show.orders import history_text, orders_text
    from kitbuilder.stock.supersede import why_ordered
    from kitbuilder.store import deliveries, orders

    place = here()
    row, changes = orders.get(place.store, order), orders.history(place.store, order)
    came = deliveries.came_of(place.store, order)
    because = why_ordered([row], place.edition.supersessions)
    if json:
        [listed] = orders_listed([row], None, because).orders
        write_json(OrderShown("kitbuilder.order-shown/1", (), listed, row.outbox_key, tuple(
            ChangeListed(one.at.isoformat(), one.state, one.who, one.text) for one in changes),
            {item: amount.show(quantity) for item, quantity in came.items()}))
    else:
        items = {item.number: item for item in place.edition.items()}
        zone = zone_of(place, row)
        write(orders_text([row], items, zone, paper(), because, came) + history_text(changes, zone, paper()))
    place.store.close()


@app.command(epilog="Exit code 2: it is over what --by may approve by the settings.\n\n"
             "Example: kitbuilder order approve 3 --by \"A. Person\"")
def approve(
    order: OrderArgument, by: ByOption = None, expected: ExpectedOption = None,
    sent: Annotated[bool, typer.Option("--sent", help="You have ordered it by telephone already.")] = False,
    json: JsonOption = False,
) -> None:
    """Approve a proposal: it is in the outbox then, and the next run sends it where its supplier takes orders."""
    from kitbuilder.store import bookings, orders

    place, person = here(), named(by, "approved")
    moment = moment_of(expected)
    if moment is not None and not sent:
        raise WrongUse("--expected is for what was ordered by telephone: say --sent too.")
    row = orders.get(place.store, order)
    if row.state == "proposed":
        _still_wanted(row, bookings.every(place.store))
        may_approve(place, person, row)
    row = orders.decide(place.store, order, "ordered" if sent else "approved", person, place.now, moment,
                        "on the van" if sent and row.from_site else "")
    if sent:
        tell(place, row, expected_text(place, row), json)
    elif row.from_site:
        leaves = f" before {wall_of(place, row, row.cut_off)}" if row.cut_off else ""
        tell(place, row, f": it is to be loaded at {row.from_site}{leaves} (kitbuilder order list --site "
              f"{row.from_site}). When it is on the van: kitbuilder order sent {order} --by NAME", json, "")
    elif (sender := sender_of(place, person)).takes_orders(row.source):
        cut_off = f" (its cut-off is {wall_of(place, row, row.cut_off)})" if row.cut_off else ""
        tell(place, row, f". The next run sends it{cut_off}; to send it now: kitbuilder order send {order}", json, "")
    elif sender.is_fetched(row.source):
        tell(place, row, ". Fetch it there and book it in: kitbuilder stock receive ITEM AMOUNT --bin BIN "
              f"--order {order} --note NOTE", json, "")
    else:
        tell(place, row, f". {row.source} takes no orders from here: ring them up, then: kitbuilder order sent "
              f"{order} --by NAME", json, "")


@app.command(epilog="Example: kitbuilder order sent 3 --by \"A. Person\"")
def sent(order: OrderArgument, by: ByOption = None, expected: ExpectedOption = None, json: JsonOption = False) -> None:
    """Say that an approved order was ordered by telephone, or that what another site sends is on the van; from then on
    it counts as expected."""
    from kitbuilder.store import bookings, orders

    place, person = here(), named(by, "ordered")
    moment = moment_of(expected)
    before = orders.get(place.store, order)
    if before.state == "proposed" and before.from_site:
        _still_wanted(before, bookings.every(place.store))
        may_approve(place, person, before)
    elif before.state == "proposed":
        raise StoreRefuses(f"Order {order} is only proposed. Approve it: kitbuilder order approve {order} --by NAME, "
                           "with --sent if it is ordered already.")
    row = orders.decide(place.store, order, "ordered", person, place.now, moment,
                        "on the van" if before.from_site else "")
    tell(place, row, expected_text(place, row), json)


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
    done = sender_of(place, who(by)).send(where, orders or ())
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
def cancel(order: OrderArgument, by: ByOption = None, json: JsonOption = False) -> None:
    """Cancel an order or a proposal; the next run looks for another way."""
    from kitbuilder.model.order import UNDER_WAY
    from kitbuilder.store import orders

    place, person = here(), named(by, "cancelled")
    before = orders.get(place.store, order)
    row = orders.decide(place.store, order, "cancelled", person, place.now)
    told = before.state in UNDER_WAY and before.state != "approved"
    if row.from_site:
        back = " It is on the van: it goes back to its bin there" if told else ""
        tell(place, row, f". Nothing is held for it at {row.from_site} any more.{back}", json, "." if back else "")
    else:
        tell(place, row, f". {row.source} has it, or may have it: tell them" if told else "", json)


@app.command(epilog="Examples: kitbuilder order received 3\n\n          kitbuilder order received 4 --bin A-01-2-3")
def received(
    order: OrderArgument,
    bin: Annotated[str | None, typer.Option("--bin", metavar="BIN", help="Where what another site sent is put: all of "
                                            "it is booked in there.")] = None,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Say that all that was to come of an order has come: it no longer counts as expected.

    `kitbuilder stock receive --order` books goods in against an order, and says so by itself when all is there. What
    another site sent is booked in as a whole with --bin.
    """
    from kitbuilder.store import deliveries, orders

    place = here()
    if bin is not None:
        came = deliveries.receive_all(place.store, order, bin.strip(), who(by), place.now)
        held = sorted({booking for one in came for booking in one.held})
        more = f", held for booking {', '.join(map(str, held))}" if held else ""
        tell(place, orders.get(place.store, order), f": all of it is in {bin.strip()}{more}", json)
        return
    tell(place, orders.decide(place.store, order, "received", who(None), place.now), "", json)


def _still_wanted(order: "OrderRow", known: "list[Booking]") -> None:
    """Refuse an order for bookings of which none stands any more: it can't be taken back once it is sent."""
    standing = {one.number for one in known if one.state == "authorised"}
    if not any(one.booking in standing for one in order.wanted_for):
        raise StoreRefuses(f"Order {order.id} is for no booking that is authorised any more. Run the night again: it "
                           "works out what is needed now.")


# after the others, which is their place in the help
order_answers.add_to(app)
order_returns.add_to(app)
