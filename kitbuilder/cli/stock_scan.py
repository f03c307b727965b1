"""`kitbuilder stock scan`: goods in by the codes on them."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, warn, write, write_json
from kitbuilder.cli.place import ByOption, SiteOption, here, who
from kitbuilder.errors import BadData, WrongUse
from kitbuilder.model.delivery_note import DeliveryNote, Scanned
from kitbuilder.show.paper import Paper, counted


def scan(
    file: Annotated[str, typer.Argument(metavar="FILE", help="A file, a scan on each line; - for standard input.")],
    bin: Annotated[str, typer.Option(
        "--bin", metavar="BIN", help="Book all rows in, into this bin; without it they are only read.")] = "",
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Read the GS1 codes scanned off delivered goods: items, lots, use-by days and counts; and book them in.

    Nothing is booked in while a line can't be taken. Exit code 1 if there is such a line.
    """
    from kitbuilder.calendar.wall import to_wall
    from kitbuilder.model.shelf import Receipt
    from kitbuilder.stock.delivery_note import read_delivery_note
    from kitbuilder.store import shelves

    place = here()
    where = place.site(site)
    note = read_delivery_note(_text(file), place.edition.items(), to_wall(place.now, where.zone).date())
    today = place.now.date()
    passed = tuple(f"The use-by {row.use_by} of {row.item}" + (f", lot {row.lot}," if row.lot else "")
                   + " has passed; nothing will be planned from it."
                   for row in note.rows if row.use_by is not None and row.use_by < today)
    booked = bin.strip() if bin.strip() and not note.faults else None
    if bin and not bin.strip():
        raise WrongUse("--bin is empty. Name the bin that the goods lie in.")
    if booked is not None:
        with place.store.writing() as session:
            for row in note.rows:
                shelves.receive_in(session, Receipt(
                    site=where.name, item=row.item, bin=booked, quantity=row.quantity, unit=row.unit, lot=row.lot,
                    use_by=row.use_by), who(by), "", place.now)
    warn(passed)
    if json:
        write_json(Scanned("kitbuilder.scanned/1", passed, note, booked))
    else:
        write(_shown(note, booked, paper()))
    raise typer.Exit(1 if note.faults else 0)


def _text(file: str) -> str:
    try:
        return sys.stdin.read() if file == "-" else Path(file).read_text("utf-8-sig")
    except OSError as error:
        raise BadData(f"{file} can't be read: {error.strerror}.") from None
    except UnicodeDecodeError:
        raise BadData(f"{file} isn't UTF-8 text; expected a scan on each line.") from None


def _shown(note: DeliveryNote, booked: str | None, paper: Paper) -> str:
    done = f"Booked into {booked}" if booked else "Read, and not booked in"
    lines = [paper.heading(f"{done}: {counted(len(note.rows), 'row')}")]
    for row in note.rows:
        lot = f", lot {row.lot}" if row.lot else ""
        use_by = f", use by {row.use_by}" if row.use_by else ""
        lines += paper.wrap(f"{amount.show(row.quantity)} {row.unit} of {row.item}{lot}{use_by}", 4, "  -")
    if note.faults:
        lines += ["", paper.heading(f"{counted(len(note.faults), 'line')} to look at; nothing was booked in")]
        for one in note.faults:
            lines += paper.wrap(f"line {one.scan}, {one.read}: {one.text}.", 4, "  -")
    return "\n".join(lines) + "\n"
