"""`kitbuilder stock`: the own shelf."""

from typing import Annotated, NamedTuple

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, day_or_none, found_milli, here, milli, who
from kitbuilder.cli.stock_reserve import let_go
from kitbuilder.cli.stock_scan import scan
from kitbuilder.errors import WrongUse

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="The own shelf: goods in, counts, moves, audit.")
app.command(epilog="Example: kitbuilder stock scan scans.txt --bin A-01")(scan)
app.command("let-go", epilog="Example: kitbuilder stock let-go TH-20110 --why \"a walk-in needs it\"")(let_go)

ItemArgument = Annotated[str, typer.Argument(metavar="ITEM", help="An item number, or a code of it.")]
AmountArgument = Annotated[str, typer.Argument(metavar="AMOUNT", help="In the item's unit, as 4 or 0.5.")]
BinOption = Annotated[str, typer.Option("--bin", metavar="BIN", help="Where it lies: aisle-rack-level-place.")]
UseByOption = Annotated[str | None, typer.Option("--use-by", metavar="DAY", help="Last day of use, as 2027-06-30.")]
FoundArgument = Annotated[str, typer.Argument(metavar="AMOUNT", help="What was found there; 0 if nothing.")]
LotOption = Annotated[str, typer.Option("--lot", metavar="LOT", help="The lot's number, if it has one.")]


def _done(place: Place, text: str, json: bool, warnings: tuple[str, ...] = ()) -> None:
    from kitbuilder.model.workshop_listing import Done

    if json:
        write_json(Done("kitbuilder.done/1", warnings, text))
    else:
        write("\n".join(paper().wrap(text)) + "\n")
    warn(warnings)
    place.store.close()


class _Kept(NamedTuple):
    """What a command on the shelf needs to know of an item."""

    number: str
    name: str
    unit: str


def _kept(place: Place, site: str, told: str) -> _Kept:
    """An item of the catalogue, or one that lies on the shelf though the catalogue has it no more. Raises WrongUse."""
    from kitbuilder.store import shelves

    try:
        item = place.item(told)
    except WrongUse:
        lots = shelves.lots(place.store, site, [told])
        if not lots:
            raise
        return _Kept(told, "no longer in the catalogue", lots[0].unit)
    return _Kept(item.number, item.name, item.unit)


def _unit(place: Place, site: str, item: _Kept, lot: str) -> str:
    """The unit that a lot is kept in, which is the item's unless the catalogue has changed since."""
    from kitbuilder.store import shelves

    return next((one.unit for one in shelves.lots(place.store, site, [item.number]) if one.lot == lot), item.unit)


def _of(item: _Kept, lot: str) -> str:
    return f"{item.number} ({item.name}){f' of lot {lot}' if lot else ''}"


