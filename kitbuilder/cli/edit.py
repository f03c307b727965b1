"""`kitbuilder edit`: changes by hand to a booking's kit."""

from typing import Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, warn, write, write_json
from kitbuilder.cli.place import BookingArgument, ByOption, here, milli, who
from kitbuilder.errors import WrongUse, offered

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder edit 12 --add clutch-kit --item TH-12110 --why "worn"
  kitbuilder edit 12 --swap pressure-pipe --item TH-10321 --why "other bend"
  kitbuilder edit 12 --strike wipes --why "customer's own"
  kitbuilder edit 12 --amount gearbox-oil --to 12 --why "overhaul"
  kitbuilder edit 12 --undo 3
"""


@app.command(epilog=_EPILOG)
def edit(
    booking: BookingArgument,
    add: Annotated[str | None, typer.Option("--add", metavar="ROLE", help="Add an item to a role.")] = None,
    swap: Annotated[str | None, typer.Option("--swap", metavar="ROLE", help="Fill a role with another item.")] = None,
    strike: Annotated[str | None, typer.Option("--strike", metavar="ROLE", help="Leave a role's line out.")] = None,
    amount_of: Annotated[
        str | None, typer.Option("--amount", metavar="ROLE", help="Another amount for a role's line.")] = None,
    undo: Annotated[
        int | None, typer.Option("--undo", metavar="EDIT", help="Take an edit back, by its number.")] = None,
    item: Annotated[str, typer.Option("--item", metavar="ITEM", help="The item to add, or to take instead.")] = "",
    line: Annotated[
        str, typer.Option("--line", metavar="ITEM|REQUIREMENT", help="Which line, where a role has several.")] = "",
    to: Annotated[str, typer.Option("--to", metavar="AMOUNT", help="The amount, in the line's unit.")] = "",
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="Why; it is kept with the edit.")] = "",
    by: ByOption = None, json: JsonOption = False,
) -> None:
    """Change a booking's kit by hand: who did it and why is kept, and it is applied again after every rebuild."""
    from kitbuilder.model.booking import EditRow
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store import bookings
    from kitbuilder.workshop.work import load

    place = here()
    warnings: tuple[str, ...] = ()
    if undo is not None:
        bookings.undo_edit(place.store, booking, undo, who(by), place.now)
        text, number = f"Edit {undo} is taken back.", undo
    else:
        told = {"add": add, "swap": swap, "strike": strike, "amount": amount_of}
        action, role = _one(told)
        if not why.strip():
            raise WrongUse("An edit needs its reason: --why TEXT.")
        one = bookings.get(place.store, booking)
        work = load(place.store, place.edition, place.site(one.site), booking)
        lines = [each for each in work.lines.lines if each.role == role and (not line or each.filler == line)]
        if not lines and action != "add":
            known = sorted({each.role for each in work.lines.lines})
            raise WrongUse(f"Booking {booking}'s kit has no line for the role {role!r}. {offered(role, known)}")
        # several lines of one filler are addressed together: an edit never speaks of stage or amount
        fillers = list(dict.fromkeys(each.filler for each in lines))
        if len(fillers) > 1 and action != "add":
            raise WrongUse(f"{role} has several lines; say which with --line: {', '.join(fillers)}.")
        if action == "add" and place.edition.known_role(role) is None:
            known = [part.role.name for part in place.edition.roles()]
            raise WrongUse(f"The catalogue has no role {role!r}. {offered(role, known)}")
        found = place.item(item) if action in ("add", "swap") else None
        unit = found.unit if found else lines[0].unit
        if action == "swap" and not to and amount.quantity(unit) != amount.quantity(lines[0].unit):
            raise WrongUse(f"{item} is counted in {unit}, the line in {lines[0].unit}; say how much: --to AMOUNT.")
        milli_units = milli(to, unit) if to or action == "amount" else None
        filler = lines[0].filler if lines and action != "add" else ""
        number = bookings.add_edit(place.store, EditRow(
            booking=booking, action=action, role=role, filler=filler, item=found.number if found else "",  # type: ignore[arg-type]
            amount=milli_units, unit=unit, who=who(by), why=why.strip(), at=place.now))
        text = f"Edit {number} to booking {booking} is noted; the next run goes by it."
        after = load(place.store, place.edition, place.site(one.site), booking)
        warnings = tuple(conflict.text for conflict in after.lines.conflicts if conflict.edit == number)
    if json:
        write_json(Done("kitbuilder.done/1", warnings, text, number))
    else:
        write(f"{text}\n")
    warn(warnings)
    place.store.close()


def _one(told: dict[str, str | None]) -> tuple[str, str]:
    given = [(action, role) for action, role in told.items() if role is not None]
    if len(given) != 1:
        raise WrongUse("Say one thing to do: --add, --swap, --strike, --amount or --undo.")
    return given[0]
