"""Stock of record that lies elsewhere: counted each day, its differences told, what was taken issued there once."""

import json
import sqlite3
from contextlib import closing
from datetime import timedelta

import msgspec
import pytest

from kitbuilder import amount
from kitbuilder.model.order import Goods
from kitbuilder.model.work import Report
from kitbuilder.show.paper import Paper
from kitbuilder.show.workshop import report_text
from kitbuilder.store import deliveries, issues
from tests.night.shop import DAY, NOW, Shop
from tests.plugins.installed import kitbuilder

#: After a run somebody goes and fetches.
LATER = timedelta(hours=1)
EURO_5 = {"emissions": "Euro V"}
SOURCE = """\
[sources.main]
plugin = "sql-stock"
url = "sqlite:///main.db"
query = "SELECT no AS item, qty AS quantity FROM stock WHERE no IN :items"
{more}
"""
ISSUE = """\
issue = ["UPDATE stock SET qty = qty - :quantity WHERE no = :item", "INSERT INTO moves VALUES (:key, :item, :quantity)"]
issued = "SELECT count(*) FROM moves WHERE ref = :key"
"""


class Main:
    """The shop, and the stock of record that it takes seals from."""

    def __init__(self, shop: Shop, more: str) -> None:
        self.shop = shop
        self.do("CREATE TABLE stock (no TEXT PRIMARY KEY, qty NUMERIC)",
                "CREATE TABLE moves (ref TEXT UNIQUE, no TEXT, qty NUMERIC)",
                "INSERT INTO stock VALUES ('S-5', 10), ('W-1', 50)")
        shop.settings(("[registers.fleet]", SOURCE.format(more=more) + "[registers.fleet]"))
        shop.receive("W-1", "9")

    def do(self, *sql: str) -> None:
        with closing(sqlite3.connect(self.shop.folder / "main.db")) as connection, connection:
            for one in sql:
                connection.execute(one)

    def left(self, item: str = "S-5") -> int:
        with closing(sqlite3.connect(self.shop.folder / "main.db")) as connection:
            return connection.execute("SELECT qty FROM stock WHERE no = ?", (item,)).fetchone()[0]

    def run(self, days: int = 0, hours: int = 0) -> Report:
        """The run of a later day."""
        self.shop.now = NOW + timedelta(days=days, hours=hours)
        return self.shop.run(DAY + timedelta(days=days))

    def take(self, note: str = "N-1", quantity: str = "2", lot: str = "", item: str = "S-5") -> int:
        """Approve what is proposed there, take it, and book it in as the counter does; the order's number."""
        known = self.shop.orders("ordered", "received")
        if not known:
            [order] = [one for one in self.shop.orders() if one.source == "main"]
            for state in ("approved", "ordered"):
                self.shop.decide(order.id, state)
            known = [order]
        deliveries.receive(
            self.shop.store, known[0].id,
            Goods(note=note, item=item, quantity=amount.parse(quantity, "each", "each"), unit="each", bin="A-2",
                  lot=lot),
            "Ada", self.shop.now + LATER, tell=True)
        return known[0].id


@pytest.fixture
def main(shop: Shop) -> Main:
    return Main(shop, ISSUE)


def said(report: Report) -> list[str]:
    """What a person reads of stock that is kept elsewhere."""
    text = report_text(report, Paper(500))
    return [line.strip() for line in text.partition("STOCK KEPT ELSEWHERE\n")[2].partition("\n\n")[0].splitlines()]


def test_where_no_stock_is_kept_elsewhere_the_report_has_no_word_of_it(shop: Shop) -> None:
    report = shop.run()
    assert report.elsewhere is msgspec.UNSET
    assert "elsewhere" not in msgspec.json.decode(msgspec.json.encode(report))


