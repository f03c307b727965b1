"""What the commands of orders share: who decides, times as typed, and what is told of an order."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.cli.common import paper, warn, write, write_json
from kitbuilder.cli.place import Place, who
from kitbuilder.errors import WrongUse

if TYPE_CHECKING:
    from kitbuilder.model.order import OrderRow
    from kitbuilder.stock.sending import Sender

OrderArgument = Annotated[int, typer.Argument(metavar="ORDER", help="An order's number.")]
ExpectedOption = Annotated[
    str | None, typer.Option("--expected", metavar="TIME", help="When it is to be here, with its zone; without it, "
                             "the slot's time.")]


def named(by: str | None, done: str) -> str:
    """Who decides on an order; `done` says what. Raises WrongUse where nobody is named."""
    if by is None:
        raise WrongUse(f"An order is {done} by a named person: --by NAME.")
    return who(by)


def moment_of(expected: str | None) -> datetime | None:
    """A time as typed. Raises WrongUse."""
    if expected is None:
        return None
    try:
        moment = datetime.fromisoformat(expected)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise WrongUse(f"--expected {expected!r} is no time with its zone, as 2026-03-11T08:00+00:00.")
    return moment


def sender_of(place: Place, person: str) -> "Sender":
    """What sends orders, for a person."""
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.sending import Sender

    return Sender(place.store, place.settings, load_plugins(), place.edition.heading.currency, person, place.now)


def zone_of(place: Place, order: "OrderRow") -> str:
    """The zone of the site that an order is for."""
    return place.sites[order.site].zone if order.site in place.sites else "UTC"


def wall_of(place: Place, order: "OrderRow", moment: datetime) -> str:
    """A moment as people at the order's site read it."""
    from kitbuilder.calendar.wall import to_wall

    return f"{to_wall(moment, zone_of(place, order)):%Y-%m-%d %H:%M}"


def expected_text(place: Place, order: "OrderRow") -> str:
    """When an order is expected, to put behind its state."""
    return "" if order.expected_at is None else f", expected {wall_of(place, order, order.expected_at)}"


def tell(place: Place, order: "OrderRow", more: str, json: bool, end: str = ".",
         warnings: tuple[str, ...] = ()) -> None:
    """Say what an order is now, and end."""
    from kitbuilder.model.workshop_listing import Done

    where = f"from {order.from_site} to {order.site}" if order.from_site else f"at {order.source}"
    state = "on its way" if order.from_site and order.state == "ordered" else order.state
    text = f"Order {order.id} {where} is {state}{more}{end}"
    if json:
        write_json(Done("kitbuilder.done/1", warnings, text, order.id))
    else:
        write("\n".join(paper().wrap(text)) + "\n")
    warn(warnings)
    place.store.close()


def may_approve(place: Place, person: str, order: "OrderRow") -> None:
    """Refuse what is over a person's own limit in the settings."""
    from kitbuilder.stock.approval import Rules, check_approver, read_rules

    file = place.settings.file.name if place.settings.file else ""
    rules = read_rules(file, place.settings.orders, place.edition.heading.currency, place.sites)
    check_approver(rules.get(order.site, Rules()), person, order)
