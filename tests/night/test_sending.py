"""A run sends what is approved; what suppliers answered is what the plan, the gate and the report go by."""

from pathlib import Path

import pytest

from kitbuilder.demo.supplier import DemoSupplier
from kitbuilder.model.order import LineVerdict, Verdict
from kitbuilder.store import holds, orders, outbox, returns, settling
from tests.night.shop import NOW, Shop, row_of

WEB = '[sources.web]\nplugin = "http-supplier"\nurl = "{url}"\norders = true\n\n'
UNIT = "U-1,1,each,2026-03-11T12:00:00+00:00,900,1"
HEAD = "item,quantity,unit,ready,price,per,currency,as_of,slot,cut_off\n"
ROW = "U-1,{},each,2026-03-11T12:00:00+00:00,900,1,EUR,2026-03-10T14:00:00+00:00,noon,2026-03-11T10:00:00+00:00\n"


@pytest.fixture
def proposed(shop: Shop) -> tuple[Shop, int]:
    """A booking whose unit is proposed to be had of the supplier."""
    shop.supplier(UNIT)
    number = shop.book("unit-change", "2026-03-12T08:00")
    shop.run()
    return shop, number


def test_an_approved_order_is_sent_by_the_next_run_and_confirmed_before_it_plans(tmp_path: Path) -> None:
    shop = Shop(tmp_path / "shop")
    prices = shop.folder / "web.csv"
    prices.write_text(HEAD + ROW.format(1), "utf-8")
    told: list[str] = []
    with DemoSupplier(prices, told=told.append) as web:
        shop.settings(("[registers.fleet]", WEB.format(url=web.url) + "[registers.fleet]"))
        number = shop.book("unit-change", "2026-03-12T08:00")
        shop.run()
        [order] = shop.orders()
        orders.decide(shop.store, order.id, "approved", "A. Person", NOW)
        report = shop.run()
        [one] = shop.orders("confirmed")
        assert (one.id, one.supplier_number) == (order.id, "D-1")
        assert row_of(report, number).state == "ready by stage"
        rows = shop.dump()
        shop.run()
        assert shop.dump() == rows
        assert [text for text in told if "order" in text] == ["got an order of 1 lines, accepted as D-1"]
        # what sold out meanwhile is refused, and another way is looked for
        second = shop.book("unit-change", "2026-03-12T09:00")
        prices.write_text(HEAD + ROW.format(2), "utf-8")
        shop.run()
        [more] = shop.orders()
        orders.decide(shop.store, more.id, "approved", "A. Person", NOW)
        prices.write_text(HEAD + ROW.format(0), "utf-8")
        shop.supplier(UNIT)
        report = shop.run()
        [refused] = shop.orders("refused")
        assert refused.id == more.id
        assert f"Order {more.id} at web was refused (nothing of it is left): nothing of it comes." in report.attention
        [other] = shop.orders()
        assert other.source == "supplier" and [each.booking for each in other.wanted_for] == [second]
    shop.store.close()


def test_an_approved_one_that_isnt_sent_doesnt_count_and_is_told(proposed: tuple[Shop, int]) -> None:
    shop, number = proposed
    orders.decide(shop.store, 1, "approved", "A. Person", NOW)
    report = shop.run()
    assert row_of(report, number).why == ("1 each Unit (U-1): 1 waits for order 1 to be sent to supplier",)
    assert ("Order 1 at supplier is approved and not sent. Ring them up, then: kitbuilder order sent 1 --by NAME"
            in report.attention)
    assert shop.orders() == [], "it isn't ordered again"


def answered(shop: Shop, verdict: Verdict | None) -> None:
    orders.decide(shop.store, 1, "approved", "A. Person", NOW)
    outbox.begin(shop.store, 1, "night", NOW)
    if verdict is None:
        outbox.unclear(shop.store, 1, "no answer", "night", NOW)
    else:
        outbox.answered(shop.store, 1, verdict, "night", NOW)


