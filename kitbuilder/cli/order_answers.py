"""`kitbuilder order take`, `settle`, `rest`: what a person decides on what a supplier answered, or didn't."""

from typing import Annotated

import typer

from kitbuilder.cli.common import JsonOption
from kitbuilder.cli.instead import edits_for
from kitbuilder.cli.order_common import (
    ExpectedOption,
    OrderArgument,
    expected_text,
    may_approve,
    moment_of,
    named,
    tell,
    wall_of,
)
from kitbuilder.cli.place import ByOption, here
from kitbuilder.errors import WrongUse


def add_to(app: typer.Typer) -> None:
    """Add these commands to those of orders."""
    app.command(epilog="Example: kitbuilder order take 3 --by \"A. Person\"")(take)
    app.command(epilog="Example: kitbuilder order settle 3 --accepted --by \"A. Person\"")(settle)
    app.command(epilog="Examples: kitbuilder order rest 3 --expected 2026-03-13T08:00+00:00 --by \"A. Person\"\n\n"
                "          kitbuilder order rest 3 --item TH-10321 --expected 2026-03-13T08:00+00:00 --by NAME\n\n"
                "          kitbuilder order rest 3 --cancel --by \"A. Person\"")(rest)


def take(order: OrderArgument, by: ByOption = None, json: JsonOption = False) -> None:
    """Take an order as its supplier changed it: another price, another item, another time.

    The kits of the bookings that get another item take it from then on, as if by `kitbuilder edit --swap`.
    """
    from kitbuilder.store import orders, settling
    from kitbuilder.workshop.instead import Instead

    place, person = here(), named(by, "taken")
    before = orders.get(place.store, order)
    may_approve(place, person, before)
    others = [
        Instead(line.item, line.substitute, line.quantity if line.confirmed is None else line.confirmed, line.unit)
        for line in before.lines if line.substitute and before.state == "changed"]
    swapped = edits_for(place, before, others, person)
    row = settling.take(place.store, order, person, place.now, swapped.edits)
    tell(place, row, " ".join((f"{expected_text(place, row)}.", *swapped.done)), json, "", tuple(swapped.left))


def settle(
    order: OrderArgument,
    accepted: Annotated[bool, typer.Option("--accepted", help="The supplier has it.")] = False,
    not_accepted: Annotated[bool, typer.Option("--not-accepted", help="The supplier doesn't have it.")] = False,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Say what you found out of an unclear order; the next run looks for another way if they don't have it."""
    from kitbuilder.store import settling

    if accepted == not_accepted:
        raise WrongUse("Say whether the supplier has it: --accepted or --not-accepted.")
    place, person = here(), named(by, "settled")
    row = settling.settle(place.store, order, accepted, person, place.now)
    tell(place, row, expected_text(place, row) if accepted else "", json)


def rest(
    order: OrderArgument, expected: ExpectedOption = None,
    item: Annotated[str, typer.Option("--item", metavar="ITEM", help="Only what is to come of this item comes at "
                                      "another time.")] = "",
    cancel: Annotated[bool, typer.Option("--cancel", help="It doesn't come any more.")] = False,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Say when what is still to come of an order will be here, or that it isn't coming any more."""
    from kitbuilder.store import settling

    if cancel == (expected is not None):
        raise WrongUse("Say when the rest will be here (--expected TIME), or that it isn't coming (--cancel).")
    place, person = here(), named(by, "changed")
    moment = moment_of(expected)
    if item and moment is None:
        raise WrongUse("--item goes with --expected; what isn't coming any more is all that is still to come.")
    if moment is None:
        row = settling.drop_rest(place.store, order, person, place.now)
        tell(place, row, " as far as it came; the next run looks for the rest", json)
    else:
        known = place.edition.known_item(item) if item else None
        number = known.number if known else item
        row = settling.expect(place.store, order, moment, person, place.now, number)
        when = f", {number} expected {wall_of(place, row, moment)}" if number else expected_text(place, row)
        tell(place, row, when, json)
