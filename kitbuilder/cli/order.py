"""`kitbuilder order`: what is to be asked of suppliers."""

from datetime import datetime
from typing import Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, here, who
from kitbuilder.errors import WrongUse
from kitbuilder.model.order import OrderRow

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="Orders: list, approve, cancel.")

OrderArgument = Annotated[int, typer.Argument(metavar="ORDER", help="An order's number.")]


@app.command("list", epilog="Example: kitbuilder order list")
def list_(
    all_: Annotated[bool, typer.Option("--all", help="Cancelled and received ones too.")] = False,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """Order proposals and orders, by supplier and cut-off."""
    from kitbuilder.model.workshop_listing import OrdersListed
    from kitbuilder.show.workshop import orders_text
    from kitbuilder.store import orders

    place = here()
    states = ("proposed", "ordered", "cancelled", "received") if all_ else ("proposed", "ordered")
    where = place.site(site)
    found = orders.orders(place.store, where.name, states)
    if json:
        write_json(OrdersListed("kitbuilder.orders/1", (), tuple(_listed(one) for one in found)))
    else:
        items = {item.number: item for item in place.edition.items()}
        write(orders_text(found, items, where.zone, paper()))
    place.store.close()


def _listed(order: OrderRow):  # type: ignore[no-untyped-def]
    from kitbuilder.model.workshop_listing import OrderLineListed, OrderListed

    return OrderListed(
        order.id, order.source, order.state, order.ready.isoformat(),
        order.cut_off.isoformat() if order.cut_off else None,
        order.expected_at.isoformat() if order.expected_at else None, order.currency,
        amount.show_money(order.fee, order.currency),
        tuple(OrderLineListed(line.item, amount.show(line.quantity), line.unit, sum(count for _, count in line.packs),
                              amount.show_money(line.minor, order.currency)) for line in order.lines),
        tuple(sorted({one.booking for one in order.wanted_for})), order.decided_by)


@app.command(epilog="Example: kitbuilder order approve 3 --by \"A. Person\"")
def approve(
    order: OrderArgument, by: ByOption = None,
    expected: Annotated[str | None, typer.Option("--expected", metavar="TIME", help="When it is to be here, with its zone; "
                        "without it, the slot's time.")] = None,
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


def _decide(place: Place, number: int, state: str, by: str, expected: datetime | None, json: bool) -> None:
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store import orders

    order = orders.decide(place.store, number, state, who(by), place.now, expected)  # type: ignore[arg-type]
    text = f"Order {number} at {order.source} is {state}"
    text += f", expected {order.expected_at:%Y-%m-%d %H:%M} UTC." if state == "ordered" and order.expected_at else "."
    if json:
        write_json(Done("kitbuilder.done/1", (), text, number))
    else:
        write(f"{text}\n")
    place.store.close()
