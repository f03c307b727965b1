"""Which orders go by themselves and who may approve which: the table [orders] of the settings."""

from datetime import UTC, datetime

import pytest

from kitbuilder.errors import BadData, WrongUse
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.stock.approval import Proposal, Rules, check_approver, read_rules, reasons

READY = datetime(2026, 3, 11, 8, tzinfo=UTC)
RULES = Rules(50000, True)


def order(minor: int = 10000, fee: int = 0, returnable: bool = True, **more: object) -> OrderRow:
    told = {
        "key": "marl|2026-03-11|web|noon", "site": "marl", "source": "web", "slot": "noon", "ready": READY,
        "cut_off": None, "currency": "EUR", "fee": fee, "state": "proposed", "proposed_at": READY, "id": 4,
        "lines": (OrderedLine("U-1", "each", 1000, (), minor, returnable=returnable),),
        "wanted_for": (OrderedFor("U-1", 5, "5/unit:U-1", 1000),), **more}
    return OrderRow(**told)  # type: ignore[arg-type]


def known(one: OrderRow | None = None, **told: object) -> Proposal:
    facts = {"order": one or order(), "answered": True, "takes_orders": True, "price_of": "", "deposits": (),
             "authorised": {5}, "before": ()}
    return Proposal(**{**facts, **told})  # type: ignore[arg-type]


def test_what_is_safe_has_no_reason_to_wait():
    assert reasons(RULES, known()) == ()


@pytest.mark.parametrize("proposal,why", [
    (known(order(50001)), "over 500.00 EUR"),
    (known(order(49000, fee=1001)), "over 500.00 EUR"),
    (known(order(returnable=False)), "not returnable: U-1"),
    (known(deposits={"U-1"}), "deposit on U-1"),
    (known(price_of="2026-03-07 16:00"), "the price is of 2026-03-07 16:00"),
    (known(answered=False, takes_orders=False), "web can't be asked, so the price may be another by now"),
    (known(takes_orders=False), "web takes no orders from here"),
    (known(authorised={6}), "booking 5 isn't authorised"),
    (known(before=("order 2 of the same delivery was refused",)), "order 2 of the same delivery was refused")])
def test_each_reason_to_wait_is_told(proposal, why):
    assert reasons(RULES, proposal) == (why,)


def test_the_limit_itself_is_not_over_it_and_reasons_add_up():
    assert reasons(RULES, known(order(49000, fee=1000))) == ()
    assert reasons(RULES, known(order(60000, returnable=False), deposits={"U-1"})) == (
        "over 500.00 EUR", "not returnable: U-1", "deposit on U-1")


def test_a_site_may_have_its_own_and_the_rest_holds_for_all():
    found = read_rules("k.toml", {
        "approve_over": "500.00", "otherwise": "send", "approvers": {"A.  Person": "2000", "B. Person": "any"},
        "sites": {"marl": {"approve_over": "80"}, "hill": {"otherwise": "ask"}}}, "EUR", ("marl", "hill", "dale"))
    may = {"A. Person": 200000, "B. Person": None}
    assert found == {"marl": Rules(8000, True, may), "hill": Rules(50000, False, may), "dale": Rules(50000, True, may)}
    assert read_rules("k.toml", {}, "EUR", ("marl",)) == {"marl": Rules()}


@pytest.mark.parametrize("table,said", [
    ("x", "orders = 'x'; expected a table [orders]"),
    ({"aprove_over": "5"}, "[orders] has no key 'aprove_over'. Did you mean 'approve_over'"),
    ({"approve_over": 500}, "approve_over = 500; expected a text"),
    ({"approve_over": "500,00"}, "expected a decimal point: 500.00"),
    ({"approve_over": "5.001"}, "at most 2 decimal places in EUR"),
    ({"approve_over": "5", "otherwise": "order"}, 'expected "ask" or "send"'),
    ({"otherwise": "send"}, "needs approve_over"),
    ({"approvers": {"A. Person": "lots"}}, '[orders.approvers] "A. Person" = \'lots\'; expected a price'),
    ({"sites": {"mral": {}}}, "[orders.sites.mral] is of no site"),
    ({"sites": {"marl": {"sites": {}}}}, "[orders.sites.marl] has no key 'sites'")])
def test_what_is_wrong_in_the_settings_is_told_with_its_key(table, said):
    with pytest.raises(BadData) as error:
        read_rules("k.toml", table, "EUR", ("marl",))
    assert said in str(error.value) and str(error.value).startswith("k.toml: ")


def test_an_approver_has_a_limit_and_it_is_said_who_may():
    rules = Rules(None, False, {"A. Person": 20000, "B. Person": None, "C. Person": 5000})
    check_approver(rules, "a.  person", order(20000))
    check_approver(rules, "B. Person", order(99999999))
    check_approver(Rules(), "Anybody", order(99999999))
    for person, one, said in [
            ("C. Person", order(20000), "Order 4 comes to 200.00 EUR; C. Person may approve up to 50.00 EUR. Who may "
             "approve it: A. Person, B. Person."),
            ("D. Person", order(6000), "D. Person is not among those who approve orders"),
            ("A. Person", order(20000, fee=1), "Who may approve it: B. Person.")]:
        with pytest.raises(WrongUse) as error:
            check_approver(rules, person, one)
        assert said in str(error.value)


def test_what_a_supplier_made_dearer_counts_as_it_is_now():
    line = OrderedLine("U-1", "each", 2000, (), 10000, confirmed=1000, confirmed_minor=9000)
    assert order(lines=(line,), fee=100).total == 9100
    less = OrderedLine("U-1", "each", 2000, (), 10001, confirmed=1000)
    assert order(lines=(less,)).total == 5001
