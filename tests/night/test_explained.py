"""Where a booking's lines come from by the last run, what the next best way would cost, and as of when that is so."""

from __future__ import annotations

from kitbuilder.model.sourced import LineSourced, Sourcing
from kitbuilder.night.explained import lines_asked, sourcing
from kitbuilder.store import holds
from kitbuilder.workshop.work import load
from tests.night.shop import NOW, Shop

EURO_5 = {"emissions": "Euro V"}
NOON = "U-1,9,each,2026-03-11T09:00:00+00:00,900,1"
CHEAP_NEXT_DAY = "U-1,9,each,2026-03-12T07:00:00+00:00,800,1"


def told(shop: Shop, number: int, asked: str, **more: float) -> Sourcing:
    around = shop.around()
    work = load(shop.store, around.edition, around.site, number)
    return sourcing(around, work, lines_asked(work, asked), **more)


def line(shop: Shop, number: int, asked: str, **more: float) -> LineSourced:
    [found] = told(shop, number, asked, **more).lines
    return found


def test_a_line_from_the_shelf_says_its_bin_and_what_buying_would_cost(shop: Shop) -> None:
    shop.receive("U-1", "1", lot="L7")
    shop.supplier(NOON)
    number = shop.book("unit-change")
    shop.run()
    one = line(shop, number, "unit")
    [take] = one.takes
    assert (take.amount, take.item, take.source, take.where, take.lot, take.state) == (
        "1", "U-1", "shelf", "A-1", "L7", "planned")
    assert (one.wanted_at, one.would_take, one.lost) == ("2026-03-11T10:00", None, ())
    assert [(at.source, at.ready) for at in one.next_best.takes] == [("supplier", "2026-03-11T09:00")]
    assert (one.next_best.worse_in, one.next_best.by, one.next_best.costs) == ("money", 90_000, "900.00 EUR more")


def test_a_proposal_says_when_it_comes_and_what_the_next_slot_would_cost(shop: Shop) -> None:
    """The job may wait for the cheaper unit, which then comes 21 hours after its stage."""
    shop.supplier(NOON, CHEAP_NEXT_DAY)
    number = shop.book("unit-change")
    shop.run()
    answer = told(shop, number, "U-1")
    assert (answer.run, answer.as_of, answer.state) == ("2026-03-11", "2026-03-10T15:00", "as planned")
    [one] = answer.lines
    [take] = one.takes
    assert (take.state, take.ready, take.order) == ("proposed", "2026-03-11T09:00", shop.orders()[0].id)
    assert (one.next_best.worse_in, one.next_best.by) == ("not_on_time", 1)
    assert one.next_best.costs == f"booking {number} would be 21 h late, for 100.00 EUR less"


def test_a_line_that_lost_says_to_whom(shop: Shop) -> None:
    shop.receive("U-1", "1")
    number = shop.book("unit-change")
    other = shop.book("unit-change", priority="VOR")
    shop.run()
    one = line(shop, number, "unit")
    assert (one.takes, one.next_best) == ((), None)
    assert one.lost == (
        f"It is short for want of 1 each Unit (U-1), which went to booking {other} (VOR).",
        f"Were it on time, 1 VOR booking would be short instead of none: booking {other} (VOR) would be short.")


def test_what_was_decided_since_the_run_is_told_as_it_was_weighed_then(shop: Shop) -> None:
    shop.supplier(NOON, CHEAP_NEXT_DAY)
    number = shop.book("unit-change")
    shop.run()
    before = line(shop, number, "unit")
    shop.decide(shop.orders()[0].id, "approved")
    after = told(shop, number, "unit")
    assert after.state == "as planned"
    assert [take.state for take in after.lines[0].takes] == ["approved"]
    assert after.lines[0].next_best == before.next_best


def test_where_something_has_changed_since_it_says_what_would_be_taken_now(shop: Shop) -> None:
    shop.supplier(NOON)
    number = shop.book("unit-change")
    shop.run()
    shop.receive("U-1", "1")
    answer = told(shop, number, "unit")
    assert answer.state == "changed"
    [one] = answer.lines
    assert [take.source for take in one.takes] == ["supplier"]
    assert [take.source for take in one.would_take] == ["shelf"]
    assert any("Something has changed since" in text for text in answer.told)


def test_what_the_supplier_says_today_makes_no_difference(shop: Shop) -> None:
    """The run's quotes are frozen: a price list that is gone changes nothing of what was weighed."""
    shop.supplier(NOON, CHEAP_NEXT_DAY)
    number = shop.book("unit-change")
    shop.run()
    before = told(shop, number, "unit")
    shop.supplier()
    assert told(shop, number, "unit") == before


def test_what_is_picked_is_not_weighed_any_more(shop: Shop) -> None:
    shop.receive("U-1", "1")
    number = shop.book("unit-change")
    shop.run()
    holds.step(shop.store, [row.id for row in shop.holds(number)], "picking", "tester", NOW)
    answer = told(shop, number, "unit")
    [one] = answer.lines
    assert [take.state for take in one.takes] == ["picking"]
    assert (one.next_best, one.told) == (None, (
        "Nothing is left to be weighed: what is picked, or was ordered before the last run, fills it.",))
    assert "What is picked by now, for whomever, is not weighed any more." in answer.told


def test_lines_that_are_not_weighed_say_why(shop: Shop) -> None:
    shop.receive("U-1", "1")
    enquiry = shop.book("unit-change", state="enquiry")
    seal = shop.book("seal-change", facts=EURO_5)
    shop.run()
    assert line(shop, enquiry, "unit").told == (
        "The booking isn't authorised: it gets what the others leave on the shelf, and nothing is ordered for it.",)
    assert line(shop, enquiry, "crane").told == (
        "A special tool comes back: it is looked for in its store, and not sourced.",)
    assert line(shop, seal, "pipe").told == (
        "It waits for what turns up: nothing is held or ordered for it by itself.",)


def test_without_time_it_says_so_and_what_stands_is_told_all_the_same(shop: Shop) -> None:
    shop.supplier(NOON, CHEAP_NEXT_DAY)
    number = shop.book("unit-change")
    shop.run()
    one = line(shop, number, "unit", seconds=0)
    assert [take.state for take in one.takes] == ["proposed"]
    assert (one.next_best, one.told) == (None, ("What another way would cost was not worked out in time.",))


def test_a_booking_that_the_last_run_did_not_look_at_is_said_to_be_so(shop: Shop) -> None:
    number = shop.book("unit-change")
    shop.run()
    shop.now = shop.now.replace(month=4)
    shop.run(shop.now.date())
    answer = told(shop, number, "unit")
    assert answer.state == "not looked at"
    assert f"did not look at booking {number}" in answer.told[0]


def test_nothing_is_changed_by_asking(shop: Shop) -> None:
    shop.receive("U-1", "1")
    shop.supplier(NOON)
    number = shop.book("unit-change")
    shop.run()
    before = shop.dump(leave_out=())
    told(shop, number, "unit")
    assert shop.dump(leave_out=()) == before
