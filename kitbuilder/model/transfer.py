"""Transfers: own stock that a van brings from another site of the same store. A transfer is an order row whose key says
from which site it comes; what it takes is held there, under that key, until it is booked in here."""

from datetime import date, datetime
from typing import Final
from urllib.parse import quote, unquote

import msgspec

from kitbuilder.model.shelf import HoldRow

#: What the key of a transfer begins with, and of what is held for it; no other key does.
MARK: Final = "transfer|"


def transfer_key(site: str, day: date, source: str, slot: str, from_site: str) -> str:
    """The key of a transfer's order row: which site's stock, to which site, on which day, by which source and slot."""
    return f"{leaves_from(from_site)}{site}|{day.isoformat()}|{source}|{slot}"


def leaves_from(site: str) -> str:
    """What the keys of all transfers from a site begin with."""
    return f"{MARK}{quote(site, safe=' ')}|"


def goes_to(from_site: str, site: str) -> str:
    """What the keys of all transfers from one site to another begin with."""
    return f"{leaves_from(from_site)}{site}|"


def from_site(key: str) -> str:
    """The site that an order of this key comes from; "" for one that is asked of a supplier."""
    return unquote(key.removeprefix(MARK).partition("|")[0]) if key.startswith(MARK) else ""


def held_as(order_key: str, need: str, item: str, lot: str) -> str:
    """The key under which a transfer's stock is held where it lies."""
    return f"{order_key}|{need}|{item}|{lot}"


def order_of(hold: HoldRow) -> str:
    """The key of the transfer that something is held for."""
    return hold.key.removesuffix(f"|{hold.need}|{hold.item}|{hold.lot}")


class Carried(msgspec.Struct, frozen=True):
    """A hold of a transfer, and the site that it lies at."""

    site: str
    hold: HoldRow


class Load(msgspec.Struct, frozen=True, kw_only=True):
    """What is to go onto a van, or is on it, for another site: `rows` in the order of their bins. `leaves`: the last
    moment for it (None: not told). `said_by` has decided that it goes ("": nobody has yet)."""

    order: int
    site: str
    source: str
    slot: str
    leaves: datetime | None
    ready: datetime
    state: str
    said_by: str
    rows: tuple[HoldRow, ...]
