"""`kitbuilder stock`: the own shelf."""

from datetime import date
from typing import Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, day_or_none, here, milli, who

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="The own shelf: goods in, counts, moves, audit.")

ItemArgument = Annotated[str, typer.Argument(metavar="ITEM", help="An item number, or a code of it.")]
AmountArgument = Annotated[str, typer.Argument(metavar="AMOUNT", help="In the item's unit, as 4 or 0.5.")]
BinOption = Annotated[str, typer.Option("--bin", metavar="BIN", help="Where it lies: aisle-rack-level-place.")]
LotOption = Annotated[str, typer.Option("--lot", metavar="LOT", help="The lot's number, if it has one.")]


def _done(place: Place, text: str, json: bool) -> None:
    from kitbuilder.model.workshop_listing import Done

    if json:
        write_json(Done("kitbuilder.done/1", (), text))
    else:
        write(f"{text}\n")
    place.store.close()


@app.command(epilog="Example: kitbuilder stock receive RI-60114 50 --bin A-01-2-3 --lot L7 --use-by 2027-06-30")
def receive(
    item: ItemArgument, quantity: AmountArgument, bin: BinOption, lot: LotOption = "",
    use_by: Annotated[str | None, typer.Option("--use-by", metavar="DAY", help="Last day of use, as 2027-06-30.")] = None,
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Book goods in."""
    from kitbuilder.model.shelf import Receipt
    from kitbuilder.store import shelves

    place = here()
    found = place.item(item)
    day = day_or_none(use_by, "--use-by")
    milli_units = milli(quantity, found.unit)
    shelves.receive(place.store, Receipt(
        site=place.site(site).name, item=found.number, bin=bin, quantity=milli_units, unit=found.unit, lot=lot,
        use_by=None if day is None else date(day.year, day.month, day.day)), who(by), place.now)
    _done(place, f"Received {amount.show(milli_units)} {found.unit} of {found.number} ({found.name}) in {bin}.", json)


@app.command("list", epilog="Example: kitbuilder stock list RI-60114")
def list_(
    items: Annotated[list[str] | None, typer.Argument(metavar="[ITEM]…", help="Only these; without any, all.")] = None,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """What lies where, and what of it is promised."""
    from kitbuilder.model.workshop_listing import LotListed, LotsListed
    from kitbuilder.show.workshop import stock_text
    from kitbuilder.store import shelves

    place = here()
    numbers = [place.item(one).number for one in items] if items else None
    lots = shelves.lots(place.store, place.site(site).name, numbers)
    if json:
        write_json(LotsListed("kitbuilder.stock/1", (), tuple(
            LotListed(one.item, one.lot, one.bin, amount.show(one.on_hand), amount.show(one.held), one.unit,
                      one.use_by.isoformat() if one.use_by else None, one.site, one.quarantine) for one in lots)))
    else:
        write(stock_text(lots, paper()))
    place.store.close()


@app.command(epilog="Example: kitbuilder stock count RI-60114 48 --bin A-01-2-3 --why \"two were bent\"")
def count(
    item: ItemArgument, quantity: Annotated[str, typer.Argument(metavar="AMOUNT", help="What was found there; 0 if nothing.")],
    bin: BinOption, lot: LotOption = "",
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why it differs, for the ledger.")] = "",
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Set what a count found."""
    from kitbuilder.store import shelves

    place = here()
    found = place.item(item)
    milli_units = 0 if quantity.strip("0.") == "" and quantity else milli(quantity, found.unit)
    difference = shelves.count(
        place.store, place.site(site).name, found.number, lot, bin, milli_units, who(by), why, place.now)
    _done(place, f"Counted {amount.show(milli_units)} {found.unit} of {found.number} in {bin}, "
                 f"{amount.show(difference)} against the book.", json)


@app.command(epilog="Example: kitbuilder stock move RI-60114 10 --from A-01-2-3 --to B-02-1-1")
def move(
    item: ItemArgument, quantity: AmountArgument,
    from_bin: Annotated[str, typer.Option("--from", metavar="BIN", help="The bin it lies in.")],
    to_bin: Annotated[str, typer.Option("--to", metavar="BIN", help="The bin it goes to.")],
    lot: LotOption = "", site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Move what isn't promised from one bin to another."""
    from kitbuilder.store import shelves

    place = here()
    found = place.item(item)
    milli_units = milli(quantity, found.unit)
    shelves.move(place.store, place.site(site).name, found.number, lot, from_bin, to_bin, milli_units, who(by), place.now)
    _done(place, f"Moved {amount.show(milli_units)} {found.unit} of {found.number} from {from_bin} to {to_bin}.", json)


@app.command(epilog="Example: kitbuilder stock quarantine CO-50220 --lot S12 --why \"past its date\"")
def quarantine(
    item: ItemArgument, lot: LotOption = "",
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why it may not be used; empty: it may again.")] = "",
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Put a lot into quarantine, or out of it."""
    from kitbuilder.store import shelves

    place = here()
    found = place.item(item)
    shelves.quarantine(place.store, place.site(site).name, found.number, lot, why, who(by), place.now)
    _done(place, f"{found.number}{f' lot {lot}' if lot else ''} is {'in quarantine: ' + why if why else 'free again'}.", json)


@app.command(epilog="Exit code 1 if a balance isn't proved.")
def audit(json: JsonOption = False) -> None:
    """Prove every balance from the ledger, and every promise from the holds."""
    from kitbuilder.model.workshop_listing import AuditListed
    from kitbuilder.store import shelves

    place = here()
    faults = tuple(
        f"{one.item}{f' lot {one.lot}' if one.lot else ''} in {one.bin}: {one.text}"
        + (f" (ledger row {one.ledger_row})" if one.ledger_row else "") for one in shelves.audit(place.store))
    if json:
        write_json(AuditListed("kitbuilder.audit/1", (), faults))
    else:
        write("\n".join(faults) + "\n" if faults else "Every balance is proved by the ledger.\n")
    place.store.close()
    raise typer.Exit(1 if faults else 0)
