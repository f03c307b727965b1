"""A stock source that is a file of prices and availability: CSV, XLSX or ODS.

    [sources.counter]
    plugin = "price-file"
    file = "prices.csv"
    supplier = true            # orders have to be placed; without it the stock lies on a shelf
    mapping = "prices.toml"    # only for a sheet with other columns or in another dialect
    zone = "Europe/London"     # only for times that are written without one

Columns: item, quantity, unit, ready, price, per, currency, as_of, note. `ready` and `as_of` are ISO 8601 with
a zone; `price` is for `per` of the unit (a washer: 4.20 per 100; without `per` for one) and may be empty. A row is
one arrival; the rows of one item add up, a quantity of 0 says that there is none.

Such a CSV file in UTF-8 is read as it is. Anything else takes the extra `sheets` (pip install 'kitbuilder[sheets]'):
workbooks, and through a mapping file, as `kitbuilder catalogue import` has them, a CSV file of any dialect:

    delimiter = "|"            # what isn't said is found out: encoding, delimiter, quote, sheet
    decimal = ","

    [columns]                  # ours = theirs
    item = "Artikel"
    quantity = "Bestand"

    [constants]                # the same in all rows
    unit = "each"

    [values.unit]              # theirs = ours
    "Stk" = "each"

The file is watched: as long as its size, time and inode are the same, it isn't read again. One that is being written,
or can't be read any more, gives its last good answer, which then counts as stale, and says so.
"""

from datetime import datetime, tzinfo

from kitbuilder import (
    Arrival,
    BadData,
    Context,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    SheetRow,
    Slot,
    SourceKind,
    StockSource,
    Sureness,
    hookimpl,
    parse_amount,
    parse_money,
    read_rows,
)
from kitbuilder_price_file.watching import Rows, read_watched

COLUMNS = ("item", "quantity", "unit", "ready", "price", "per", "currency", "as_of", "note")
NEEDED = ("item", "quantity", "unit", "ready", "as_of")
NUMBERS = ("quantity", "price", "per")
WORKBOOKS = (".xlsx", ".xlsm", ".ods")