def test_the_first_run_of_a_day_tells_what_differs_since_the_day_before_and_later_runs_the_same(main: Main) -> None:
    first = main.run()
    [one] = first.elsewhere
    assert (one.source, one.since, one.differences, one.not_issued, one.error) == ("main", None, (), (), "")
    assert said(first) == []
    main.do("UPDATE stock SET qty = 47 WHERE no = 'W-1'")
    assert said(main.run(hours=3)) == [], "it is still the first day"
    second = main.run(1)
    assert said(second) == [
        "main, counted 2026-03-11 15:00 UTC: 1 difference since 2026-03-10 15:00 UTC",
        "- W-1: had 50, fetched 0, so 50 expected; has 47, 3 each less: sold or used by others?"]
    main.do("UPDATE stock SET qty = 46 WHERE no = 'W-1'")
    assert main.run(1, hours=2).elsewhere == second.elsewhere
    assert "so 47 expected; has 46, 1 each less" in said(main.run(2))[1]


def test_what_is_taken_and_issued_there_is_no_difference(main: Main) -> None:
    main.shop.book("seal-change", facts=EURO_5)
    main.run()
    main.take()
    # the next run tells it there, before it counts
    report = main.run(1)
    assert main.left() == 8
    assert issues.issues(main.shop.store) == []
    assert said(report) == []
    assert main.run(2).elsewhere[0].differences == ()
    assert main.left() == 8
    main.shop.sound()


def test_what_is_ordered_and_not_taken_yet_still_lies_there(main: Main) -> None:
    """Offers leave out what is ordered already; a count that did would miss it, and find too much the next day."""
    main.shop.book("seal-change", facts=EURO_5)
    main.run()
    [order] = [one for one in main.shop.orders() if one.source == "main"]
    main.shop.decide(order.id, "approved")
    main.shop.decide(order.id, "ordered")
    assert said(main.run(1)) == []
    main.take()
    assert said(main.run(2)) == []
    assert (main.left(), main.run(3).elsewhere[0].differences) == (8, ())


def test_without_a_way_to_tell_it_there_what_was_taken_is_told_as_a_difference(shop: Shop) -> None:
    main = Main(shop, "")
    shop.book("seal-change", facts=EURO_5)
    main.run()
    order = main.shop.orders()[0]
    for state in ("approved", "ordered"):
        shop.decide(order.id, state)
    deliveries.receive(shop.store, order.id, Goods(note="N", item="S-5", quantity=2000, unit="each", bin="A-2"), "Ada",
                       shop.now + LATER)
    [_, line] = said(main.run(1))
    assert line == "- S-5: had 10, fetched 2, so 8 expected; has 10, 2 each more: was what was fetched issued there?"


def test_what_cannot_be_issued_stays_picked_and_is_told_until_a_run_gets_it_through(main: Main) -> None:
    booking = main.shop.book("seal-change", facts=EURO_5)
    main.run()
    main.do("ALTER TABLE moves RENAME TO mooves")
    order = main.take()
    held = main.shop.held(booking)
    report = main.run(1)
    assert main.left() == 10
    assert main.shop.held(booking) == held
    # what was taken and isn't issued is told as that, and as no difference beside it
    [line] = said(report)
    assert line.startswith(f"- main: 2 each of S-5 that Ada took for order {order}, note N-1, isn't issued there (")
    assert "moves" in line
    assert line.endswith("The next run tries again; if you do it there by hand, say so: kitbuilder sources issued 1 "
                         "--by NAME.")
    main.do("ALTER TABLE mooves RENAME TO moves")
    report = main.run(2)
    assert main.left() == 8
    assert [said(report), said(main.run(3))] == [[], []]
    main.shop.sound()


def test_what_a_person_issued_by_hand_is_not_issued_again(main: Main) -> None:
    main.shop.book("seal-change", facts=EURO_5)
    main.run()
    main.do("ALTER TABLE moves RENAME TO mooves")
    main.take()
    main.run(0, hours=1)
    main.do("UPDATE stock SET qty = 8 WHERE no = 'S-5'", "ALTER TABLE mooves RENAME TO moves")
    issues.by_hand(main.shop.store, 1, "Ada", main.shop.now)
    assert said(main.run(1)) == []
    assert main.left() == 8


