"""Pick lists: in bin order, a row a place, what stays, what isn't held; what a short pick leaves of each hold."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.model.shelf import ShelfLot
from kitbuilder.workshop.picking import in_order, pick_list, shortages
from tests.workshop.making import booking, hold, item, line, work_kit_of

ITEMS = {
    one.number: one
    for one in (item("S1", name="Seal", codes=("4012345678901", "S-ONE")), item("S2"), item("O1", "L"))
}


def listed(kit, holds, shelf=()):
    return pick_list(booking(), kit, holds, ITEMS, shelf)


def test_rows_stand_in_the_order_in_which_bins_are_walked():
    bins = ["B-01-1-1", "A-10-1-1", "A-02-1-10", "A-2-1-9", "A-02-1-9", "a-1", "Oil store", "A-02-1-2"]
    holds = [hold("seal:S1", "S1", number=number, bin=name) for number, name in enumerate(bins, 1)]
    rows = listed(work_kit_of(line("seal:S1", 8000)), holds).lines
    assert [row.bin for row in rows] == [
        "A-02-1-2",
        "A-02-1-9",
        "A-2-1-9",
        "A-02-1-10",
        "A-10-1-1",
        "B-01-1-1",
        "Oil store",
        "a-1",
    ]


@given(st.lists(st.text("A-019é٣ ", max_size=6)), st.randoms(use_true_random=False))
def test_any_names_have_one_order(names, random):
    shuffled = random.sample(names, len(names))
    assert sorted(names, key=lambda one: (in_order(one), one)) == sorted(
        shuffled, key=lambda one: (in_order(one), one)
    )


def test_a_row_tells_what_to_compare_with_the_label():
    row = listed(
        work_kit_of(line("seal:S1")), [hold("seal:S1", "S1", 2000, lot="L7", use_by=date(2027, 6, 30))]
    ).lines[0]
    assert (
        row.item,
        row.name,
        row.amount,
        row.unit,
        row.bin,
        row.lot,
        row.use_by,
        row.code,
        row.roles,
        row.titles,
    ) == ("S1", "Seal", "2", "each", "A-01-1-1", "L7", date(2027, 6, 30), "4012345678901", ("seal",), ("The seal",))


def test_what_lies_in_one_place_is_one_row_whatever_it_is_for():
    kit = work_kit_of(line("seal:S1", 2000), line("ring:S1", 3000))
    holds = [
        hold("seal:S1", "S1", 2000, 1),
        hold("ring:S1", "S1", 3000, 2),
        hold("ring:S1", "S1", 1000, 3, lot="L7"),
        hold("ring:S1", "S1", 1000, 4, state="picked"),
    ]
    rows = listed(kit, holds).lines
    assert [(row.amount, row.lot, row.state, row.roles, row.holds) for row in rows] == [
        ("1", "", "picked", ("ring",), (4,)),
        ("5", "", "planned", ("seal", "ring"), (1, 2)),
        ("1", "L7", "planned", ("ring",), (3,)),
    ]


def test_a_requirement_filled_from_two_items_is_two_rows():
    kit = work_kit_of(line("oil:box-oil", 2000, acceptable=("S1", "S2")))
    rows = listed(kit, [hold("oil:box-oil", "S1", 1000, 1), hold("oil:box-oil", "S2", 1000, 2)]).lines
    assert [(row.item, row.roles) for row in rows] == [("S1", ("oil",)), ("S2", ("oil",))]


def test_reserves_stay_where_they_lie_and_extras_are_fetched_in_plain_words():
    possible = line("seal:S1", certainty="possible")
    other = line("ring:S1", certainty="possible")
    kit = work_kit_of(possible, other, extras=(line("&S1"),), reserves=(line("?S1", certainty="possible"),))
    answer = listed(kit, [hold("&S1", "S1", number=1), hold("?S1", "S1", number=2)])
    assert [(row.holds, row.roles) for row in answer.lines] == [((1,), ("seal", "ring"))]
    assert [(row.holds, row.titles) for row in answer.reserved] == [((2,), ("The seal", "The ring"))]
    assert "&" not in repr(answer)
    assert "?" not in repr(answer)


def test_what_is_issued_is_done_with_and_what_is_not_held_is_told():
    kit = work_kit_of(line("seal:S1"), line("ring:S2", 2000), line("oil:O1", 9500, "L"))
    answer = listed(kit, [hold("seal:S1", "S1", state="issued")])
    assert answer.lines == ()
    assert answer.not_held == ("2 each Name of S2 (S2)", "9.5 L Name of O1 (O1)")


def test_a_hold_that_no_line_is_named_by_any_more_is_still_listed():
    (row,) = listed(work_kit_of(), [hold("gone:S9", "S9")]).lines
    assert (row.item, row.name, row.code, row.roles) == ("S9", "S9", "S9", ())


def test_tools_and_what_waits_for_a_finding_say_where_they_lie():
    shelf = [
        ShelfLot("marl", "S1", "", "B-1", 5000, 2000, "each"),
        ShelfLot("marl", "S2", "L", "B-2", 1000, 1000, "each"),
        ShelfLot("marl", "S2", "M", "B-3", 2000, 0, "each", quarantine="torn"),
    ]
    kit = work_kit_of(
        line("tool:S1", sort="special tool"),
        line("tap:S2", sort="special tool", certainty="possible"),
        line("clutch:C", finding="worn", condition="Clutch worn", acceptable=("S1", "S2")),
    )
    answer = listed(kit, [], shelf)
    assert answer.tools == (
        "Name of S1 (S1): 3 each in B-1",
        "Name of S2 (S2), perhaps: ask first: none free on the shelf",
    )
    assert answer.on_condition == ("Name of C (S1 or S2), if: Clutch worn: 3 each in B-1",)


HOLDS = st.lists(st.tuples(st.booleans(), st.integers(1, 4)), min_size=1, max_size=5)


@given(HOLDS, st.integers(0, 20))
def test_a_short_pick_keeps_what_was_found_for_what_is_needed_surely(drawn, found):
    holds = [
        hold("?S1" if reserve else "seal:S1", "S1", quantity * 1000, number)
        for number, (reserve, quantity) in enumerate(drawn, 1)
    ]
    kept = {one.id: one.quantity for one in holds} | {
        one.id: quantity for one, quantity in shortages(holds, found * 1000)
    }
    total = sum(one.quantity for one in holds)
    assert sum(kept.values()) == min(found * 1000, total)
    assert all(0 <= kept[one.id] <= one.quantity for one in holds)
    sure = sum(one.quantity for one in holds if "?" not in one.need)
    assert sum(kept[one.id] for one in holds if "?" not in one.need) == min(found * 1000, sure)
    # at most one is left in part; the others are whole or gone
    assert sum(0 < kept[one.id] < one.quantity for one in holds) <= 1
    assert all(quantity < one.quantity for one, quantity in shortages(holds, found * 1000))
