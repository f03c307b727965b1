"""A stock source that is somebody else's stock of record: a database that is asked with a query, and never written.

    [sources.main-stock]
    plugin = "sql-stock"
    url = "postgresql://reader@stock.example/workshop"   # SQLAlchemy's form; SQLite: sqlite:///stock.db
    # with a password in it: url_file = "main-stock.url", or url_env = "MAIN_STOCK_URL"
    query = '''
        SELECT part_no AS item, qty AS quantity, uom AS unit, batch AS lot, shelf AS bin, cost AS price
        FROM stock WHERE part_no IN :items
    '''

The query's columns are known by their names: item and quantity; and, if it has them, unit (without: that of the
catalogue), lot, bin, use_by (a day), price and per (the price is for `per` of the unit, 1 without; none: it is the
workshop's own and costs nothing). Rows of one lot add up over their bins. `:items` stands for the numbers that are
asked for; without it all rows are read each time. A quantity that is missing or below zero makes its item
unreadable, never none; what lies beyond thousandths is cut.

This stock sells all day and can't be held for a booking. What a run wants from it stands in an order proposal that
names each item: it is issued *there* when it is fetched, and booked in here as any delivery. What is ordered and
not fetched yet isn't offered again. `kitbuilder sources differences NAME` shows once a day where what was fetched
and what their stock says don't agree.

The query has to be a SELECT, runs in a transaction that only reads and is rolled back, and ends with the deadline.
"""

import os
import time
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from kitbuilder import (
    Arrival,
    Context,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    Slot,
    SourceFailed,
    SourceKind,
    StockSource,
    hookimpl,
    less_coming,
    parse_amount,
    parse_money,
)

KEYS = ("url", "url_file", "url_env", "query")
COLUMNS = ("item", "quantity", "unit", "lot", "bin", "use_by", "price", "per")
#: The one slot: what lies there is there now.
NOW = "now"


class SqlStock:
    """One database with one query."""

    #: Neither hold nor issue: this is asked and never told.
    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        """Raises ValueError, saying what was expected, for settings it can't use."""
        settings = context.settings
        unknown = [key for key in settings if key not in KEYS]
        if unknown:
            raise ValueError(f"only {', '.join(KEYS)}, not {', '.join(unknown)}")
        texts = {key: settings[key] for key in KEYS if key in settings}
        for key, text in texts.items():
            if not isinstance(text, str) or not text.strip():
                raise ValueError(f"{key} as a text that isn't empty")
        if sum(key in texts for key in KEYS[:3]) != 1:
            raise ValueError("one of url, url_file and url_env")
        if "query" not in texts:
            raise ValueError('query = "SELECT …", with columns named item and quantity')
        if texts["query"].split(None, 1)[0].casefold() not in ("select", "with"):
            raise ValueError("query as a SELECT: this only reads")
        self._texts, self._folder, self._currency = texts, context.folder, context.currency
        self._name, self._shelf = context.name, context.shelf
        if "url" in texts and _password(texts["url"]):
            raise ValueError("url without a password; one with it comes from url_file or url_env")
        # sooner than kitbuilder's own deadline, which can't say where it hung
        self._within_s = context.deadline_s - min(0.5, context.deadline_s / 5)

    def quote(self, request: QuoteRequest) -> Quote:
        """What the database says now. Raises SourceFailed, saying what to mend, where it can't be asked."""
        from kitbuilder_sql_stock.asking import rows

        wanted = {one.item: one.unit for one in request.wanted}
        until = time.monotonic() + self._within_s
        found = rows(self._url(), self._folder, self._texts["query"], list(wanted), until)
        totals: dict[tuple[str, str, str, date | None, tuple[Price, ...]], int] = {}
        unreadable: dict[str, str] = {}
        for row in found:
            item = str(row["item"] if row["item"] is not None else "").strip()
            if item not in wanted:
                continue
            try:
                unit = _text(row, "unit") or wanted[item]
                price = _price(row, unit, self._currency)
                key = item, unit, _text(row, "lot"), _day(row.get("use_by")), price
                totals[key] = totals.get(key, 0) + _milli(row["quantity"], unit, wanted[item])
            except ValueError as error:
                unreadable.setdefault(item, f"the query's row for {item}: expected {error}")
        offers = [
            Offer(item=item, unit=unit, pool=pool, lot=lot, use_by=use_by,
                  arrivals=(Arrival(slot=NOW, sureness="on the shelf", prices=prices),))
            for (item, unit, lot, use_by, prices), pool in sorted(totals.items(), key=_order) if pool]
        twice = {(one.item, one.lot) for one in offers if sum(
            (one.item, one.lot) == (other.item, other.lot) for other in offers) > 1}
        for item, lot in sorted(twice):
            unreadable.setdefault(item, f"the query's rows for {item}: expected one unit, use_by and price for "
                                        + (f"the lot {lot}" if lot else "all of it"))
        readable = tuple(one for one in offers if one.item not in unreadable)
        if self._shelf is not None and readable:
            readable = less_coming(readable, self._shelf.coming(self._name))
        return Quote(
            as_of=request.now, currency=self._currency, slots=(Slot(name=NOW, ready=request.now),), offers=readable,
            unreadable=unreadable)

    def _url(self) -> str:
        if "url" in self._texts:
            return str(self._texts["url"])
        if "url_env" in self._texts:
            name = self._texts["url_env"]
            url, where = os.environ.get(name, "").strip(), f"the environment variable {name}"
        else:
            file = self._folder / self._texts["url_file"]
            url, where = _read(file), f"url_file {file.name}"
        if not url:
            raise SourceFailed(f"{where} is empty or not there; expected the database's URL")
        return url


