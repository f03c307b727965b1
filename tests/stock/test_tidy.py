"""Of plans that are worth the same, the one that people expect."""

from datetime import date

from hypothesis import given

from kitbuilder.stock.draft import Draft
from kitbuilder.stock.plan import plan
from kitbuilder.stock.terms import Terms, factor
from kitbuilder.stock.tidy import tidied
from tests.stock.draw_sourcing import NOW, cases
from tests.stock.test_plan_rules import lies, need, shelf


def taken(made):
    return [(one.need, one.item, one.quantity // 1000) for one in made.allocations]


def test_the_job_that_starts_first_gets_the_old_number():
    both = ("old nut", "new nut")
    needs = [need(both, 4, booking=2, wanted=20), need(both, 8, booking=1, wanted=10)]
    for order in (needs, needs[::-1]):
        made = plan(order, [shelf(lies("old nut", 5), lies("new nut", 9))], NOW)
        assert taken(made) == [("old nut of 1", "new nut", 3), ("old nut of 1", "old nut", 5),
                               ("old nut of 2", "new nut", 4)]


def test_a_lot_that_does_not_last_stays_with_the_job_that_can_use_it():
    both = ("sealant", "other sealant")
    needs = [need(both, 1, booking=1, wanted=10), need(both, 1, booking=2, wanted=72)]
    soon = lies("other sealant", 1, lot="L1", use_by=date(2026, 3, 11))
    made = plan(needs, [shelf(lies("sealant", 1), soon)], NOW)
    assert taken(made) == [("sealant of 1", "other sealant", 1), ("sealant of 2", "sealant", 1)]


@given(cases())
def test_what_is_handed_out_once_stays_so(case):
    needs, supplies = case
    made = plan(needs, supplies, NOW)
    terms = Terms(supplies)
    draft = Draft()
    for one in made.allocations:
        key = (one.source, one.item, one.lot, one.slot)
        draft.taken[one.need, key] = one.quantity * factor(terms.places[key].offer.unit)
    anew = tidied(terms, needs, draft, NOW)
    assert anew.taken == draft.taken