class PriceFile:
    """One price file."""

    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        settings = dict(context.settings)
        file = settings.pop("file", None)
        supplier = settings.pop("supplier", False)
        mapping, zone = settings.pop("mapping", ""), settings.pop("zone", "")
        if not isinstance(file, str):
            raise ValueError('file = "…", the CSV file with the prices')
        if not isinstance(mapping, str):
            raise ValueError('mapping = "…", the file that says how the sheet is read')
        if not isinstance(supplier, bool):
            raise ValueError("supplier = true or false")
        if settings:
            raise ValueError(f"only file, supplier, mapping and zone, not {', '.join(settings)}")
        self._zone = _zone(zone)
        self._mapping = context.folder / mapping if mapping else None
        self._cache = context.cache
        self._path = context.folder / file
        self._currency = context.currency
        self._sureness: Sureness = "confirmed" if supplier else "on the shelf"

    def quote(self, request: QuoteRequest) -> Quote:
        """The rows of the items asked for; a row that can't be read makes its item unreadable, not empty."""
        wanted = {one.item: one for one in request.wanted}
        slots: dict[datetime, Slot] = {}
        offers: list[Offer] = []
        unreadable: dict[str, str] = {}
        told: dict[bool, list[datetime]] = {True: [], False: []}
        lines: dict[tuple[str, datetime], int] = {}
        found = self._rows()
        for row in found.rows:
            where = f"{self._path.name}, line {row.line}"
            item = row.cells.get("item")
            if item is None:
                # it may be the row of any item, so nothing can be said of them all
                raise ValueError(f"{where}: expected an item")
            try:
                told[item in wanted].append(_moment(row.cells, "as_of", self._zone))
                if item not in wanted:
                    continue
                ready = _moment(row.cells, "ready", self._zone)
                first = lines.setdefault((item, ready), row.line)
                if first != row.line:
                    raise ValueError(f"one row for {item} ready at {ready.isoformat()}; line {first} is one already")
                offer = self._offer(item, row.cells, wanted[item].unit, ready)
            except ValueError as error:
                if item in wanted:
                    unreadable.setdefault(item, f"{where}: expected {error}")
                continue
            if offer is not None:
                slots[ready] = Slot(name=ready.isoformat(), ready=ready)
                offers.append(offer)
        offers = [offer for offer in offers if offer.item not in unreadable]
        # the age is that of what was asked for: an old row of another item makes this answer no older
        return Quote(
            as_of=min(told[True] or told[False], default=request.now), currency=self._currency,
            slots=tuple(slots[ready] for ready in sorted(slots)), offers=tuple(offers), unreadable=unreadable,
            kept=found.kept)

    def _rows(self) -> Rows:
        """The rows of the file. Raises BadData."""
        mapping = self._mapping
        also = b""
        if mapping is not None:
            try:
                also = mapping.read_bytes()
            except OSError as error:
                raise BadData(f"{mapping.name} can't be read: {error.strerror}.") from None

        def parse(data: bytes) -> list[SheetRow]:
            if mapping is None and self._path.suffix.lower() not in WORKBOOKS:
                return read_rows(self._path, NEEDED, COLUMNS, data)
            # here, because few need what reads any sheet
            from kitbuilder import read_mapped_rows

            return read_mapped_rows(
                self._path.name, data, {name: "number" if name in NUMBERS else "text" for name in COLUMNS}, NEEDED,
                (mapping.name, also) if mapping else None)

        return read_watched(self._path, parse, also, self._cache)

    def _offer(self, item: str, cells: dict[str, str], unit: str, ready: datetime) -> Offer | None:
        """What a row offers, None where it says that there is none. Raises ValueError: what was expected."""
        currency = cells.get("currency", self._currency)
        if currency != self._currency:
            raise ValueError(f"currency {self._currency}, that of the catalogue, not {currency}")
        own = cells.get("unit", "")
        pool = _quantity(cells.get("quantity", ""), own, unit)
        prices: tuple[Price, ...] = ()
        if "price" in cells:
            prices = (Price(minor=parse_money(cells["price"], currency), per=_per(cells.get("per", "1"), own)),)
        if pool == 0:
            return None
        arrival = Arrival(slot=ready.isoformat(), sureness=self._sureness, prices=prices)
        return Offer(item=item, unit=own, pool=pool, arrivals=(arrival,))


def _quantity(text: str, own: str, unit: str) -> int:
    """Milli-units of the row's own unit, 0 where there is none; what lies beyond them is cut, never made more."""
    parse_amount("1", own, unit)  # the unit is wrong even where there is none of the item
    whole, _, fraction = text.partition(".")
    if set(whole + fraction) == {"0"} and whole and text[-1] != ".":
        return 0
    try:
        milli = parse_amount(text, own, own)
    except ValueError as error:
        raise ValueError(f"under quantity 0 or {error}") from None
    return milli - 1 if fraction[3:].strip("0") else milli


def _per(text: str, own: str) -> int:
    if text.partition(".")[2][3:].strip("0"):
        raise ValueError("three decimal places at most under per")
    try:
        return parse_amount(text, own, own)
    except ValueError as error:
        raise ValueError(f"under per {error}") from None


def _zone(name: object) -> tzinfo | None:
    if name == "":
        return None
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(name)  # type: ignore[arg-type]
    except (KeyError, ValueError, TypeError, OSError):
        raise ValueError(f'zone = "…", such as "Europe/London", not {name!r}') from None


def _moment(cells: dict[str, str], column: str, zone: tzinfo | None) -> datetime:
    text = cells.get(column, "")
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    # of a day alone it isn't known when on it something comes; what was told on it is as old as its first moment
    if moment is not None and moment.tzinfo is None and zone is not None and (column == "as_of" or ":" in text):
        moment = moment.replace(tzinfo=zone)
    if moment is None or moment.tzinfo is None:
        raise ValueError(f"a day and time with its zone under {column}, as 2026-03-11T08:00:00+00:00, not {text!r}")
    return moment


def make(context: Context) -> StockSource:
    """A price file as a stock source."""
    return PriceFile(context)


@hookimpl
def stock_sources() -> list[SourceKind]:
    """Registers the kind `price-file`."""
    return [SourceKind("price-file", "a file of prices and availability: CSV, XLSX or ODS", make)]
