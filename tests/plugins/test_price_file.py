"""The price file as a stock source: what its rows say, and that what can't be read is never "none"."""

from datetime import UTC, datetime
from pathlib import Path

import kitbuilder_price_file
import pytest

from kitbuilder import Arrival, BadData, Context, Offer, Price, Quote, QuoteRequest, Slot, Wanted

NOW = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)
DAY, LATER = "2026-03-10T15:00:00+00:00", "2026-03-12T08:00:00+01:00"
HEAD = "item,quantity,unit,ready,price,per,currency,as_of\n"
WANTED = (Wanted("P-1", "each"), Wanted("O-1", "L"), Wanted("G-1", "mL"))


def quoted(folder: Path, text: str | bytes, currency: str = "EUR", **settings: object) -> Quote:
    file = folder / "prices.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    context = Context("counter", {"file": "prices.csv", **settings}, folder, currency)
    return kitbuilder_price_file.make(context).quote(QuoteRequest(WANTED, NOW))


def row(item: str = "P-1", quantity: str = "4", unit: str = "each", ready: str = DAY, price: str = "11.80",
        per: str = "1", currency: str = "EUR", as_of: str = DAY) -> str:
    return f"{item},{quantity},{unit},{ready},{price},{per},{currency},{as_of}\n"


def test_a_row_is_an_arrival_with_its_price(tmp_path):
    quote = quoted(tmp_path, HEAD + row() + row("O-1", "20.5", "L", LATER, "19.40", "1"))
    later = datetime.fromisoformat(LATER)
    assert quote == Quote(
        as_of=NOW, currency="EUR", slots=(Slot(name=DAY, ready=NOW), Slot(name=LATER, ready=later)),
        offers=(
            Offer(item="P-1", unit="each", pool=4000, arrivals=(
                Arrival(slot=DAY, sureness="on the shelf", prices=(Price(minor=1180, per=1000),)),)),
            Offer(item="O-1", unit="L", pool=20500, arrivals=(
                Arrival(slot=LATER, sureness="on the shelf", prices=(Price(minor=1940, per=1000),)),)),
        ))


def test_what_a_supplier_has_is_confirmed_and_not_on_the_shelf(tmp_path):
    [offer] = quoted(tmp_path, HEAD + row(), supplier=True).offers
    assert [arrival.sureness for arrival in offer.arrivals] == ["confirmed"]


def test_a_washer_is_priced_by_the_hundred_and_a_price_may_be_unknown(tmp_path):
    text = HEAD + row(price="4.20", per="100") + row(price="", per="", ready=LATER)
    by_hundred, unknown = quoted(tmp_path, text).offers
    assert by_hundred.arrivals[0].prices == (Price(minor=420, per=100_000),)
    assert unknown.arrivals[0].prices == ()


def test_without_per_and_currency_a_price_is_for_one_in_the_catalogues(tmp_path):
    [offer] = quoted(tmp_path, f"item;quantity;unit;ready;price;as_of\nP-1;4;each;{DAY};420;{DAY}\n", "JPY").offers
    assert offer.arrivals[0].prices == (Price(minor=420, per=1000),)


def test_amounts_stay_in_the_units_of_the_row(tmp_path):
    quote = quoted(tmp_path, HEAD + row("O-1", "500.5", "mL", price="0.02", per="0.5") + row("G-1", "2", "L", price=""))
    assert [(one.item, one.unit, one.pool) for one in quote.offers] == [("O-1", "mL", 500_500), ("G-1", "L", 2000)]
    assert quote.offers[0].arrivals[0].prices == (Price(minor=2, per=500),)
    assert quote.unreadable == {}


@pytest.mark.parametrize("quantity", ["0", "0.0", "00", "0.000"])
def test_a_quantity_of_nought_is_none(tmp_path, quantity):
    quote = quoted(tmp_path, HEAD + row(quantity=quantity) + row("O-1", "1", "L"))
    assert [offer.item for offer in quote.offers] == ["O-1"]
    assert quote.unreadable == {}


