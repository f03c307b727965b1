"""The rows that a line shows of its sources: one a slot and price, in the item's unit."""

from datetime import timedelta

import pytest

from kitbuilder import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.kit import StockAnswer
from kitbuilder.stock.quoting import Answer, with_stock
from tests.stock.asking import NOW
from tests.stock.bench import opened, wanting

LATER = NOW + timedelta(days=2)
SLOTS = (Slot(name="later", ready=LATER), Slot(name="now", ready=NOW))


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return opened(tmp_path_factory.mktemp("bench"))


def rows(bench, *offers, item="P-1", unit="each", state="fresh", age_s=60, currency="EUR"):
    edition, kit = bench
    quote = Quote(as_of=NOW, currency=currency, slots=SLOTS, offers=offers)
    answer = Answer("counter", ("quote",), state, quote, age_s, None)
    [line] = with_stock(edition, wanting(kit, [("1", unit, [item])]), [answer]).lines
    return line.stock


def arriving(slot="now", most=None, minor=None, per=1000):
    prices = () if minor is None else (Price(minor=minor, per=per),)
    return Arrival(slot=slot, sureness="confirmed", most=most, prices=prices)


def test_a_row_says_how_many_when_and_at_what_price(bench):
    offer = Offer(item="P-1", unit="each", pool=4000, arrivals=(arriving(minor=420, per=100_000),))
    assert rows(bench, offer) == (StockAnswer(
        "counter", "P-1", "4", NOW.isoformat(), "4.20", "100", "EUR", "fresh", 60, None),)


def test_slots_come_by_time_and_show_no_more_than_pool_and_slot_hold(bench):
    offer = Offer(item="P-1", unit="each", pool=4000, arrivals=(arriving("later"), arriving("now", most=1000)))
    assert [(row.ready, row.quantity, row.price, row.per) for row in rows(bench, offer)] == [
        (NOW.isoformat(), "1", None, None), (LATER.isoformat(), "4", None, None)]


def test_a_pool_without_end_has_no_quantity_and_is_not_failed(bench):
    offer = Offer(item="P-1", unit="each", pool=None, arrivals=(arriving(), arriving("later", most=7000)))
    assert [(row.quantity, row.state) for row in rows(bench, offer)] == [(None, "fresh"), ("7", "fresh")]


def test_what_lies_in_one_slot_at_one_price_is_one_row_and_another_price_another(bench):
    def lot(pool, minor, name):
        return Offer(item="P-1", unit="each", pool=pool, arrivals=(arriving(minor=minor),), lot=name)

    found = rows(bench, lot(4000, 100, "A"), lot(2000, 100, "B"), lot(1000, 90, "C"))
    assert [(row.quantity, row.price) for row in found] == [("6", "1.00"), ("1", "0.90")]
    assert [row.quantity for row in rows(bench, lot(4000, 100, "A"), lot(None, 100, "B"))] == [None]


def test_quantities_are_in_the_items_unit_and_cut_never_made_more(bench):
    in_millilitres = Offer(item="O-1", unit="mL", pool=1_500_999, arrivals=(arriving(),))
    assert [row.quantity for row in rows(bench, in_millilitres, item="O-1", unit="L")] == ["1.5"]
    in_litres = Offer(item="O-2", unit="L", pool=1500, arrivals=(arriving(),))
    assert [row.quantity for row in rows(bench, in_litres, item="O-2", unit="mL")] == ["1500"]


@pytest.mark.parametrize(("unit", "minor", "per", "item", "price", "shown_per"), [
    ("mL", 2, 1000, "O-1", "0.02", "0.001"),
    ("mL", 1, 500, "O-1", "0.02", "0.001"),
    ("mL", 3, 1, "O-1", "30.00", "0.001"),
    ("mL", 1940, 1_000_000, "O-1", "19.40", "1"),
    ("L", 1940, 1000, "O-2", "19.40", "1000"),
    ("L", 1, 1, "O-2", "0.01", "1"),
])
def test_a_price_in_another_unit_is_never_rounded(bench, unit, minor, per, item, price, shown_per):
    offer = Offer(item=item, unit=unit, pool=9_000_000, arrivals=(arriving(minor=minor, per=per),))
    [row] = rows(bench, offer, item=item, unit="L")
    assert (row.price, row.per) == (price, shown_per)


def test_a_price_has_the_places_of_its_currency(bench):
    offer = Offer(item="P-1", unit="each", pool=1000, arrivals=(arriving(minor=420),))
    assert [[row.price for row in rows(bench, offer, currency=one)] for one in ("EUR", "JPY", "KWD")] == [
        ["4.20"], ["420"], ["0.420"]]


def test_a_stale_answer_says_so_with_its_age_on_every_row(bench):
    offer = Offer(item="P-1", unit="each", pool=4000, arrivals=(arriving(), arriving("later")))
    assert [(row.state, row.age_s, row.error) for row in rows(bench, offer, state="stale", age_s=90_000)] == [
        ("stale", 90_000, None)] * 2


def test_an_item_without_an_offer_has_no_row(bench):
    assert rows(bench) == ()
