"""A stock source that is somebody else's stock of record: a database that is asked with a query, and written only where
the settings say how to issue what was taken.

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
names each item: it is issued *there* when it is picked, and booked in here as any delivery. What is ordered and
not picked yet isn't offered again. The report of each day tells where what was picked and what their stock says don't
agree; so does `kitbuilder sources differences NAME`.

The query has to be a SELECT, runs in a transaction that only reads and is rolled back, and ends with the deadline.

With two keys more it is issued there by itself, when it is booked in here:

    issue = [
        "UPDATE stock SET qty = qty - :quantity WHERE part_no = :item AND qty >= :quantity",
        "INSERT INTO moves (ref, part_no, qty, who) VALUES (:key, :item, -:quantity, :who)",
    ]
    issued = "SELECT count(*) FROM moves WHERE ref = :key"

`issue` is one statement or several, run in one transaction, each of which has to change a row; `:item`, `:quantity` (a
number in `:unit`), `:lot` ("" for none), `:reference` (our order and note), `:who`, `:at` (when, ISO 8601) and `:key`
stand for what was taken. `issued` counts what is issued under `:key`: with it nothing is issued twice, however often it
has to be tried. Have the database hold `ref` unique too, if it can. What can't be issued stays picked; the report tells
it, and the next run tries again.
"""

import os
import re
import time
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from kitbuilder import (
    Arrival,
    Context,
    IssueRequest,
    NotSent,
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

KEYS = ("url", "url_file", "url_env", "query", "issue", "issued")
COLUMNS = ("item", "quantity", "unit", "lot", "bin", "use_by", "price", "per")
#: The one slot: what lies there is there now.
NOW = "now"


class SqlStock:
    """One database with one query."""

    #: It can't hold: others take from it all day.
    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        """Raises ValueError, saying what was expected, for settings it can't use."""
        settings = context.settings
        unknown = [key for key in settings if key not in KEYS]
        if unknown:
            raise ValueError(f"only {', '.join(KEYS)}, not {', '.join(unknown)}")
        texts = {key: settings[key] for key in KEYS if key in settings and key != "issue"}
        for key, text in texts.items():
            if not isinstance(text, str) or not text.strip():
                raise ValueError(f"{key} as a text that isn't empty")
        if sum(key in texts for key in KEYS[:3]) != 1:
            raise ValueError("one of url, url_file and url_env")
        if "query" not in texts:
            raise ValueError('query = "SELECT …", with columns named item and quantity')
        if texts["query"].split(None, 1)[0].casefold() not in ("select", "with"):
            raise ValueError("query as a SELECT: this only reads")
        self._issue = _statements(settings.get("issue"))
        if bool(self._issue) != ("issued" in texts):
            raise ValueError("issue and issued together: without issued nobody could tell what was issued already")
        if self._issue:
            self.does = frozenset({"quote", "issue"})
            if not all(re.search(r"(?<![:\w]):key\b", text) for text in (texts["issued"], " ".join(self._issue))):
                raise ValueError("issued, and a statement of issue, with :key in them: it is what tells issues apart")
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

    def issue(self, request: IssueRequest) -> None:
        """Issue there what was taken, once for its key. Raises NotSent where nothing was done for certain, SourceFailed
        where nobody knows."""
        from kitbuilder_sql_stock.issuing import issue

        until = time.monotonic() + self._within_s
        try:
            url = self._url()
        except SourceFailed as failed:
            raise NotSent(str(failed)) from failed
        issue(url, self._folder, self._issue, self._texts["issued"], request, until)

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


def _statements(told: object) -> tuple[str, ...]:
    found = (told,) if isinstance(told, str) else () if told is None else told
    if not isinstance(found, list | tuple) or not all(isinstance(one, str) and one.strip() for one in found) or (
            told is not None and not found):
        raise ValueError("issue as a statement, or a list of them, as text")
    return tuple(found)


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
    return [SourceKind("sql-stock", "the stock of record in another database, through a query", make, elsewhere=True)]
