"""`kitbuilder stock let-go`: gives back what is set aside for a day's findings."""

from typing import Annotated

import typer

from kitbuilder import amount
from kitbuilder.cli.common import JsonOption, paper, write, write_json
from kitbuilder.cli.place import ByOption, SiteOption, day_or_none, here, who
from kitbuilder.errors import WrongUse


def let_go(
    item: Annotated[str, typer.Argument(metavar="ITEM", help="An item number.")],
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="What for: it is kept.")],
    day: Annotated[str | None, typer.Option("--day", metavar="DAY", help="The day that it is set aside for; without "
                                            "it, for any.")] = None,
    site: SiteOption = None, by: ByOption = None, json: JsonOption = False,
) -> None:
    """Give back what is set aside of an item for findings, so that it can be promised to somebody.

    The next run for the day sets aside again what is to spare then.
    """
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store import reserves

    if not why.strip():
        raise WrongUse("What is set aside is given back for a reason: --why TEXT.")
    place = here()
    told = day_or_none(day, "--day")
    found = reserves.let_go(place.store, place.site(site).name, item, told.date() if told else None, who(by),
                            why.strip(), place.now)
    days = " and ".join(sorted({f"{one.day}" for one in found}))
    text = (f"Given back: {amount.show(sum(one.quantity for one in found))} {found[0].unit} of {item}, set aside for "
            f"findings of {days}.")
    if json:
        write_json(Done("kitbuilder.done/1", (), text))
    else:
        write("\n".join(paper().wrap(text)) + "\n")
    place.store.close()