@pytest.mark.parametrize(("quantity", "milli"), [("1.2345", 1234), ("1.2340", 1234), ("0.0004", 0), ("2.0000", 2000)])
def test_what_is_to_hand_is_never_made_more(tmp_path, quantity, milli):
    quote = quoted(tmp_path, HEAD + row("O-1", quantity, "L"))
    assert [offer.pool for offer in quote.offers] == ([milli] if milli else [])
    assert quote.unreadable == {}


@pytest.mark.parametrize(("wrong", "words"), [
    ({"quantity": ""}, "under quantity 0 or a decimal more than zero"),
    ({"quantity": "-1"}, "under quantity 0 or a decimal more than zero"),
    ({"quantity": "four"}, "under quantity 0 or a decimal more than zero"),
    ({"quantity": ".."}, "under quantity"),
    ({"quantity": "."}, "under quantity"),
    ({"quantity": ".0"}, "under quantity"),
    ({"quantity": "0."}, "under quantity"),
    ({"quantity": "0x0"}, "under quantity"),
    ({"quantity": "1e3"}, "under quantity"),
    ({"quantity": "1.5"}, "a whole number of each"),
    ({"unit": "L"}, "a unit that converts to each"),
    ({"unit": ""}, "a unit that converts to each"),
    ({"unit": "furlong"}, "a unit that converts to each"),
    ({"quantity": "0", "unit": "furlong"}, "a unit that converts to each"),
    ({"ready": ""}, "under ready"),
    ({"ready": "2026-03-10"}, "its zone under ready"),
    ({"ready": "2026-03-10T15:00:00"}, "its zone under ready"),
    ({"ready": "2026-02-30T15:00:00+00:00"}, "under ready"),
    ({"ready": "soon"}, "not 'soon'"),
    ({"as_of": ""}, "under as_of"),
    ({"as_of": "2026-03-10T15:00:00"}, "its zone under as_of"),
    ({"price": "free"}, "a price as a decimal"),
    ({"price": "-4.20"}, "a price as a decimal"),
    ({"price": "4.205"}, "a price with at most 2 decimal places in EUR"),
    ({"price": "4.205", "quantity": "0"}, "a price with at most 2 decimal places in EUR"),
    ({"per": "0"}, "under per a decimal more than zero"),
    ({"per": "0.5"}, "under per a whole number of each"),
    ({"per": "1.0005"}, "three decimal places at most under per"),
    ({"currency": "SEK"}, "currency EUR, that of the catalogue, not SEK"),
    ({"currency": "eur"}, "currency EUR, that of the catalogue, not eur"),
])
def test_a_row_that_cannot_be_read_makes_its_item_unreadable_and_no_other(tmp_path, wrong, words):
    quote = quoted(tmp_path, HEAD + row("O-1", "1", "L") + row(**wrong))
    assert list(quote.unreadable) == ["P-1"]
    assert quote.unreadable["P-1"].startswith("prices.csv, line 3: expected ")
    assert words in quote.unreadable["P-1"]
    assert [offer.item for offer in quote.offers] == ["O-1"]


def test_one_unreadable_row_is_enough_and_the_first_is_named(tmp_path):
    quote = quoted(tmp_path, HEAD + row() + row(quantity="x") + row(quantity="y"))
    assert "line 3" in quote.unreadable["P-1"]


def test_a_decimal_comma_is_told_with_the_point(tmp_path):
    quote = quoted(tmp_path, f"item;quantity;unit;ready;price;per;as_of\nO-1;1,5;L;{DAY};4,20;1;{DAY}\n")
    assert "a decimal point: 1.5" in quote.unreadable["O-1"]


def test_a_bad_row_of_an_item_that_was_not_asked_for_is_nobodys_business(tmp_path):
    quote = quoted(tmp_path, HEAD + row("X-9", "bad", "bad", "bad", "bad", "bad", "bad", "bad") + row())
    assert quote.unreadable == {}
    assert [offer.item for offer in quote.offers] == ["P-1"]


def test_a_row_without_an_item_could_be_any_items(tmp_path):
    with pytest.raises(ValueError, match=r"prices\.csv, line 2: expected an item"):
        quoted(tmp_path, HEAD + row("") + row())


