"""`kitbuilder stock scan`: goods in by the codes on them, on their own or against orders."""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.place import ByOption, Place, SiteOption, here, who
from kitbuilder.errors import BadData, WrongUse
from kitbuilder.model.delivery_note import AgainstOrder, DeliveryNote, NoteFault, NoteRow, Scanned

if TYPE_CHECKING:
    from kitbuilder.model.order import BookedIn


def scan(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A file, a scan on each line; - for standard input.")],
    bin: Annotated[str, typer.Option(
        "--bin", metavar="BIN", help="Book all rows in, into this bin; without it they are only read.")] = "",
    order: Annotated[int | None, typer.Option("--order", metavar="ORDER", help="The order that all of it came for; "
                                              "without it, the one on the labels.")] = None,
    note: Annotated[str, typer.Option("--note", metavar="NUMBER", help="The delivery note's number; without it, the "
                                      "shipment's or the box's on the labels.")] = "",
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Read the GS1 codes scanned off delivered goods: items, lots, use-by days and counts; and book them in.

    Against an order they are held at once for the bookings that wait for them. It is told by --order, or by our order's
    number as the labels' purchase order number, (400). Nothing is booked in while a line can't be taken. Exit code 1 if
    there is such a line, or something came that wasn't ordered.
    """
    from kitbuilder.calendar.wall import to_wall
    from kitbuilder.show.delivered import scanned_text
    from kitbuilder.stock.delivery_note import for_orders, read_delivery_note

    place = here()
    where = place.site(site)
    read = read_delivery_note(_text(file), place.edition.items(), to_wall(place.now, where.zone).date())
    if not read.rows and not read.faults:
        raise BadData(f"{'Standard input' if file == '-' else file} has no scan in it; expected one on each line.")
    if bin and not bin.strip():
        raise WrongUse("--bin is empty. Name the bin that the goods lie in.")
    known = _known_orders(place, where.name)
    if order is not None:
        of_rows, read = _all_of(order, known, read)
    else:
        told = for_orders(read, known)
        of_rows = {number: one for number, one in told.items() if isinstance(one, int)}
        read = _with_faults(read, {number: one for number, one in told.items() if isinstance(one, str)})
    if note and not of_rows and not read.faults:
        raise WrongUse("--note goes with an order: the labels name none of ours, so say which with --order.")
    today = place.now.date()
    warnings = [f"The use-by {row.use_by} of {row.item}" + (f", lot {row.lot}," if row.lot else "")
                + " has passed; nothing will be planned from it."
                for row in read.rows if row.use_by is not None and row.use_by < today]
    warnings += _not_ours(read, known) if not of_rows else []
    if of_rows:
        answer, more = _against(place, read, of_rows, note.strip(), bin.strip(), who(by))
        warnings += more
    else:
        answer = Scanned("kitbuilder.scanned/1", (), read, bin.strip() if bin.strip() and not read.faults else None)
        if answer.bin is not None:
            _book_in(place, where.name, read, answer.bin, who(by))
    answer = msgspec.structs.replace(answer, warnings=tuple(warnings))
    warn(answer.warnings)
    if json:
        write_json(answer)
    else:
        write(scanned_text(answer, paper(), {item.number: item.name for item in place.edition.items()}))
    place.store.close()
    not_ordered = isinstance(answer.against, tuple) and any(
        one.takes in ("wrong", "beyond") or one.beyond != "0" for one in answer.against)
    raise typer.Exit(1 if answer.note.faults or not_ordered else 0)


def _book_in(place: Place, site: str, read: DeliveryNote, bin_name: str, person: str) -> None:
    from kitbuilder.model.shelf import Receipt
    from kitbuilder.store import shelves

    with place.store.writing() as session:
        for row in read.rows:
            shelves.receive_in(session, Receipt(
                site=site, item=row.item, bin=bin_name, quantity=row.quantity, unit=row.unit, lot=row.lot,
                use_by=row.use_by), person, "", place.now)


def _known_orders(place: Place, site: str) -> dict[str, int]:
    """The site's orders that goods may come for, by what may stand for them on a label: number and key."""
    from kitbuilder.model.order import UNDER_WAY
    from kitbuilder.store import orders

    found = orders.orders(place.store, site, (*UNDER_WAY, "received"))
    return {text: one.id for one in found for text in (str(one.id), one.outbox_key)}


def _all_of(order: int, known: Mapping[str, int], read: DeliveryNote) -> tuple[dict[int, int], DeliveryNote]:
    """All rows for one order; those whose own label names another of ours are to be looked at."""
    wrong = {place: f"its label is of order {known[row.order]}, not of order {order}"
             for place, row in enumerate(read.rows) if known.get(row.order, order) != order}
    return dict.fromkeys(range(len(read.rows)), order), _with_faults(read, wrong)


def _with_faults(read: DeliveryNote, wrong: Mapping[int, str]) -> DeliveryNote:
    """A note with what is wrong of its rows, by their places."""
    faults = [*read.faults, *(_fault(read.rows[place], text) for place, text in wrong.items())]
    return msgspec.structs.replace(read, faults=tuple(sorted(faults, key=lambda one: one.scan)))


def _fault(row: NoteRow, text: str) -> NoteFault:
    return NoteFault(row.scans[0], f"{amount.show(row.quantity)} {row.unit} of {row.item}", text)


def _not_ours(read: DeliveryNote, known: Mapping[str, int]) -> list[str]:
    numbers = dict.fromkeys(text for text in (*read.orders, *(row.order for row in read.rows)) if text)
    return [f"The purchase order number {text} on the labels is no order of ours that is under way." for text in numbers
            if text not in known]


def _against(place: Place, read: DeliveryNote, of_rows: Mapping[int, int], note: str, bin_name: str,
             person: str) -> tuple[Scanned, list[str]]:
    """Book the rows in against their orders, or see what would come of it; what else is to be told."""
    from kitbuilder.cli.elsewhere import issued_there, there_of
    from kitbuilder.cli.order_returns import terms_of
    from kitbuilder.model.order import Goods
    from kitbuilder.stock.delivery_note import number_of
    from kitbuilder.store import orders
    from kitbuilder.store.notes import Delivered, receive_note

    number = note or number_of(read)
    if bin_name and not number:
        raise WrongUse("Goods against an order need the number of the delivery note: --note NUMBER. The labels name "
                       "neither one shipment, (402), nor one box or pallet, (00).")
    sources = {order: orders.get(place.store, order).source for order in set(of_rows.values())}
    there = {order: there_of(place, source) for order, source in sources.items()}
    rows = [read.rows[at] for at in sorted(of_rows)]
    keep = bool(bin_name) and not read.faults
    came = receive_note(place.store, [
        Delivered(order=of_rows[at], terms=terms_of(place, sources[of_rows[at]]), tell=there[of_rows[at]].told,
                  goods=Goods(note=number or "?", item=row.item, quantity=row.quantity, unit=row.unit,
                              bin=bin_name or "?", lot=row.lot, use_by=row.use_by))
        for at, row in zip(sorted(of_rows), rows, strict=True)], person, place.now, keep)
    read = _with_faults(read, {at: one for at, one in zip(sorted(of_rows), came, strict=True) if isinstance(one, str)})
    booked = bin_name if keep and not read.faults else None
    told = tuple(_told(of_rows[at], row, one, booked is not None)
                 for at, row, one in zip(sorted(of_rows), rows, came, strict=True) if not isinstance(one, str))
    more = [text for order in sorted(sources) if booked is not None
            for text in issued_there(place, there[order], order, person)]
    return Scanned("kitbuilder.scanned/1", (), read, booked, number, told), more


def _told(order: int, row: NoteRow, came: "BookedIn", booked: bool) -> AgainstOrder:
    return AgainstOrder(
        order, row.item, came.lot, amount.show(row.quantity), row.unit, "booked before" if came.again else came.takes,
        amount.show(came.beyond), {number: amount.show(held) for number, held in came.held.items()}, came.state,
        came.proposed_return or None if booked else None, row.scans)


def _text(file: str) -> str:
    try:
        return sys.stdin.read() if file == "-" else Path(file).read_text("utf-8-sig")
    except OSError as error:
        raise BadData(f"{file} can't be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise BadData(f"{file} isn't UTF-8 text; expected a scan on each line.") from None
