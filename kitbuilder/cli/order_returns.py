"""`kitbuilder order return`, `returns`, `units`: what goes back to suppliers, and old units that are owed."""

from typing import TYPE_CHECKING, Annotated, cast

import typer

from kitbuilder import amount
from kitbuilder.calendar.wall import to_wall
from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, here, milli, who
from kitbuilder.errors import WrongUse, offered

if TYPE_CHECKING:
    from kitbuilder.model.order import ExchangeState, ReturnState, ReturnTerms

AgreedOption = Annotated[bool, typer.Option("--agreed", help="The supplier agreed to take it all the same.")]
TextOption = Annotated[str, typer.Option("--why", metavar="TEXT", help="Why, or what they said.")]


def add_to(app: typer.Typer) -> None:
    """Add these commands to those of orders."""
    app.command("return", epilog="Example: kitbuilder order return TH-10321 1 --order 3 --bin A-01 --why \"not used\"")(
        propose)
    app.command(epilog="Example: kitbuilder order returns 2 sent --by \"A. Person\"")(returns)
    app.command(epilog="Example: kitbuilder order units 1 sent --by \"A. Person\"")(units)


def terms_of(place: Place, source: str) -> "ReturnTerms":
    """What the settings say of a supplier's returns."""
    from kitbuilder.model.order import ReturnTerms

    one = next((one for one in place.settings.sources if one.name == source), None)
    return ReturnTerms(one.return_days, one.return_fee_percent) if one else ReturnTerms()


