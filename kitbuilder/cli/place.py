"""What the commands of the workshop share: the store, the sites, who does something, amounts typed in."""

import getpass
import re
from datetime import datetime
from pathlib import Path
from typing import Annotated, NamedTuple

import typer

from kitbuilder import amount
from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.site import Site
from kitbuilder.catalogue.edition import Edition
from kitbuilder.cli.common import clock, opened, settings_here, warn
from kitbuilder.errors import WrongUse, offered
from kitbuilder.model.catalogue import Item
from kitbuilder.settings import Settings
from kitbuilder.store.database import Store, open_store

SiteOption = Annotated[
    str | None, typer.Option("--site", metavar="NAME", help="A site of the settings; not needed where there is one.")]
ByOption = Annotated[
    str | None, typer.Option("--by", metavar="NAME", help="Who does this; without it, the user of this machine.")]
BookingArgument = Annotated[int, typer.Argument(metavar="BOOKING", help="A booking's number.")]


class Place(NamedTuple):
    """The workshop that the settings describe, opened."""

    settings: Settings
    edition: Edition
    store: Store
    sites: dict[str, Site]
    now: datetime

    def site(self, name: str | None) -> Site:
        """The site of a name, or the only one. Raises WrongUse."""
        if name is None and len(self.sites) == 1:
            return next(iter(self.sites.values()))
        if name is None:
            raise WrongUse(f"Which site? Name it with --site: {', '.join(self.sites)}.")
        if name not in self.sites:
            raise WrongUse(f"There is no site {name!r}. {offered(name, list(self.sites))}")
        return self.sites[name]

    def item(self, number: str) -> Item:
        """An item of the catalogue by its number or one of its codes. Raises WrongUse with the nearest."""
        known = self.edition.known_item(number)
        if known is not None:
            return known
        every = list(self.edition.items())
        for item in every:
            if number in item.codes:
                return item
        raise WrongUse(
            f"The catalogue has no item {number!r}. {offered(number, [item.number for item in every])}")


def here(catalogue: Path | None = None) -> Place:
    """Open the workshop of the current folder. Raises WrongUse if the settings name no store or no site."""
    settings = settings_here()
    if settings.store is None:
        raise WrongUse('There is no store; add store = "workshop.db" to kitbuilder.toml.')
    sites = read_sites(settings.file.name if settings.file else "", settings.sites)
    if not sites:
        raise WrongUse("There is no site; add [sites.NAME] with zone and shifts to kitbuilder.toml.")
    return Place(settings, opened(settings, catalogue), store_of(settings.store), sites, clock(settings))


def store_of(where: str) -> Store:
    """The store, opened; where that brought its file to a newer revision, it is said which copy was kept."""
    store = open_store(where)
    if store.kept is not None:
        warn((f"The store was brought to this kitbuilder's revision. As it was, it is kept as {store.kept}.",))
    return store


def who(by: str | None) -> str:
    """Who does something: the name given, else the user of this machine."""
    if by is not None and by.strip():
        return by.strip()
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "somebody"


def milli(text: str, unit: str) -> int:
    """An amount as typed, in milli-units of a unit. Raises WrongUse."""
    try:
        return amount.parse(text, unit, unit)
    except ValueError as error:
        raise WrongUse(f"{text!r} is no amount of {unit}. Expected {error}.") from None


def found_milli(text: str, unit: str) -> int:
    """What was found, as typed, which may be nothing: in milli-units of a unit. Raises WrongUse."""
    return 0 if re.fullmatch(r"0+(\.0+)?", text) else milli(text, unit)


def day_or_none(text: str | None, option: str) -> "datetime | None":
    """A day as typed (ISO 8601), at midnight. Raises WrongUse."""
    if text is None:
        return None
    try:
        return datetime.strptime(text, "%Y-%m-%d")
    except ValueError:
        raise WrongUse(f"{option} {text!r} is no day. Expected one such as 2026-03-11.") from None
