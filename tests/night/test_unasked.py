"""What the settings let go by itself is approved by the run, with its holds, and sent; the rest says why it waits."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.demo.supplier import DemoSupplier
from kitbuilder.errors import BadData
from kitbuilder.store import orders, outbox
from tests.night.shop import NOW, Shop, row_of
from tests.night.test_killed import ROOT, drive

RULES = '[orders]\napprove_over = "1000.00"\notherwise = "send"\n\n'
HEAD = "item,quantity,unit,ready,price,per,currency,as_of,slot,cut_off,returnable,deposit\n"
ROW = ("U-1,{quantity},each,2026-03-11T12:00:00+00:00,{price},1,EUR,{as_of},noon,2026-03-11T10:00:00+00:00,"
       "{returnable},{deposit}\n")
TOLD = {"quantity": "3", "price": "900", "as_of": "2026-03-10T14:00:00+00:00", "returnable": "yes", "deposit": ""}


class Web:
    """A shop with a supplier that takes orders, and what that one was told."""

    def __init__(self, folder: Path, url: str, told: list[str], prices: Path) -> None:
        self.shop, self.told, self.prices = Shop(folder), told, prices
        web = f'[sources.web]\nplugin = "http-supplier"\nurl = "{url}"\norders = true\n\n'
        self.shop.settings(("[registers.fleet]", web + RULES + "[registers.fleet]"))

    def has(self, **told: str) -> None:
        """What the supplier has of the unit."""
        self.prices.write_text(HEAD + ROW.format(**{**TOLD, **told}), "utf-8")

    def sent(self) -> list[str]:
        """The orders that reached the supplier."""
        return [one for one in self.told if "got an order" in one]


@pytest.fixture
def web(tmp_path: Path) -> Iterator[Web]:
    prices, told = tmp_path / "web.csv", []
    prices.write_text(HEAD + ROW.format(**TOLD), "utf-8")
    with DemoSupplier(prices, told=told.append) as supplier:
        made = Web(tmp_path / "shop", supplier.url, told, prices)
        yield made
        made.shop.store.close()


def test_what_is_safe_is_approved_by_the_run_sent_and_confirmed_and_a_run_again_changes_nothing(web: Web) -> None:
    shop = web.shop
    number = shop.book("unit-change", "2026-03-12T08:00")
    report = shop.run()
    [order] = shop.orders("confirmed")
    assert (order.decided_by, order.supplier_number, order.wanted_for[0].booking) == ("night", "D-1", number)
    assert [(one.state, one.who, one.text) for one in orders.history(shop.store, order.id)] == [
        ("approved", "night", "without asking: 900.00 EUR, which isn't over 1000.00 EUR"), ("sending", "night", ""),
        ("confirmed", "night", "")]
    assert row_of(report, number).state == "ready by stage"
    assert report.unasked == (f"Order {order.id} at web, 900.00 EUR: confirmed",)
    text = shop.documents()["2026-03-11/marl/report.txt"].decode()
    assert "ORDERED WITHOUT ASKING, as the settings let it\n  - Order 1 at web, 900.00 EUR: confirmed\n" in text
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows and len(web.sent()) == 1
    shop.sound()


@pytest.mark.parametrize("has,why", [
    ({"price": "1000.01"}, "over 1000.00 EUR"), ({"returnable": "no"}, "not returnable: U-1"),
    ({"deposit": "50"}, "deposit on U-1"),
    ({"as_of": "2026-03-07T16:00:00+00:00"}, "the price is of 2026-03-07 16:00")])
def test_what_isnt_waits_for_a_named_person_and_says_why(web: Web, has: dict[str, str], why: str) -> None:
    web.has(**has)
    number = web.shop.book("unit-change", "2026-03-12T08:00")
    report = web.shop.run()
    [order] = web.shop.orders()
    assert (order.said, web.sent()) == (why, [])
    assert (f"Order 1 at web, for booking {number}, waits for a decision before 2026-03-11 10:00 ({why}): "
            "kitbuilder order approve 1 --by NAME") in report.attention
    listed = web.shop.documents()["2026-03-11/marl/orders.txt"].decode()
    assert f"  waits for a person: {why}\n" in listed
    rows = web.shop.dump()
    web.shop.run()
    assert web.shop.dump() == rows
    web.shop.decide(order.id, "approved")
    assert orders.get(web.shop.store, order.id).said == ""


def test_a_deposit_that_only_the_catalogue_knows_of_counts(web: Web) -> None:
    (web.shop.folder / "catalogue" / "exchange.csv").write_text("item,deposit,days,state\nU-1,350.00,7,\n", "utf-8")
    web.shop.book("unit-change", "2026-03-12T08:00")
    web.shop.run()
    assert [one.said for one in web.shop.orders()] == ["deposit on U-1"]


def test_when_the_reason_is_gone_the_next_run_sends_the_same_proposal(web: Web) -> None:
    """The limit was raised; nothing else is other, so the plan isn't made anew."""
    web.shop.settings(('approve_over = "1000.00"', 'approve_over = "800.00"'))
    web.shop.book("unit-change", "2026-03-12T08:00")
    web.shop.run()
    assert [one.said for one in web.shop.orders()] == ["over 800.00 EUR"]
    web.shop.settings(('approve_over = "800.00"', 'approve_over = "900.00"'))
    web.shop.run()
    assert [one.id for one in web.shop.orders("confirmed")] == [1] and len(web.sent()) == 1