def propose(
    item: Annotated[str, typer.Argument(metavar="ITEM", help="An item number, or a code of it.")],
    quantity: Annotated[str, typer.Argument(metavar="AMOUNT", help="In the item's unit, as 4 or 0.5.")],
    order: Annotated[int, typer.Option("--order", metavar="ORDER", help="The order that brought it.")],
    bin: Annotated[str, typer.Option("--bin", metavar="BIN", help="Where it lies.")],
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why it goes back.")],
    lot: Annotated[str, typer.Option("--lot", metavar="LOT", help="The lot's number, if it has one.")] = "",
    opened: Annotated[bool, typer.Option("--opened", help="Its seal or packing was opened.")] = False,
    agreed: AgreedOption = False, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Propose that something goes back to its supplier; nothing leaves its bin before it is said to be sent."""
    from kitbuilder.store import orders
    from kitbuilder.store import returns as going_back

    if not why.strip():
        raise WrongUse("Say why it goes back: --why TEXT.")
    place = here()
    found, row = place.item(item), orders.get(place.store, order)
    number = going_back.propose(
        place.store, row, found.number, lot.strip(), bin.strip(), milli(quantity, found.unit), found.unit, why.strip(),
        terms_of(place, row.source), who(by), place.now, opened, agreed)
    _done(place, f"Return {number} to {row.source} is proposed. When it leaves: kitbuilder order returns {number} sent "
          "--by NAME", number, json)


def returns(
    number: Annotated[
        int | None, typer.Argument(metavar="[RETURN]", help="A return's number; without it, all.")] = None,
    state: Annotated[str | None, typer.Argument(
        metavar="[STATE]", help="What it is now: sent, \"credit awaited\", credited, refused, dropped.")] = None,
    all_: Annotated[bool, typer.Option("--all", help="Those that are settled too.")] = False,
    agreed: AgreedOption = False, why: TextOption = "", site: SiteOption = None, by: ByOption = None,
    json: JsonOption = False,
) -> None:
    """What goes back to suppliers; with a number and a state, what became of one."""
    from kitbuilder.model.order import RETURN_STATES
    from kitbuilder.model.order_listing import ReturnListed, ReturnsListed
    from kitbuilder.show.orders import returns_text
    from kitbuilder.store import returns as going_back

    place = here()
    if number is not None:
        wanted = cast("ReturnState", _state(state, by, RETURN_STATES[1:]))
        row = going_back.step(place.store, number, wanted, who(by), place.now, why.strip(), agreed)
        back = (f" When it is back: kitbuilder stock receive {row.item} {amount.show(row.quantity)} --bin BIN"
                if row.state == "refused" and place.edition.known_item(row.item) else "")
        _done(place, f"Return {number} to {row.source} is {row.state}.{back}", number, json)
        return
    where = place.site(site).name if site is not None else None
    found = going_back.returns(place.store, where, RETURN_STATES if all_ else going_back.OPEN_RETURNS)
    if json:
        write_json(ReturnsListed("kitbuilder.returns/1", (), tuple(
            ReturnListed(
                one.id, one.source, one.order, one.item, one.lot, one.bin, amount.show(one.quantity), one.unit, one.why,
                one.until.isoformat() if one.until else None, one.currency, amount.show_money(one.fee, one.currency),
                None if one.credit is None else amount.show_money(one.credit, one.currency), one.state,
                one.changed_at.isoformat(), one.changed_by) for one in found)))
    else:
        write(returns_text(found, {item.number: item for item in place.edition.items()}, paper()))
    place.store.close()


def units(
    number: Annotated[
        int | None, typer.Argument(metavar="[UNIT]", help="An old unit's number; without it, all.")] = None,
    state: Annotated[str | None, typer.Argument(
        metavar="[STATE]", help="What it is now: sent, \"deposit back\", refused.")] = None,
    all_: Annotated[bool, typer.Option("--all", help="Those that are settled too.")] = False,
    why: TextOption = "", site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Old units that are owed for exchange units; with a number and a state, what became of one."""
    from kitbuilder.model.order import EXCHANGE_STATES
    from kitbuilder.model.order_listing import UnitListed, UnitsListed
    from kitbuilder.show.orders import units_text
    from kitbuilder.store import returns as going_back

    place = here()
    going_back.owe(place.store, place.edition.exchange, place.edition.heading.currency, place.now)
    if number is not None:
        wanted = cast("ExchangeState", _state(state, by, EXCHANGE_STATES[1:]))
        row = going_back.unit_step(place.store, number, wanted, who(by), place.now, why.strip())
        money = f"{amount.show_money(row.deposit, row.currency)} {row.currency}"
        lost = f" The deposit of {money} isn't paid back." if row.state == "refused" and row.deposit else ""
        _done(place, f"Old unit {number} of booking {row.booking} is {row.state}.{lost}", number, json)
        return
    where = place.site(site).name if site is not None else None
    found = going_back.units(place.store, where, EXCHANGE_STATES if all_ else going_back.OPEN_UNITS)
    if json:
        write_json(UnitsListed("kitbuilder.exchange-units/1", (), tuple(
            UnitListed(one.id, one.booking, one.item, amount.show(one.quantity),
                       one.due.isoformat() if one.due else None, one.wanted, one.currency,
                       amount.show_money(one.deposit, one.currency), one.state, one.changed_at.isoformat(),
                       one.changed_by) for one in found)))
    else:
        today = to_wall(place.now, next(iter(place.sites.values())).zone).date()
        write(units_text(found, {item.number: item for item in place.edition.items()}, today, paper()))
    place.store.close()


def _state(state: str | None, by: str | None, known: tuple[str, ...]) -> str:
    if state is None:
        raise WrongUse(f"Say what it is now: {', '.join(known)}.")
    if state not in known:
        raise WrongUse(f"{state!r} is no state. {offered(state, known)}")
    if by is None:
        raise WrongUse("A named person says so: --by NAME.")
    return state


def _done(place: Place, text: str, number: int, json: bool) -> None:
    from kitbuilder.model.workshop_listing import Done

    if json:
        write_json(Done("kitbuilder.done/1", (), text, number))
    else:
        write("\n".join(paper().wrap(text)) + "\n")
    place.store.close()