def test_a_delivery_that_is_booked_in_twice_is_issued_once_and_parts_each(main: Main) -> None:
    main.shop.book("seal-change", facts=EURO_5)
    main.run()
    main.take("N-1", "1")
    main.take("N-1", "1")
    main.take("N-2", "1", "L-7")
    main.run(1)
    assert main.left() == 8
    assert [one.request.lot for one in issues.issues(main.shop.store, states=("issued",))] == ["", "L-7"]


def test_one_that_cannot_be_counted_is_told_and_never_read_as_in_order(main: Main) -> None:
    main.run()
    (main.shop.folder / "main.db").unlink()
    report = main.run(1)
    [one] = report.elsewhere
    assert (one.differences, one.counted_at) == ((), None)
    assert said(report) == ["- main couldn't be counted, so nobody knows whether it agrees: sql-stock of kitbuilder: "
                            "there is no database file main.db."]


def test_days_are_those_of_the_site(shop: Shop) -> None:
    """At 15:00 in Greenwich it is the next day in Auckland."""
    shop.settings(('zone = "Europe/London"', 'zone = "Pacific/Auckland"'))
    main = Main(shop, ISSUE)
    main.run()
    main.do("UPDATE stock SET qty = 40 WHERE no = 'W-1'")
    assert said(main.run(hours=8)) == [], "23:00 in Greenwich, noon of the same day there"
    assert said(main.run(hours=20))[0] == (
        "main, counted 2026-03-12 00:00: 1 difference since 2026-03-11 04:00")


def test_the_counter_books_in_what_was_taken_and_it_is_issued_there_at_once(main: Main) -> None:
    shop = main.shop
    shop.book("seal-change", facts=EURO_5)
    main.run()
    [order] = [one for one in shop.orders() if one.source == "main"]

    def told(*words: str) -> tuple[int, str]:
        answer = kitbuilder(shop.folder, *words)
        return answer.returncode, " ".join((answer.stdout + answer.stderr).split())

    def receive(note: str) -> tuple[int, str]:
        return told("stock", "receive", "S-5", "1", "--bin", "A-2", "--order", str(order.id), "--note", note, "--by",
                    "Ada")

    assert told("order", "approve", str(order.id), "--by", "Ada") == (
        0, "Order 1 at main is approved. Fetch it there and book it in: kitbuilder stock receive ITEM AMOUNT --bin BIN "
           "--order 1 --note NOTE")
    code, text = receive("N-1")
    assert (code, main.left()) == (0, 9)
    assert "warning" not in text
    assert told("sources", "issues") == (0, "All that was taken from stock kept elsewhere is issued there.")
    assert receive("N-1")[0] == 0
    assert main.left() == 9
    main.do("ALTER TABLE moves RENAME TO mooves")
    code, text = receive("N-2")
    assert code == 1
    assert "Received 1 each of S-5 (Seal, Euro V) in A-2" in text
    assert "warning: main: 1 each of S-5 that Ada took for order 1, note N-2, isn't issued there (the data" in text
    code, text = told("sources", "issues")
    assert code == 1
    assert text.startswith("2 main: 1 each of S-5, taken by Ada at 2026-03-10 15:00 UTC for order 1; not issued there:")
    code, text = told("sources", "issues", "--json")
    [one] = json.loads(text)["issues"]
    assert (code, one["item"], one["amount"], one["state"]) == (1, "S-5", "1", "waiting")
    assert told("sources", "issued", "2") == (
        2, "That something was issued by hand is said by a named person: --by NAME.")
    assert told("sources", "issued", "7", "--by", "Ada") == (
        2, "There is no issue 7. `kitbuilder sources issues` shows those that are open.")
    assert told("sources", "issued", "2", "--by", "Ada") == (0, "Issue 2 is done: it isn't told there again.")
    assert told("sources", "issues")[0] == 0
    main.do("ALTER TABLE mooves RENAME TO moves")
    main.run(1)
    assert main.left() == 9
