"""`kitbuilder order` and `stock receive --order` as processes: sending, answers, goods-in, returns, old units."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.model.order import LineVerdict, Verdict
from kitbuilder.store import holds, orders, outbox, returns
from tests.cli.running import Ran, run
from tests.night.shop import NOW, Shop
from tests.stock.suppliers import Supplier, accepted, supplier

WEB = '[sources.supplier]\nplugin = "http-supplier"\nurl = "{url}"\norders = true\nreturn_days = 14\n' \
      "return_fee_percent = 15\n"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A workshop with an order for a unit, proposed from a price file."""
    made = Shop(tmp_path / "shop")
    made.supplier("U-1,1,each,2026-03-11T12:00:00+00:00,900,1")
    made.book("unit-change", "2026-03-12T08:00")
    made.run()
    yield made
    made.store.close()


@pytest.fixture
def web(shop: Shop) -> Iterator[Supplier]:
    """The same supplier, who takes orders by HTTP from now on."""
    with supplier() as found:
        shop.settings(('[sources.supplier]\nplugin = "price-file"\nfile = "supplier.csv"\nsupplier = true\n',
                       WEB.format(url=found.url)))
        yield found


def order(shop: Shop, *words: str) -> Ran:
    return run(shop.folder, "order", *words)


def narrow(ran: Ran) -> None:
    """That nobody's screen of 80 columns is overrun."""
    assert max(map(len, ran.out.splitlines()), default=0) <= 80


def test_approved_sent_and_confirmed_with_its_history(shop: Shop, web: Supplier) -> None:
    assert order(shop, "send").out == "Nothing waits to be sent.\n"
    approved = order(shop, "approve", "1", "--by", "A. Person")
    assert (approved.code, approved.out) == (
        0, "Order 1 at supplier is approved. The next run sends it; to send it now:\nkitbuilder order send 1\n")
    sent = order(shop, "send", "1", "--by", "B. Person")
    assert (sent.code, sent.out) == (0, "Order 1 at supplier is confirmed as A-1.\n")
    shown = order(shop, "show", "1")
    narrow(shown)
    assert "confirmed (their number A-1)" in shown.out
    assert "  2026-03-10 15:00  approved, A. Person\n  2026-03-10 15:00  sending, B. Person\n" in shown.out
    told = json.loads(order(shop, "show", "1", "--json").out)
    assert (told["format"], told["key"], [one["state"] for one in told["changes"]]) == (
        "kitbuilder.order-shown/1", "marl|2026-03-11|supplier|2026-03-11T12:00:00+00:00|1",
        ["approved", "sending", "confirmed"])
    gate = run(shop.folder, "check", "1", "--gate")
    assert (gate.code, "promised for 2026-03-11 12:00" in gate.out) == (0, True)


@pytest.mark.parametrize("answer,code,said", [
    ({"state": "refused", "lines": {"U-1": None}, "says": "sold out"}, 1,
     "Order 1 at supplier is refused: sold out. The next run looks for another way."),
    ({"lines": {"U-1": {"price": "950.00"}}}, 1,
     "Order 1 at supplier was changed by the supplier: U-1 costs 950.00 EUR instead of 900.00 EUR. Take it: kitbuilder "
     "order take 1 --by NAME; or not: kitbuilder order cancel 1 --by NAME, and tell them.")])
def test_what_isnt_as_asked_is_the_answer_no(shop: Shop, web: Supplier, answer: dict, code: int, said: str) -> None:
    web.on_order = lambda talk, order: talk.send(accepted(order, **answer))
    order(shop, "approve", "1", "--by", "A. Person")
    sent = order(shop, "send")
    narrow(sent)
    assert (sent.code, " ".join(sent.out.split())) == (code, said)


