"""A stock source that is another site's shelf, or a technician's van, from which something comes at set times.

    [sources.north]
    plugin = "sister-site"
    site = "north"
    leaves = ["10:00", "15:00"]         # the van, by the clock of its zone
    takes_min = 90
    zone = "Europe/London"
    days = ["monday", "wednesday"]      # without: monday to friday
    vans = 4                            # so many of the next are offered; without: 4
    fee = "0"                           # for a van's whole load, in the catalogue's currency
    to = ["south"]                      # the sites that it goes to; without: all others
    store = "…"                         # only where it isn't in this store: its file, or a database URL
    # with a password in it: store_file = "north.url", or store_env = "NORTH_URL"

Only what is free there is offered: what lies there and isn't promised, nor in quarantine, nor ordered from it already
and still to come. It is the workshop's own, so it costs nothing but the van. A van that has left is not offered.

Where both sites are in one store, what a night plans from there is held there at once and is a transfer: its people see
it, load it and say that it is on its way; it is booked in when it is here. In another store nothing can be held from
here: an order proposal names it, and the other site's people decide, by telephone. Where a command is about no one
site, the own shelf is that of all sites in the store, this one included: nothing is offered then, or it would count
twice; nor is it to the site itself.
"""

import os
from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta, tzinfo
from pathlib import Path
from typing import Any

from kitbuilder import (
    Arrival,
    Context,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    ShelfView,
    Slot,
    SourceFailed,
    SourceKind,
    StockSource,
    hookimpl,
    less_coming,
    parse_money,
)

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
#: What can't be held there is asked for by an order proposal: without a price it would count as one that isn't known.
FREE = (Price(minor=0, per=1000),)
KEYS = ("site", "leaves", "takes_min", "zone", "days", "vans", "fee", "to", "store", "store_file", "store_env")