def test_rows_of_one_item_are_offers_of_their_own_and_come_by_their_time(tmp_path):
    quote = quoted(tmp_path, HEAD + row(ready=LATER, quantity="2") + row())
    assert [(offer.pool, offer.arrivals[0].slot) for offer in quote.offers] == [(2000, LATER), (4000, DAY)]
    assert [slot.name for slot in quote.slots] == [DAY, LATER]


def test_two_rows_of_one_item_for_one_time_make_it_unreadable(tmp_path):
    quote = quoted(tmp_path, HEAD + row() + row("O-1", "1", "L") + row(quantity="1", price="9"))
    assert quote.unreadable["P-1"].startswith("prices.csv, line 4: expected one row for P-1")
    assert quote.unreadable["P-1"].endswith("line 2 is one already")
    assert [offer.item for offer in quote.offers] == ["O-1"]


def test_the_answer_is_as_old_as_the_oldest_row_that_was_asked_for(tmp_path):
    old, older, oldest = "2026-03-10T10:00:00+00:00", "2026-03-09T10:00:00+00:00", "2025-01-01T10:00:00+00:00"
    text = HEAD + row(as_of=old) + row("O-1", "1", "L", as_of=older) + row("X-9", as_of=oldest)
    assert quoted(tmp_path, text).as_of == datetime.fromisoformat(older)
    # of a file that has nothing that was asked for, all rows speak
    assert quoted(tmp_path, HEAD + row("X-9", as_of=oldest) + row("X-8")).as_of == datetime.fromisoformat(oldest)
    assert quoted(tmp_path, HEAD).as_of == NOW


@pytest.mark.parametrize("text", [
    b"\xef\xbb\xbf" + (HEAD + row()).encode(), (HEAD + row()).replace(",", ";"), (HEAD + row()).replace(",", "\t"),
    (HEAD + "\n,,,,,,,\n" + row() + "\n").replace("\n", "\r\n"),
    f"note,as_of,ready,unit,quantity,item\nany order,{DAY},{DAY},each,4,P-1\n", (HEAD + row()).replace("+00:00", "Z"),
], ids=["mark", "semicolon", "tab", "empty rows", "other order", "Z"])
def test_the_ways_a_spreadsheet_saves_it_are_read(tmp_path, text):
    quote = quoted(tmp_path, text)
    assert [(offer.item, offer.pool) for offer in quote.offers] == [("P-1", 4000)]
    assert quote.unreadable == {}


@pytest.mark.parametrize(("text", "words"), [
    ("", "a first row that names the columns"),
    ("item,quantity,unit,ready\nP-1,4,each,x\n", "a column 'as_of'"),
    (HEAD.replace("item", "part") + row(), "a column 'item'"),
    (HEAD.replace("price", "prize") + row(), "'price'"),
    (HEAD.strip() + ",colour\n" + row().strip() + ",red\n", "'colour'"),
    (HEAD + row().strip() + ",more\n", "nothing here"),
    (b"item,quantity\n\xff\xfe", "expected UTF-8 text"),
    (HEAD + '"P-1,4', "a row of CSV"),
])
def test_a_file_that_cannot_be_read_fails_whole_and_says_where(tmp_path, text, words):
    with pytest.raises(BadData) as told:
        quoted(tmp_path, text)
    assert "prices.csv" in str(told.value)
    assert words in str(told.value)


def test_a_file_that_is_not_there_is_named(tmp_path):
    source = kitbuilder_price_file.make(Context("counter", {"file": "gone.csv"}, tmp_path, "EUR"))
    with pytest.raises(BadData, match=r"gone\.csv can't be read: No such file"):
        source.quote(QuoteRequest(WANTED, NOW))


@pytest.mark.parametrize(("settings", "words"), [
    ({}, 'file = "…"'), ({"file": 7}, 'file = "…"'),
    ({"file": "a.csv", "supplier": "yes"}, "supplier = true or false"),
    ({"file": "a.csv", "suplier": True}, "only file, supplier, mapping and zone, not suplier"),
])
def test_settings_it_cannot_use_are_refused(tmp_path, settings, words):
    with pytest.raises(ValueError, match=words):
        kitbuilder_price_file.make(Context("counter", settings, tmp_path, "EUR"))