def test_unclear_is_a_failed_source_and_a_person_settles_it(shop: Shop, web: Supplier) -> None:
    web.on_order = web.on_status = lambda talk, _: talk.send({"error": "out of order"}, 500)
    order(shop, "approve", "1", "--by", "A. Person")
    sent = order(shop, "send", "--json")
    told = json.loads(sent.out)
    assert (sent.code, told["format"]) == (4, "kitbuilder.sent/1")
    assert [one["state"] for one in told["orders"]] == ["unclear"]
    assert "It isn't sent again by itself" in told["warnings"][0]
    gate = run(shop.folder, "check", "1", "--gate")
    assert (gate.code, "nobody knows whether" in gate.out) == (1, True)
    assert order(shop, "settle", "1", "--by", "A. Person").code == 2
    assert order(shop, "settle", "1", "--accepted").code == 2
    done = order(shop, "settle", "1", "--accepted", "--by", "A. Person")
    assert (done.code, done.out) == (0, "Order 1 at supplier is confirmed, expected 2026-03-11 12:00.\n")
    assert order(shop, "settle", "1", "--accepted", "--by", "A. Person").code == 5
    cancelled = order(shop, "cancel", "1", "--by", "A. Person")
    assert cancelled.out == "Order 1 at supplier is cancelled. supplier has it, or may have it: tell them.\n"


def test_a_change_is_taken(shop: Shop) -> None:
    order(shop, "approve", "1", "--by", "A. Person")
    outbox.begin(shop.store, 1, "night", NOW)
    outbox.answered(shop.store, 1, Verdict(state="changed", text="dearer", lines=(
        LineVerdict("U-1", 1000, 95000),)), "night", NOW)
    assert "dearer" in order(shop, "list").out
    shop.settings(("[registers.fleet]", '[orders.approvers]\n"A. Person" = "any"\n"B. Person" = "949.99"\n\n'
                   "[registers.fleet]"))
    over = order(shop, "take", "1", "--by", "B. Person")
    assert over.code == 2
    assert "comes to 950.00 EUR; B. Person may approve up to 949.99 EUR" in " ".join(over.err.split())
    assert order(shop, "take", "1", "--by", "A. Person").out == (
        "Order 1 at supplier is confirmed, expected 2026-03-11 12:00.\n")
    assert order(shop, "take", "1", "--by", "A. Person").code == 5


def test_goods_come_against_an_order_and_once_a_note(shop: Shop) -> None:
    order(shop, "approve", "1", "--sent", "--by", "A. Person")
    receive = ("stock", "receive", "U-1", "1", "--bin", "IN-1", "--order", "1")
    assert run(shop.folder, *receive).code == 2
    came = run(shop.folder, *receive, "--note", "N-1")
    narrow(came)
    assert (came.code, " ".join(came.out.split())) == (
        0, "Received 1 each of U-1 (Unit) in IN-1 for order 1, which is received. Held: 1 for booking 1.")
    again = run(shop.folder, *receive, "--note", "N-1")
    assert (again.code, "was booked in before. Nothing was done." in again.out) == (0, True)
    assert [(one.item, one.quantity) for one in shop.holds()] == [("U-1", 1000)]
    beyond = run(shop.folder, *receive, "--note", "N-2")
    assert (beyond.code, "1 each more came than order 1 still asks for: return 1 is" in beyond.said) == (1, True)
    wrong = run(shop.folder, "stock", "receive", "nameless", "1", "--bin", "IN-1", "--order", "1", "--note", "N-2")
    assert (wrong.code, "it is in quarantine as lot N-2 (order 1)" in " ".join(wrong.said.split())) == (1, True)
    assert run(shop.folder, "stock", "receive", "U-1", "1", "--bin", "A", "--note", "N").code == 2
    assert run(shop.folder, "stock", "audit").code == 0