@pytest.mark.parametrize("verdict,why,attention", [
    (None, "may come: nobody knows whether supplier has order 1",
     "Order 1 at supplier is unclear (no answer): ask them whether they have it, then: kitbuilder order settle 1 "
     "--accepted --by NAME (or --not-accepted). It isn't sent again by itself."),
    (Verdict(state="changed", text="dearer", lines=(LineVerdict("U-1", 1000, 95000),)),
     "waits for a decision on order 1, which supplier changed",
     "Order 1 at supplier was changed by the supplier (dearer): kitbuilder order take 1 --by NAME, or order cancel 1")])
def test_what_isnt_sure_isnt_ready_and_is_never_ordered_again(
        proposed: tuple[Shop, int], verdict: Verdict | None, why: str, attention: str) -> None:
    shop, number = proposed
    answered(shop, verdict)
    report = shop.run()
    assert row_of(report, number).state == "not ready"
    assert row_of(report, number).why == (f"1 each Unit (U-1): 1 {why}",)
    assert attention in report.attention
    assert shop.orders() == []
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows


def test_one_that_was_broken_off_is_found_unclear_by_the_next_run(proposed: tuple[Shop, int]) -> None:
    shop, _ = proposed
    orders.decide(shop.store, 1, "approved", "A. Person", NOW)
    outbox.begin(shop.store, 1, "night", NOW)
    report = shop.run()
    assert [one.id for one in shop.orders("unclear")] == [1]
    assert any("broken off while it was being sent" in text for text in report.attention)


def test_what_a_supplier_doesnt_have_after_all_is_proposed_again_and_said_so(proposed: tuple[Shop, int]) -> None:
    shop, _ = proposed
    answered(shop, None)
    settling.settle(shop.store, 1, False, "A. Person", NOW)
    report = shop.run()
    [again] = shop.orders()
    assert again.id != 1 and again.outbox_key != shop.orders("refused")[0].outbox_key
    assert ("Order 1 at supplier was refused, but nothing else brings U-1, so that is proposed again."
            in report.attention)


def test_what_was_accepted_in_part_only_leaves_the_rest_to_be_looked_for_elsewhere(shop: Shop) -> None:
    shop.supplier("U-1,2,each,2026-03-11T12:00:00+00:00,900,1", "U-1,9,each,2026-03-11T14:00:00+00:00,950,1")
    first, second = shop.book("unit-change", "2026-03-12T08:00"), shop.book("unit-change", "2026-03-12T09:00")
    shop.run()
    answered(shop, Verdict(state="part", text="only 1", lines=(LineVerdict("U-1", 1000, 90000),)))
    report = shop.run()
    [part], [rest] = shop.orders("part"), shop.orders()
    assert [one.booking for one in part.wanted_for] == [first] and [one.booking for one in rest.wanted_for] == [second]
    assert rest.slot.startswith("2026-03-11T14") and row_of(report, first).state == "ready by stage"


def test_old_units_that_are_late_are_in_the_report(shop: Shop) -> None:
    catalogue = shop.folder / "catalogue"
    (catalogue / "exchange.csv").write_text("item,deposit,days,state\nU-1,350.00,7,drained\n", "utf-8")
    shop.receive("U-1", "1")
    number = shop.book("unit-change", "2026-03-11T08:00")
    shop.run()
    for state in ("picking", "picked", "issued"):
        holds.step(shop.store, [one.id for one in shop.holds(number)], state, "A. Person", NOW)  # type: ignore[arg-type]
    report = shop.run()
    [unit] = returns.units(shop.store, "marl")
    assert (unit.booking, unit.due.isoformat(), unit.deposit, unit.wanted) == (number, "2026-03-17", 35000, "drained")
    assert not any("old unit" in text for text in report.attention)
    shop.now = NOW.replace(day=18)
    report = shop.run(day=shop.now.date())
    late = f"The old unit of U-1 from booking {number} was to be back by 2026-03-17; the deposit of 350.00 EUR"
    assert any(text.startswith(late) for text in report.attention)