def test_without_the_settings_everything_waits_and_nothing_is_said(web: Web) -> None:
    web.shop.settings(('otherwise = "send"\n', ""))
    web.shop.book("unit-change", "2026-03-12T08:00")
    report = web.shop.run()
    assert [one.said for one in web.shop.orders()] == [""] and web.sent() == []
    assert "unasked" not in json.loads(web.shop.documents()["2026-03-11/marl/report.json"])
    assert any("waits for a decision before 2026-03-11 10:00: kitbuilder" in text for text in report.attention)


def test_an_enquiry_orders_nothing_and_a_source_that_takes_no_orders_waits(web: Web) -> None:
    web.has(quantity="0")
    web.shop.supplier("U-1,2,each,2026-03-11T12:00:00+00:00,900,1")
    web.shop.book("unit-change", "2026-03-12T08:00", state="enquiry")
    web.shop.run()
    assert web.shop.orders() == []
    web.shop.book("unit-change", "2026-03-12T10:00")
    web.shop.run()
    assert [one.said for one in web.shop.orders()] == ["supplier takes no orders from here"]


def test_what_a_person_cancelled_or_a_supplier_refused_is_never_ordered_again_by_itself(web: Web) -> None:
    web.shop.book("unit-change", "2026-03-12T08:00")
    web.shop.run()
    web.shop.decide(1, "cancelled")
    web.shop.run()
    [again] = web.shop.orders()
    assert again.said == "order 1 of the same delivery was cancelled by A. Person"
    assert len(web.sent()) == 1
    rows = web.shop.dump()
    web.shop.run()
    assert web.shop.dump() == rows


def test_what_sold_out_between_the_quote_and_the_order_is_refused_and_the_next_run_looks_elsewhere(web: Web) -> None:
    number = web.shop.book("unit-change", "2026-03-12T08:00")
    web.shop.run(after=lambda step: web.has(quantity="0") if step == "hold" else None)
    [refused] = web.shop.orders("refused")
    assert refused.decided_by == "night"
    web.shop.supplier("U-1,2,each,2026-03-11T14:00:00+00:00,950,1")
    report = web.shop.run()
    [other] = web.shop.orders()
    assert (other.source, [one.booking for one in other.wanted_for]) == ("supplier", [number])
    assert row_of(report, number).state == "not ready"


def test_where_somebody_else_sends_just_now_the_run_goes_on_and_the_next_one_sends(web: Web) -> None:
    web.shop.book("unit-change", "2026-03-12T08:00")
    with outbox.sending(web.shop.store):
        report = web.shop.run()
    assert any("Order 1 at web is approved and not sent" in text for text in report.attention)
    web.shop.run()
    assert [one.id for one in web.shop.orders("confirmed")] == [1] and len(web.sent()) == 1


def test_a_run_that_goes_on_after_the_cut_off_sends_nothing_late(web: Web) -> None:
    """Its moment is frozen, but orders go by the clock."""
    class PowerCut(Exception):
        pass

    def cut(step: str) -> None:
        if step == "hold":
            raise PowerCut

    web.shop.book("unit-change", "2026-03-12T08:00")
    with pytest.raises(PowerCut):
        web.shop.run(after=cut)
    assert [one.state for one in web.shop.orders("approved")] == ["approved"]
    web.shop.now = NOW.replace(day=11, hour=10)
    web.shop.run()
    [late] = web.shop.orders("refused")
    assert late.said == "its cut-off was past before it was sent" and web.sent() == []


@pytest.mark.parametrize("point", [
    "before hold", "after hold", *(pytest.param(f"{when} documents", marks=pytest.mark.long)
                                   for when in ("before", "after"))])
def test_killed_on_the_way_it_is_sent_once_all_the_same(web: Web, point: str) -> None:
    web.shop.book("unit-change", "2026-03-12T08:00")
    assert drive(web.shop, point) == -signal.SIGKILL
    assert len(web.sent()) == (0 if "hold" in point else 1)
    assert drive(web.shop, "none") == 0
    assert [one.decided_by for one in web.shop.orders("confirmed")] == ["night"]
    assert web.shop.orders() == [] and len(web.sent()) == 1
    web.shop.sound()


def test_killed_while_the_supplier_answers_it_is_asked_after_and_not_sent_again(tmp_path: Path) -> None:
    """The supplier has the order, and whoever sent it is dead before the answer comes."""
    prices, told, process = tmp_path / "web.csv", [], []
    prices.write_text(HEAD + ROW.format(**TOLD), "utf-8")

    def tell(text: str) -> None:
        told.append(text)
        if "got an order" in text and process:
            process[0].kill()
            process[0].wait()

    with DemoSupplier(prices, told=tell) as supplier:
        web = Web(tmp_path / "shop", supplier.url, told, prices)
        web.shop.book("unit-change", "2026-03-12T08:00")
        process.append(subprocess.Popen(
            [sys.executable, "-m", "tests.night.driver", str(web.shop.folder), "none"], cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT)}))
        assert process[0].wait(60) == -signal.SIGKILL
        assert [one.decided_by for one in web.shop.orders("sending", "confirmed")] == ["night"]
        process.clear()
        assert drive(web.shop, "none") == 0
        [order] = web.shop.orders("confirmed")
        assert order.supplier_number == "D-1" and web.shop.orders() == [] and len(web.sent()) == 1
        web.shop.store.close()


def test_what_is_wrong_in_the_settings_is_told_before_anything_is_done(web: Web) -> None:
    web.shop.settings(('otherwise = "send"', 'otherwise = "perhaps"'))
    rows = web.shop.dump()
    with pytest.raises(BadData, match=r'otherwise = .perhaps.; expected "ask" or "send"'):
        web.shop.run()
    assert web.shop.dump() == rows