def _order(one: tuple[tuple[str, str, str, date | None, tuple[Price, ...]], int]) -> tuple[str, ...]:
    item, unit, lot, use_by, prices = one[0]
    return item, lot, use_by.isoformat() if use_by else "", unit, repr(prices)


def _read(file: Path) -> str:
    try:
        return file.read_text("utf-8-sig").strip()
    except OSError as error:
        raise SourceFailed(f"url_file {file.name} can't be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise SourceFailed(f"url_file {file.name} is not text; expected the database's URL alone") from None


def _password(url: str) -> bool:
    before = url.partition("://")[2].rpartition("@")[0]
    return ":" in before


def _text(row: Mapping[str, Any], column: str) -> str:
    value = row.get(column)
    return "" if value is None else str(value).strip()


def _day(value: object) -> date | None:
    if value is None or value == "":
        return None
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(str(value)[:10])
    except ValueError:
        raise ValueError(f"a day under use_by, not {str(value)!r}") from None


def _decimal(value: object, column: str) -> Decimal:
    if value is None or isinstance(value, bool | bytes):
        raise ValueError(f"a number under {column}, not {value!r}")
    try:
        number = Decimal(str(value).strip())
    except ArithmeticError:
        number = Decimal("NaN")
    if not number.is_finite() or not 0 <= number < 10**12:
        raise ValueError(f"a number of zero or more under {column}, not {str(value)!r}")
    return number


def _milli(value: object, unit: str, catalogue_unit: str) -> int:
    """Milli-units of the row's unit; what lies beyond them is cut: what is there is never made more."""
    parse_amount("1", unit, catalogue_unit)
    number = _decimal(value, "quantity")
    milli = int(number * 1000)
    if milli:
        parse_amount(f"{Decimal(milli) / 1000:f}", unit, unit)  # a whole number of what is counted
    return milli


def _price(row: Mapping[str, Any], unit: str, currency: str) -> tuple[Price, ...]:
    if row.get("price") is None:
        return (Price(minor=0, per=1000),)  # own stock
    minor = parse_money(f"{_decimal(row['price'], 'price'):f}", currency)
    per = parse_amount(f"{_decimal(row['per'], 'per'):f}", unit, unit) if row.get("per") is not None else 1000
    return (Price(minor=minor, per=per),)


def make(context: Context) -> StockSource:
    """A stock of record as a stock source."""
    return SqlStock(context)


@hookimpl
def stock_sources() -> Sequence[SourceKind]:
    """Registers the kind `sql-stock`."""
    return [SourceKind("sql-stock", "the stock of record in another database, through a query", make)]