def test_what_came_goes_back(shop: Shop, web: Supplier) -> None:
    order(shop, "approve", "1", "--sent", "--by", "A. Person")
    run(shop.folder, "stock", "receive", "U-1", "1", "--bin", "IN-1", "--order", "1", "--note", "N-1")
    holds.step(shop.store, [shop.holds()[0].id], "released", "A. Person", NOW)
    assert order(shop, "returns").out == "Nothing goes back to a supplier.\n"
    words = ("return", "U-1", "1", "--order", "1", "--bin", "IN-1", "--why", "not used")
    assert order(shop, *words, "--opened").code == 5
    assert order(shop, *words, "--by", "A. Person").code == 0
    listed = order(shop, "returns")
    narrow(listed)
    assert "fee 135.00 EUR, credit 765.00 EUR" in listed.out and "until 2026-03-24" in listed.out
    assert order(shop, "returns", "1", "sent").code == 2
    assert order(shop, "returns", "1", "lost", "--by", "A. Person").code == 2
    assert order(shop, "returns", "1", "sent", "--by", "A. Person").out == "Return 1 to supplier is sent.\n"
    assert order(shop, "returns", "1", "sent", "--by", "A. Person").code == 5
    assert json.loads(order(shop, "returns", "--json").out)["returns"][0]["state"] == "sent"


def test_old_units_are_listed_and_go_back(shop: Shop) -> None:
    (shop.folder / "catalogue" / "exchange.csv").write_text(
        "item,deposit,days,state\nU-1,350.00,7,drained and boxed\n", "utf-8")
    assert order(shop, "units").out == "No old unit is owed.\n"
    shop.receive("U-1", "1")
    shop.run()
    for state in ("picking", "picked", "issued"):
        holds.step(shop.store, [shop.holds()[0].id], state, "A. Person", NOW)  # type: ignore[arg-type]
    listed = order(shop, "units")
    narrow(listed)
    assert listed.out == "Old unit 1 of booking 1: due\n  for 1 U-1 Unit\n" \
                         "  due by 2026-03-17, drained, boxed, deposit 350.00 EUR\n"
    assert order(shop, "units", "1", "sent", "--by", "A. Person").out == "Old unit 1 of booking 1 is sent.\n"
    assert json.loads(order(shop, "units", "--json").out)["units"][0]["state"] == "sent"
    assert order(shop, "units", "1", "deposit back", "--by", "A. Person").code == 0


def test_an_old_unit_is_owed_as_soon_as_the_new_one_is_signed_for(shop: Shop) -> None:
    (shop.folder / "catalogue" / "exchange.csv").write_text(
        "item,deposit,days,state\nU-1,350.00,7,drained and boxed\n", "utf-8")
    shop.receive("U-1", "1")
    shop.run()
    ran = run(shop.folder, "check", "1", "--sign", "--by", "T. Fitter", typed="U-1\n")
    assert ran.err.endswith("1 item signed for by T. Fitter.\nGoes back: the old unit of Unit (U-1), by 2026-03-17, "
                            "drained, boxed, for the\ndeposit of 350.00 EUR.\n")
    [unit] = returns.units(shop.store)
    assert (unit.booking, unit.state, unit.changed_by) == (1, "due", "T. Fitter")
    assert "Goes back" not in run(shop.folder, "check", "1", "--sign", "--by", "T. Fitter").err
    assert returns.units(shop.store) == [unit]


def test_a_back_order_gets_another_day_or_is_let_go(shop: Shop) -> None:
    order(shop, "approve", "1", "--sent", "--by", "A. Person")
    assert order(shop, "rest", "1", "--by", "A. Person").code == 2
    later = order(shop, "rest", "1", "--expected", "2026-03-13T08:00+00:00", "--by", "A. Person")
    assert later.out == "Order 1 at supplier is ordered, expected 2026-03-13 08:00.\n"
    assert order(shop, "rest", "1", "--cancel", "--by", "A. Person").code == 5
    assert orders.get(shop.store, 1).state == "ordered"


def test_a_store_that_is_upgraded_says_which_copy_was_kept(shop: Shop) -> None:
    from tests.store import old_stores

    old = shop.folder / "old.db"
    old_stores.make(old, "0001")
    shop.settings(('store = "workshop.db"', 'store = "old.db"'))
    ran = order(shop, "list")
    assert (ran.code, "kept as" in ran.said and "old.before-upgrade-from-0001.db" in ran.said) == (0, True)
    assert order(shop, "list").said == ""
