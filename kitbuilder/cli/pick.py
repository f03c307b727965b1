"""`kitbuilder pick`: the pick list of a booking, and what was picked."""

from collections.abc import Mapping, Sequence
from typing import Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.place import BookingArgument, ByOption, found_milli, here, who
from kitbuilder.errors import WrongUse, offered
from kitbuilder.model.catalogue import Item
from kitbuilder.model.shelf import HoldRow

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder pick 12                           the list, in bin order
  kitbuilder pick 12 --start                   somebody picks it now
  kitbuilder pick 12 --short TH-10321=2        only 2 of them are there
  kitbuilder pick 12 --short TH-10321/L7@A-1=0 none of lot L7 is in bin A-1
  kitbuilder pick 12 --done                    all of it is in the tote
"""


@app.command(epilog=_EPILOG)
def pick(
    booking: BookingArgument,
    start: Annotated[bool, typer.Option("--start", help="Somebody picks it now: no run moves it any more.")] = False,
    done: Annotated[bool, typer.Option("--done", help="All that the list has is in the tote.")] = False,
    short: Annotated[list[str] | None, typer.Option("--short", metavar="ITEM=FOUND",
                     help="Only so much of an item is there (0: none); may be repeated. Where it lies in several "
                          "bins or lots: ITEM/LOT@BIN=FOUND.")] = None,
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """The pick list of a booking in bin order; with --start, --short or --done what was done with it.

    Exit code 1: something was short.
    """
    from kitbuilder.show.workshop import pick_text
    from kitbuilder.store import bookings, holds, reserves, shelves
    from kitbuilder.workshop.needs import is_reserve
    from kitbuilder.workshop.picking import pick_list, shortages
    from kitbuilder.workshop.work import items_of, load

    place = here()
    one = bookings.get(place.store, booking)
    work = load(place.store, place.edition, place.site(one.site), booking)
    rows = holds.holds(place.store, booking)
    items = items_of(place.edition, [work], [row.item for row in rows])
    person = who(by)
    # all are read before the first is carried out: one that is wrong changes nothing
    found = [_short(text, rows, items) for text in short or ()]
    for row, kept in (each for of_place, quantity in found for each in shortages(of_place, quantity)):
        holds.short_pick(place.store, row.id, kept, person, place.now)
    for state, following in (("planned", "picking"), ("picking", "picked")):
        if done or (start and state == "planned"):
            rows = holds.holds(place.store, booking)
            ids = [row.id for row in rows if row.state == state and not is_reserve(row.need)]
            holds.step(place.store, ids, following, person, place.now)  # type: ignore[arg-type]
    rows = holds.holds(place.store, booking)
    warnings = [text for text in (work.outdated, *(conflict.text for conflict in work.lines.conflicts)) if text]
    if one.state != "authorised":
        warnings.append(f"Booking {booking} is {'an enquiry' if one.state == 'enquiry' else one.state}.")
    for of_place, _ in found:
        warnings.append(f"{of_place[0].item} was short: count bin {of_place[0].bin} (kitbuilder stock count), then "
                        "run the night again, which looks for the rest.")
    shelf = shelves.lots(place.store, one.site, list(items))
    answer = pick_list(one, work.lines, rows, items, shelf, warnings, work.kit,
                       reserves.reserves(place.store, one.site))
    if json:
        write_json(answer)
    else:
        write(pick_text(answer, paper()))
    warn(warnings)
    place.store.close()
    raise typer.Exit(1 if short else 0)


def _short(text: str, rows: Sequence[HoldRow], items: Mapping[str, Item]) -> tuple[list[HoldRow], int]:
    """The holds that `ITEM/LOT@BIN=FOUND` speaks of, all of one bin and lot, and how much of them is there."""
    from kitbuilder.workshop.check import Codes, read

    what, sign, found = text.rpartition("=")
    if not sign or not what.strip():
        raise WrongUse(f"--short {text!r} lacks an equals sign. Expected ITEM=FOUND, as TH-10321=2.")
    open_ = [row for row in rows if row.state in ("planned", "picking")]
    if not open_:
        raise WrongUse("Nothing is left to be picked here, so nothing can be short.")
    front, at, bin_name = what.rpartition("@")
    scanned = read(front if at else what, Codes(items))
    chosen = [row for row in open_ if row.item == scanned.item and scanned.lot in ("", row.lot)
              and (not at or row.bin == bin_name.strip())]
    if not chosen:
        known = sorted({row.item for row in open_})
        where = f" in bin {bin_name.strip()}" if at else ""
        lot = f" of lot {scanned.lot}" if scanned.lot else ""
        if scanned.item in known:
            lies = " or ".join(sorted({_place(row) for row in open_ if row.item == scanned.item}))
            raise WrongUse(f"--short {text!r}: nothing of {scanned.item}{lot}{where} is to be picked. "
                           f"Expected {lies}, each with =FOUND.")
        raise WrongUse(f"--short {text!r}: nothing of it is to be picked. {offered(scanned.text, known)}")
    places = sorted({_place(row) for row in chosen})
    if len(places) > 1:
        raise WrongUse(f"--short {text!r}: it lies in {len(places)} places; say which: "
                       f"{' or '.join(places)}, each with =FOUND.")
    quantity = found_milli(found.strip(), chosen[0].unit)
    held = sum(row.quantity for row in chosen)
    if quantity >= held:
        raise WrongUse(f"--short {text!r}: {amount.show(held)} {chosen[0].unit} are to be picked, "
                       "so that is not short. Leave it out.")
    return chosen, quantity


def _place(row: HoldRow) -> str:
    return f"{row.item}{f'/{row.lot}' if row.lot else ''}@{row.bin}"