class SisterSite:
    """One other site, and its van."""

    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        """Raises ValueError, saying what was expected, for settings it can't use."""
        told = context.settings
        unknown = [key for key in told if key not in KEYS]
        if unknown:
            raise ValueError(f"only {', '.join(KEYS)}, not {', '.join(unknown)}")
        site = told.get("site")
        if not isinstance(site, str) or not site:
            raise ValueError('site = "…", the other site\'s name')
        self._site = site
        self._leaves = _times(told.get("leaves"))
        self._takes = timedelta(minutes=_number(told, "takes_min", None, 60 * 24 * 14))
        self._vans = _number(told, "vans", 4, 100)
        self._zone = _zone(told.get("zone"))
        days = told.get("days", list(DAYS[:5]))
        if not isinstance(days, list) or not days or not all(day in DAYS for day in days):
            raise ValueError(f"days = a list of {', '.join(DAYS)}")
        self._days = {DAYS.index(day) for day in days}
        fee = told.get("fee", "0")
        if not isinstance(fee, str):
            raise ValueError('fee = "…", a decimal as text')
        self._fee = parse_money(fee, context.currency)
        self._to = _sites(told.get("to"))
        self._stores = {key: told[key] for key in ("store", "store_file", "store_env") if key in told}
        if len(self._stores) > 1 or not all(isinstance(one, str) and one for one in self._stores.values()):
            raise ValueError("one of store, store_file and store_env, as a text")
        self._name = context.name
        self._folder, self._currency, self._shelf = context.folder, context.currency, context.shelf

    def quote(self, request: QuoteRequest) -> Quote:
        """What is free there, in each of the next vans. Raises SourceFailed where that can't be known."""
        if self._stores:
            # here, so that only a source that is asked loads a database layer
            from kitbuilder import shelf_of

            return self._quoted(request, shelf_of(self._store(), self._site), "")
        if self._shelf is None:
            raise SourceFailed('it needs a store: store = "…" in the settings')
        there, here = self._shelf.at(self._site), self._shelf.site
        if here is None or here == self._site or (self._to is not None and here not in self._to):
            return Quote(as_of=request.now, currency=self._currency, slots=(), offers=())
        return self._quoted(request, there, self._site)

    def _quoted(self, request: QuoteRequest, view: ShelfView, site: str) -> Quote:
        """The other site's shelf as a quote; `site` where it is in this store."""
        slots = tuple(self._next(request.now))
        prices = () if site else FREE
        arrivals = tuple(Arrival(slot=slot.name, sureness="confirmed", prices=prices) for slot in slots)
        free: dict[tuple[str, str], Offer] = {}
        for lot in view.lots([one.item for one in request.wanted]):
            known = free.get((lot.item, lot.lot))
            free[lot.item, lot.lot] = Offer(
                item=lot.item, unit=lot.unit, pool=lot.free + (known.pool or 0 if known else 0), lot=lot.lot,
                use_by=lot.use_by, arrivals=arrivals)
        offers = tuple(offer for offer in free.values() if offer.pool)
        if self._shelf is not None and offers:
            offers = less_coming(offers, self._shelf.coming(self._name))
        return Quote(as_of=request.now, currency=self._currency, slots=slots, offers=offers, site=site)

    def _store(self) -> str:
        if "store_env" in self._stores:
            name = self._stores["store_env"]
            store, where = os.environ.get(name, "").strip(), f"the environment variable {name}"
        elif "store_file" in self._stores:
            file = self._folder / self._stores["store_file"]
            where = f"store_file {file.name}"
            try:
                store = file.read_text("utf-8-sig").strip()
            except OSError as error:
                raise SourceFailed(f"{where} can't be read: {error.strerror}") from None
            except UnicodeDecodeError:
                raise SourceFailed(f"{where} is not text; expected a database URL") from None
        else:
            store, where = self._stores["store"], "store"
        if not store:
            raise SourceFailed(f"{where} is empty or not there; expected the store's file or a database URL")
        return store if "://" in store else str(self._folder / Path(store))

    def _next(self, now: datetime) -> Iterator[Slot]:
        """The vans that are still to leave. A time that the clock skips is later by as much; of two, the first."""
        day, left = now.astimezone(self._zone).date(), self._vans
        while left:
            for at in self._leaves:
                leaves = datetime.combine(day, at, self._zone).astimezone(UTC)
                if day.weekday() in self._days and leaves > now and left:
                    left -= 1
                    yield Slot(name=f"van of {day.isoformat()} {at:%H:%M}", ready=leaves + self._takes, cut_off=leaves,
                               fee=self._fee)
            day += timedelta(days=1)


def _times(told: object) -> list[time]:
    texts = [told] if isinstance(told, str) else told
    expected = 'leaves = "10:00", or a list of such times'
    if not isinstance(texts, list) or not texts:
        raise ValueError(expected)
    try:
        times = sorted({time.fromisoformat(text) for text in texts})
    except (ValueError, TypeError):
        raise ValueError(f"{expected}, not {told!r}") from None
    if any(one.tzinfo is not None for one in times):
        raise ValueError(f"{expected}, without a zone")
    return times


def _sites(told: object) -> frozenset[str] | None:
    names = [told] if isinstance(told, str) else told
    if names is None:
        return None
    if not isinstance(names, list) or not names or not all(isinstance(name, str) and name for name in names):
        raise ValueError(f'to = a list of sites that it goes to, such as ["south"], not {told!r}')
    return frozenset(names)


def _number(told: Any, key: str, default: int | None, most: int) -> int:
    number = told.get(key, default)
    if isinstance(number, bool) or not isinstance(number, int) or not 0 < number <= most:
        raise ValueError(f"{key} = a whole number from 1 to {most}")
    return number


def _zone(name: object) -> tzinfo:
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)  # type: ignore[arg-type]
    except (KeyError, ValueError, TypeError, OSError):
        raise ValueError(f'zone = "…", such as "Europe/London", not {name!r}') from None


def make(context: Context) -> StockSource:
    """A sister site as a stock source."""
    return SisterSite(context)


@hookimpl
def stock_sources() -> list[SourceKind]:
    """Registers the kind `sister-site`."""
    return [SourceKind("sister-site", "another site's shelf, or a van's, with the times at which it comes", make)]