@app.command(epilog="Example: kitbuilder stock receive RI-60114 50 --bin A-01-2-3 --lot L7 --use-by 2027-06-30")
def receive(
    item: ItemArgument, quantity: AmountArgument, bin: BinOption, lot: LotOption = "",
    use_by: UseByOption = None,
    order: Annotated[int | None, typer.Option("--order", metavar="ORDER", help="The order that they came for.")] = None,
    note: Annotated[str, typer.Option("--note", metavar="NUMBER", help="The delivery note's number.")] = "",
    instead_of: Annotated[str, typer.Option("--instead-of", metavar="ITEM", help="The item of the order in whose place "
                                            "you take it.")] = "",
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Book goods in. Against an order (--order, --note) they are held at once for the bookings that wait for them.

    What the order doesn't have is put into quarantine, and its return is proposed. Exit code 1: something came that
    wasn't ordered.
    """
    from kitbuilder.model.shelf import Receipt
    from kitbuilder.store import shelves

    place = here()
    if order is not None:
        _receive_against(place, order, item, quantity, Against(
            bin.strip(), lot.strip(), use_by, note.strip(), instead_of), who(by), json)
        return
    if note or instead_of:
        raise WrongUse("--note and --instead-of go with --order: for which order is it?")
    where, found = place.site(site).name, place.item(item)
    milli_units = milli(quantity, found.unit)
    told = day_or_none(use_by, "--use-by")
    day = None if told is None else told.date()
    shelves.receive(place.store, Receipt(
        site=where, item=found.number, bin=bin.strip(), quantity=milli_units, unit=found.unit, lot=lot.strip(),
        use_by=day), who(by), place.now)
    passed = (f"Its use-by {day} has passed; nothing will be planned from it.",) if (
        day is not None and day < place.now.date()) else ()
    _done(place, f"Received {amount.show(milli_units)} {found.unit} of {found.number} ({found.name}) in {bin.strip()}.",
          json, passed)


class Against(NamedTuple):
    """What is told of goods that came for an order."""

    bin: str
    lot: str
    use_by: str | None
    note: str
    instead_of: str


def _receive_against(place: Place, order: int, told: str, quantity: str, against: Against, person: str,
                     json: bool) -> None:
    from kitbuilder.cli.elsewhere import issued_there, there_of
    from kitbuilder.cli.instead import edits_for
    from kitbuilder.cli.order_returns import terms_of
    from kitbuilder.model.order import Goods
    from kitbuilder.store import deliveries, orders
    from kitbuilder.workshop.instead import Instead

    row = orders.get(place.store, order)
    try:
        kept = place.item(told)
        item = _Kept(kept.number, kept.name, kept.unit)
    except WrongUse:
        item = _Kept(told, "not in the catalogue", "each")  # a wrong part may be anything
    instead_of = place.item(against.instead_of).number if against.instead_of else ""
    day = day_or_none(against.use_by, "--use-by")
    goods = Goods(note=against.note, item=item.number, quantity=milli(quantity, item.unit), unit=item.unit,
                  bin=against.bin, lot=against.lot, use_by=day.date() if day else None, instead_of=instead_of)
    there = there_of(place, row.source)
    instead = [Instead(instead_of, goods.item, goods.quantity, goods.unit)] if instead_of else []
    swapped = edits_for(place, row, instead, person)
    came = deliveries.receive(place.store, order, goods, person, place.now, terms_of(place, row.source),
                              there.told, swapped.edits)
    what = f"{amount.show(goods.quantity)} {goods.unit} of {item.number} ({item.name})"
    if came.again:
        _done(place, f"{what} of note {goods.note} was booked in before. Nothing was done.", json)
        return
    text = f"Received {what} in {goods.bin} for order {order}, which is {came.state}."
    if came.held:
        text += " Held: " + ", ".join(
            f"{amount.show(held)} for booking {number}" for number, held in sorted(came.held.items())) + "."
    warnings = issued_there(place, there, order, person)
    if came.takes == "instead":
        text = " ".join((text, *swapped.done))
        warnings += swapped.left
    if came.takes == "wrong":
        warnings.append(f"Order {order} has no {item.number}: it is in quarantine as lot {came.lot}, and return "
                        f"{came.proposed_return} is proposed.")
    elif came.beyond:
        warnings.append(f"{amount.show(came.beyond)} {goods.unit} more came than order {order} still asks for: return "
                        f"{came.proposed_return} is proposed.")
    _done(place, text, json, tuple(warnings))
    raise typer.Exit(1 if warnings else 0)


@app.command("list", epilog="Example: kitbuilder stock list RI-60114")
def list_(
    items: Annotated[list[str] | None, typer.Argument(metavar="[ITEM]…", help="Only these; without any, all.")] = None,
    site: SiteOption = None, json: JsonOption = False,
) -> None:
    """What lies where, and what of it is promised, or set aside for a day's findings."""
    from kitbuilder.model.workshop_listing import AsideListed, LotListed, LotsListed
    from kitbuilder.show.workshop import stock_text
    from kitbuilder.store import reserves, shelves

    place = here()
    where = place.site(site).name
    numbers = [_kept(place, where, one).number for one in items] if items else None
    lots = shelves.lots(place.store, where, numbers)
    aside = reserves.by_place(reserves.reserves(place.store, where))
    if json:
        write_json(LotsListed("kitbuilder.stock/1", (), tuple(
            LotListed(one.item, one.lot, one.bin, amount.show(one.on_hand), amount.show(one.held), one.unit,
                      one.use_by.isoformat() if one.use_by else None, one.site, one.quarantine,
                      tuple(AsideListed(row.day.isoformat(), amount.show(row.quantity), row.bookings)
                            for row in aside.get((one.site, one.item, one.lot, one.bin), ()))) for one in lots)))
    else:
        write(stock_text(lots, paper(), aside))
    place.store.close()


@app.command(epilog="Example: kitbuilder stock count RI-60114 48 --bin A-01-2-3 --why \"two were bent\"")
def count(
    item: ItemArgument, quantity: FoundArgument, bin: BinOption, lot: LotOption = "",
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why it differs, for the ledger.")] = "",
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Set what a count found in a bin; what was picked for a booking is in its tote, and isn't counted there."""
    from kitbuilder.store import shelves

    place = here()
    where = place.site(site).name
    found = _kept(place, where, item)
    unit = _unit(place, where, found, lot)
    milli_units = found_milli(quantity, unit)
    difference = shelves.count(place.store, where, found.number, lot, bin, milli_units, who(by), why, place.now)
    differs = (f"{amount.show(abs(difference))} {unit} {'more' if difference > 0 else 'less'} than the book said"
               if difference else "as the book said")
    _done(place, f"Counted {amount.show(milli_units)} {unit} of {_of(found, lot)} in {bin}, {differs}.", json)


@app.command(epilog="Example: kitbuilder stock move RI-60114 10 --from A-01-2-3 --to B-02-1-1")
def move(
    item: ItemArgument, quantity: AmountArgument,
    from_bin: Annotated[str, typer.Option("--from", metavar="BIN", help="The bin it lies in.")],
    to_bin: Annotated[str, typer.Option("--to", metavar="BIN", help="The bin it goes to.")],
    lot: LotOption = "", site: SiteOption = None,
    to_site: Annotated[str | None, typer.Option(
        "--to-site", metavar="NAME", help="The site that it goes to, if another: a van, say.")] = None,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Move what isn't promised from one bin to another, at one site or from one site to another."""
    from kitbuilder.store import shelves, transfers

    place = here()
    where = place.site(site).name
    found = _kept(place, where, item)
    unit = _unit(place, where, found, lot)
    milli_units = milli(quantity, unit)
    text = f"Moved {amount.show(milli_units)} {unit} of {_of(found, lot)} from {from_bin} to {to_bin.strip()}"
    if to_site is not None:
        there = place.site(to_site).name
        transfers.move(place.store, where, there, found.number, lot, from_bin, to_bin.strip(), milli_units, who(by),
                       place.now)
        text += f" at {there}"
    else:
        shelves.move(place.store, where, found.number, lot, from_bin, to_bin.strip(), milli_units, who(by), place.now)
    text += "."
    _done(place, text, json)


@app.command(epilog="Example: kitbuilder stock quarantine CO-50220 --lot S12 --why \"the seal was broken\"")
def quarantine(
    item: ItemArgument, lot: LotOption = "",
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why it may not be used.")] = "",
    lift: Annotated[bool, typer.Option("--lift", help="It may be used again.")] = False,
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Put a lot into quarantine, or out of it. What was planned from it is let go; the next run looks for another."""
    from kitbuilder.store import shelves

    place = here()
    where = place.site(site).name
    found = _kept(place, where, item)
    if bool(why.strip()) == lift:
        raise WrongUse("Say why it may not be used (--why TEXT), or that it may be again (--lift).")
    came = shelves.quarantine(place.store, where, found.number, lot, "" if lift else why.strip(), who(by), place.now)
    text = f"{_of(found, lot)} is {'free again' if lift else f'in quarantine: {why.strip()}'}."
    if came.let_go:
        text += f" What was planned from it is let go (booking {_numbers(came.let_go)}); run the night again."
    _done(place, text, json, (
        f"Some of it is being picked, or lies in a tote, for booking {_numbers(came.in_work)}: put it aside.",
    ) if came.in_work else ())


def _numbers(bookings: tuple[int, ...]) -> str:
    return ", ".join(map(str, bookings))


@app.command(epilog="Exit code 1 if a balance isn't proved.")
def audit(json: JsonOption = False) -> None:
    """Prove every balance from the ledger, and every promise from the holds."""
    from kitbuilder.model.workshop_listing import AuditListed
    from kitbuilder.store import audit as auditing

    place = here()
    faults = tuple(
        f"{one.item}{f' lot {one.lot}' if one.lot else ''} in {one.bin}: {one.text}"
        + (f" (ledger row {one.ledger_row})" if one.ledger_row else "") for one in auditing.audit(place.store))
    if json:
        write_json(AuditListed("kitbuilder.audit/1", (), faults))
    else:
        lines = [line for fault in faults for line in paper().wrap(fault, 2)]
        write("\n".join(lines) + "\n" if faults else "Every balance is proved by the ledger.\n")
    place.store.close()
    raise typer.Exit(1 if faults else 0)
