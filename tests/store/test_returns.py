"""What goes back to suppliers, and the old units that are owed for exchange units."""

from datetime import date, timedelta

import msgspec
import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.catalogue import Exchange
from kitbuilder.model.order import Goods, OrderedLine, ReturnTerms
from kitbuilder.night.going_back import what_goes_back
from kitbuilder.store import deliveries, holds, ledger, orders, returns
from kitbuilder.store.audit import audit
from tests.store.shelf import LATER, NOW, SITE, balance, book, dump, promise, receive
from tests.store.test_orders_and_runs import order, propose

TERMS = ReturnTerms(14, 15)
DAY = timedelta(days=1)


@pytest.fixture
def came(store):
    """Order 1 brought four XX-1 for 16.80."""
    book(store)
    propose(store, order(lines=(OrderedLine("XX-1", "each", 4000, (), 1680),), wanted_for=()))
    orders.decide(store, 1, "ordered", "Ada", NOW)
    deliveries.receive(store, 1, Goods(note="N", item="XX-1", quantity=4000, unit="each", bin="A-01"), "Ada", NOW)
    yield store
    assert audit(store) == []


def back(store, quantity=2000, **more):
    return returns.propose(store, orders.get(store, 1), more.pop("item", "XX-1"), "", "A-01", quantity, "each",
                           "not used", more.pop("terms", TERMS), "Ada", more.pop("now", LATER), **more)


def test_a_return_goes_its_way_with_who_and_when_and_leaves_the_shelf_when_it_is_sent(came):
    assert back(came) == 1
    [one] = returns.returns(came)
    # half of 16.80, less 15 %
    assert (one.fee, one.credit, one.until) == (126, 714, date(2026, 3, 24))
    assert balance(came)["XX-1", "", "A-01"] == (4000, 0)
    for state, on_hand in (("sent", 2000), ("credit awaited", 2000), ("credited", 2000)):
        one = returns.step(came, 1, state, "Ben", LATER)
        assert (one.state, one.changed_by, one.changed_at) == (state, "Ben", LATER)
        assert balance(came)["XX-1", "", "A-01"] == (on_hand, 0)
    last = ledger.ledger(came, "XX-1")[-1]
    assert (last.action, last.on_hand, last.who, last.why) == ("send back", -2000, "Ben", "return 1 to supplier")
    assert returns.returns(came) == [] and len(returns.returns(came, SITE, ["credited"])) == 1


@pytest.mark.parametrize("path,wrong", [
    ((), "credited"), (("dropped",), "sent"), (("sent",), "proposed"), (("sent", "credited"), "refused"),
    (("sent", "refused"), "credited")])
def test_no_state_follows_that_cant(came, file, path, wrong):
    back(came)
    for state in path:
        returns.step(came, 1, state, "Ben", LATER)
    before = dump(file)
    with pytest.raises(StoreRefuses, match="can't become"):
        returns.step(came, 1, wrong, "Ben", LATER)
    assert dump(file) == before


def test_a_refused_return_brings_no_credit(came):
    back(came)
    returns.step(came, 1, "sent", "Ben", LATER)
    one = returns.step(came, 1, "refused", "Ben", LATER, "seal broken")
    assert (one.credit, one.said) == (0, "seal broken")


def test_after_its_window_it_is_sent_only_if_the_supplier_agreed(came, file):
    back(came)
    returns_on = LATER + 14 * DAY
    before = dump(file)
    with pytest.raises(StoreRefuses, match="took it back until 2026-03-24"):
        returns.step(came, 1, "sent", "Ben", returns_on + DAY)
    assert dump(file) == before
    assert returns.step(came, 1, "sent", "Ben", returns_on + DAY, agreed=True).state == "sent"


def test_what_is_promised_or_not_there_stays(came):
    holds.hold(came, SITE, [promise(3000, lot="")], "Ada", NOW)
    back(came)
    with pytest.raises(StoreRefuses, match="has 1 each of XX-1 that isn't promised, not 2"):
        returns.step(came, 1, "sent", "Ben", LATER)


def test_only_what_an_order_brought_goes_back_and_once(came):
    back(came, 3000)
    with pytest.raises(WrongUse, match="brought 4 each of XX-1, of which 3 go back already; 2 more can't"):
        back(came)
    returns.step(came, 1, "dropped", "Ada", LATER)
    assert back(came) == 2
    with pytest.raises(WrongUse, match="brought no YY-1"):
        back(came, item="YY-1")


def test_what_was_opened_or_isnt_taken_back_goes_only_if_they_agreed(came, store):
    """Opened seals and electrical parts aren't taken back: common practice, no source."""
    with pytest.raises(StoreRefuses, match="was opened"):
        back(came, opened=True)
    assert back(came, opened=True, agreed=True) == 1
    kept = msgspec.structs.replace(orders.get(came, 1), lines=(
        OrderedLine("XX-1", "each", 4000, (), 1680, returnable=False),))
    with pytest.raises(StoreRefuses, match="doesn't take XX-1 back"):
        returns.propose(came, kept, "XX-1", "", "A-01", 1000, "each", "why", TERMS, "Ada", NOW)


