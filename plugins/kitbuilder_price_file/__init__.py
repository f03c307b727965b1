"""A stock source that is a CSV file of prices and availability.

    [sources.counter]
    plugin = "price-file"
    file = "prices.csv"
    supplier = true            # orders have to be placed; without it the stock lies on a shelf

Columns: item, quantity, unit, ready, price, per, currency, as_of. `ready` and `as_of` are ISO 8601 with a
zone; `price` is for `per` of the unit (a washer: 4.20 per 100) and may be empty. A row is one arrival.
"""

from datetime import datetime

from kitbuilder import (
    Arrival,
    Context,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    Slot,
    SourceKind,
    StockSource,
    hookimpl,
    parse_amount,
    parse_money,
    read_rows,
)

COLUMNS = ("item", "quantity", "unit", "ready", "price", "per", "currency", "as_of", "note")
NEEDED = ("item", "quantity", "unit", "ready", "as_of")


class PriceFile:
    """One price file; it is read anew at each quote."""

    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        settings = dict(context.settings)
        file = settings.pop("file", None)
        supplier = settings.pop("supplier", False)
        if not isinstance(file, str):
            raise ValueError('file = "…", the CSV file with the prices')
        if not isinstance(supplier, bool):
            raise ValueError("supplier = true or false")
        if settings:
            raise ValueError(f"only file and supplier, not {', '.join(settings)}")
        self._path = context.folder / file
        self._currency = context.currency
        self._sureness = "confirmed" if supplier else "on the shelf"

    def quote(self, request: QuoteRequest) -> Quote:
        """The rows of the items asked for; a row that can't be read makes its item unreadable, not empty."""
        wanted = {one.item: one for one in request.wanted}
        slots: dict[datetime, Slot] = {}
        offers: list[Offer] = []
        unreadable: dict[str, str] = {}
        as_of: list[datetime] = []
        for row in read_rows(self._path, NEEDED, COLUMNS):
            item = row.cells.get("item", "")
            try:
                told = _moment(row.cells, "as_of")
                as_of.append(told)
                if item not in wanted:
                    continue
                ready = _moment(row.cells, "ready")
                offer = self._offer(row.cells, wanted[item].unit, ready)
            except ValueError as error:
                where = f"{self._path.name}, line {row.line}: expected {error}"
                if not item:
                    raise ValueError(where) from None
                if item in wanted:
                    unreadable[item] = where
                continue
            slots[ready] = Slot(name=ready.isoformat(), ready=ready)
            if offer is not None:
                offers.append(offer)
        return Quote(
            as_of=min(as_of, default=request.now), currency=self._currency,
            slots=tuple(slots[ready] for ready in sorted(slots)), offers=tuple(offers), unreadable=unreadable)

    def _offer(self, cells: dict[str, str], unit: str, ready: datetime) -> Offer | None:
        currency = cells.get("currency", self._currency)
        if currency != self._currency:
            raise ValueError(f"currency {self._currency}, that of the catalogue, not {currency}")
        quantity = cells.get("quantity", "")
        if quantity.strip("0.") == "" and quantity not in ("", "."):
            return None
        pool = parse_amount(quantity, cells.get("unit", ""), unit)
        prices: tuple[Price, ...] = ()
        if "price" in cells:
            per = parse_amount(cells.get("per", "1"), cells.get("unit", ""), unit)
            prices = (Price(minor=parse_money(cells["price"], currency), per=per),)
        arrival = Arrival(slot=ready.isoformat(), sureness=self._sureness, prices=prices)  # type: ignore[arg-type]
        return Offer(item=cells["item"], unit=unit, pool=pool, arrivals=(arrival,))


def _moment(cells: dict[str, str], column: str) -> datetime:
    text = cells.get(column, "")
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise ValueError(f"a day and time with its zone under {column}, as 2026-03-11T08:00:00+00:00, not {text!r}")
    return moment


def make(context: Context) -> StockSource:
    """A price file as a stock source."""
    return PriceFile(context)


@hookimpl
def stock_sources() -> list[SourceKind]:
    """Registers the kind `price-file`."""
    return [SourceKind("price-file", "a CSV file of prices and availability", make)]