def test_whether_it_can_go_back_is_kept_with_the_order(store):
    book(store)
    propose(store, order(lines=(OrderedLine("XX-1", "each", 4000, (), 1680, returnable=False),), wanted_for=()))
    assert orders.get(store, 1).lines[0].returnable is False


EXCHANGES = {"XX-1": Exchange("XX-1", deposit=48000, days=21, state=("drained", "boxed"))}


@pytest.fixture
def issued(store):
    """Two exchange units and a washer that booking 1 used."""
    book(store)
    receive(store)
    receive(store, item="WW-1")
    for key, item, quantity in (("a", "XX-1", 2000), ("b", "WW-1", 1000)):
        [one] = holds.hold(store, SITE, [promise(quantity, key, item=item)], "Ada", NOW)
        for state in ("picking", "picked", "issued"):
            holds.step(store, [one.id], state, "Ada", NOW)
    return store


def test_an_old_unit_is_owed_for_each_exchange_unit_that_was_used_once(issued, file):
    assert returns.owe(issued, EXCHANGES.get, "EUR", LATER) == 1
    [one] = returns.units(issued, SITE)
    assert (one.booking, one.item, one.quantity, one.due, one.deposit, one.wanted, one.state) == (
        1, "XX-1", 2000, date(2026, 3, 31), 96000, "drained, boxed", "due")
    before = dump(file)
    assert returns.owe(issued, EXCHANGES.get, "EUR", LATER + DAY) == 0
    assert dump(file) == before and returns.units(issued, "Elsewhere") == []


def test_an_old_unit_goes_its_way_and_is_told_when_it_is_late(issued):
    returns.owe(issued, EXCHANGES.get, "EUR", LATER)
    assert what_goes_back(issued, SITE, date(2026, 3, 28)) == []
    assert what_goes_back(issued, SITE, date(2026, 3, 31)) == [
        "The old unit of XX-1 from booking 1 is to be back by 2026-03-31; the deposit of 960.00 EUR hangs on it: "
        "kitbuilder order units 1 sent --by NAME"]
    assert what_goes_back(issued, SITE, date(2026, 4, 1)) == [
        "The old unit of XX-1 from booking 1 was to be back by 2026-03-31; the deposit of 960.00 EUR hangs on it: "
        "kitbuilder order units 1 sent --by NAME"]
    with pytest.raises(StoreRefuses, match="is due; it can't become deposit back"):
        returns.unit_step(issued, 1, "deposit back", "Ben", LATER)
    assert returns.unit_step(issued, 1, "sent", "Ben", LATER).changed_by == "Ben"
    assert what_goes_back(issued, SITE, date(2026, 4, 1)) == []
    assert what_goes_back(issued, SITE, LATER.date() + timedelta(days=30)) == [
        f"The old unit of XX-1 from booking 1 was sent on {LATER.date()}, and the deposit of 960.00 EUR isn't back: "
        "ask after it, then: kitbuilder order units 1 \"deposit back\" --by NAME"]
    assert returns.unit_step(issued, 1, "deposit back", "Ben", LATER).state == "deposit back"
    assert returns.units(issued) == []


def test_one_that_has_no_term_is_never_late(issued):
    returns.owe(issued, lambda item: Exchange(item) if item == "XX-1" else None, "EUR", LATER)
    assert [(one.due, one.deposit) for one in returns.units(issued)] == [(None, 0)]
    assert what_goes_back(issued, SITE, date(2027, 1, 1)) == []


def test_a_return_stands_in_the_report_with_its_last_day_until_it_is_sent_and_again_where_its_credit_fails(came):
    back(came)
    assert what_goes_back(came, SITE, date(2026, 3, 24)) == [
        "Return 1 (2 each XX-1, not used) waits to go back to supplier, which takes it until 2026-03-24. When it "
        "leaves: kitbuilder order returns 1 sent --by NAME"]
    assert what_goes_back(came, SITE, date(2026, 3, 25)) == [
        "Return 1 (2 each XX-1, not used) wasn't sent: supplier took it until 2026-03-24. Ask whether they take it all "
        "the same, then: kitbuilder order returns 1 sent --agreed --by NAME; or drop it: kitbuilder order returns 1 "
        "dropped --by NAME"]
    returns.step(came, 1, "sent", "Ben", LATER)
    assert what_goes_back(came, SITE, LATER.date() + 29 * DAY) == []
    [text] = what_goes_back(came, SITE, LATER.date() + 30 * DAY)
    assert text.startswith("Return 1 (2 each XX-1, not used) is with supplier, and its credit of 7.14 EUR is awaited "
                           f"since {LATER.date()}: ask after it")
    returns.step(came, 1, "credited", "Ben", LATER)
    assert what_goes_back(came, SITE, LATER.date() + 30 * DAY) == []
    back(came, terms=ReturnTerms())
    [text] = what_goes_back(came, SITE, LATER.date())
    assert text == ("Return 2 (2 each XX-1, not used) waits to go back to supplier. When it leaves: kitbuilder order "
                    "returns 2 sent --by NAME")
