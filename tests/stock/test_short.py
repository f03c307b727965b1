"""What a kit is short of, against plain arithmetic with fractions."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder import Arrival, Offer, Quote, Slot, Wanted
from kitbuilder.stock.quoting import Answer, failed_any, short_for_certain, wanted_items, with_stock
from tests.stock.asking import NOW, change
from tests.stock.bench import UNITS, opened, wanting

SLOTS = tuple(Slot(name=name, ready=NOW) for name in ("a", "b", "c"))
#: How many litres one of a unit is; a counted one is itself.
LITRES = {"L": Fraction(1), "mL": Fraction(1, 1000), "each": Fraction(1)}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return opened(tmp_path_factory.mktemp("bench"))


def answered(offers, source="counter", unreadable=None):
    quote = Quote(as_of=NOW, currency="EUR", slots=SLOTS, offers=tuple(offers), unreadable=unreadable or {})
    return Answer(source, ("quote",), "fresh", quote, 0, None)


FAILED = Answer("away", ("quote",), "failed", None, None, "no answer within 5 s")


def offer(item, pool, *most, unit=None):
    arrivals = tuple(Arrival(slot=slot.name, sureness="promised", most=one)
                     for slot, one in zip(SLOTS, most or (None,), strict=False))
    return Offer(item=item, unit=unit or UNITS[item], pool=pool, arrivals=arrivals)


def shorts(bench, wants, *answers):
    edition, kit = bench
    return [line.short for line in with_stock(edition, wanting(kit, wants), answers).lines]


# by hand


def test_lines_share_an_item_in_line_order(bench):
    wants = [("3", "each", ["P-1"]), ("3", "each", ["P-1"]), ("1", "each", ["P-1"])]
    assert shorts(bench, wants, answered([offer("P-1", 4000)])) == ["0", "2", "1"]


def test_items_are_taken_in_the_order_in_which_they_are_acceptable(bench):
    offers = answered([offer("P-1", 2000), offer("P-2", 2000)])
    first, second = ["P-1", "P-2"], ["P-2", "P-1"]
    assert shorts(bench, [("3", "each", first), ("2", "each", ["P-1"])], offers) == ["0", "2"]
    assert shorts(bench, [("3", "each", second), ("2", "each", ["P-1"])], offers) == ["0", "1"]


def test_all_sources_count_and_what_nobody_has_is_short(bench):
    wants = [("5", "each", ["P-1"]), ("1", "each", ["P-2"])]
    assert shorts(bench, wants, answered([offer("P-1", 2000)]), answered([offer("P-1", 1000)], "other")) == ["2", "1"]


def test_measured_amounts_convert_and_sharing_loses_nothing(bench):
    assert shorts(bench, [("500", "mL", ["O-1"])], answered([offer("O-1", 300)])) == ["200"]
    assert shorts(bench, [("0.75", "L", ["O-2"])], answered([offer("O-2", 500_000)])) == ["0.25"]
    # half a millilitre twice is a millilitre, also where a thousandth of a litre is the finest that can be shown
    halves = [("0.5", "mL", ["O-1"]), ("0.5", "mL", ["O-1"]), ("0.5", "mL", ["O-1"])]
    assert shorts(bench, halves, answered([offer("O-1", 1)])) == ["0", "0", "0.5"]
    assert shorts(bench, [("0.001", "L", ["O-2"])], answered([offer("O-2", 500)])) == ["0.001"]
    assert shorts(bench, [("1", "L", ["O-1"])], answered([offer("O-1", 999_500, unit="mL")])) == ["0.001"]


def test_a_pool_without_end_is_never_short_unless_its_slots_have_an_end(bench):
    wants = [("9000", "each", ["P-1"]), ("9000", "each", ["P-1"])]
    assert shorts(bench, wants, answered([offer("P-1", None)])) == ["0", "0"]
    assert shorts(bench, wants, answered([offer("P-1", None, 8_000_000, None)])) == ["0", "0"]
    assert shorts(bench, wants, answered([offer("P-1", None, 8_000_000, 2_000_000)])) == ["0", "8000"]


def test_no_more_comes_than_the_slots_hold_together_nor_than_the_pool(bench):
    want = [("10", "each", ["P-1"])]
    assert shorts(bench, want, answered([offer("P-1", 9000, 2000, 3000)])) == ["5"]
    assert shorts(bench, want, answered([offer("P-1", 4000, 2000, 3000)])) == ["6"]
    assert shorts(bench, want, answered([offer("P-1", 9000, 2000, None)])) == ["1"]
    assert shorts(bench, want, answered([offer("P-1", 9000, 0)])) == ["10"]


def test_a_failed_source_leaves_it_open_what_is_short(bench):
    edition, kit = bench
    wants = [("1", "each", ["P-1"]), ("1", "each", ["P-2"])]
    built = with_stock(edition, wanting(kit, wants), [answered([offer("P-1", 4000)]), FAILED])
    assert [line.short for line in built.lines] == [None, None]
    for line in built.lines:
        [away] = [row for row in line.stock if row.source == "away"]
        assert (away.state, away.error, away.quantity, away.item) == (
            "failed", "no answer within 5 s", None, line.acceptable[0])
    assert [row.quantity for row in built.lines[0].stock if row.source == "counter"] == ["4"]
    assert failed_any([FAILED], built)
    assert failed_any([FAILED], change(built, lines=())), "also where no line could show it"
    assert not short_for_certain(built)


def test_an_item_that_cannot_be_read_leaves_only_its_own_lines_open(bench):
    edition, kit = bench
    answer = answered([offer("P-1", 9000), offer("O-1", 9000)], unreadable={"O-1": "line 7: expected a quantity"})
    wants = [("1", "each", ["P-1"]), ("1", "L", ["O-3", "O-1"]), ("1", "L", ["O-3"])]
    built = with_stock(edition, wanting(kit, wants), [answer])
    assert [line.short for line in built.lines] == ["0", None, "1"]
    assert [(row.item, row.state, row.error, row.quantity) for row in built.lines[1].stock] == [
        ("O-1", "failed", "line 7: expected a quantity", None)]
    assert failed_any([answer], built)
    assert not failed_any([answer], with_stock(edition, wanting(kit, wants[:1]), [answer]))


def test_only_what_is_certainly_needed_and_waits_for_no_finding_makes_the_answer_no(bench):
    edition, kit = bench
    built = with_stock(edition, wanting(kit, [("1", "each", ["P-1"])]), [answered([])])
    [line] = built.lines
    assert line.short == "1"
    assert short_for_certain(built)
    for changes in ({"certainty": "possible"}, {"finding": "seal-torn"}, {"short": "0"}, {"short": None}):
        assert not short_for_certain(change(built, lines=(change(line, **changes),)))


def test_what_is_wanted_is_each_acceptable_item_once_in_line_order(bench):
    edition, kit = bench
    assert wanted_items(edition, kit) == (
        Wanted("P-1", "each"), Wanted("O-1", "L"), Wanted("O-2", "mL"), Wanted("O-3", "L"))
    twice = wanting(kit, [("1", "each", ["P-2", "P-1"]), ("1", "each", ["P-1"])])
    assert wanted_items(edition, twice) == (Wanted("P-2", "each"), Wanted("P-1", "each"))


# by drawing


def plain(wants, answers):
    """The same by plain arithmetic: litres and pieces as fractions, an endless pool as infinity."""
    left = dict.fromkeys(UNITS, Fraction(0))
    for answer in answers:
        for one in answer.quote.offers:
            pool = math.inf if one.pool is None else Fraction(one.pool, 1000)
            comes = Fraction(0)
            for arrival in one.arrivals:
                most = math.inf if arrival.most is None else Fraction(arrival.most, 1000)
                comes += min(most, pool - comes) if pool != math.inf else most
            left[one.item] += comes * LITRES[one.unit] if comes != math.inf else comes
    found = []
    for amount, unit, acceptable in wants:
        need = Fraction(amount) * LITRES[unit]
        for item in acceptable:
            taken = min(need, left[item])
            left[item] -= taken
            need -= taken
        found.append(math.ceil(need / LITRES[unit] * 1000))
    return found


OILS = ["O-1", "O-2", "O-3"]
PARTS = ["P-1", "P-2"]
figures = st.one_of(st.integers(0, 9000), st.integers(0, 3), st.sampled_from([500, 1000, 1500]))


@st.composite
def lines(draw):
    if draw(st.booleans()):
        return str(draw(st.integers(1, 6))), "each", draw(st.permutations(PARTS))[: draw(st.integers(0, 2))]
    unit = draw(st.sampled_from(["L", "mL"]))
    milli = draw(st.integers(1, 9000)) * (1 if unit == "L" else draw(st.sampled_from([1, 500, 1000])))
    return f"{milli // 1000}.{milli % 1000:03d}", unit, draw(st.permutations(OILS))[: draw(st.integers(0, 3))]


@st.composite
def offers(draw):
    item = draw(st.sampled_from(PARTS + OILS))
    unit = "each" if item in PARTS else draw(st.sampled_from(["L", "mL"]))
    scale = {"each": 1000, "L": 1, "mL": draw(st.sampled_from([1, 1000]))}[unit]
    few = st.none() | figures.map(lambda one: one // (1000 if unit == "each" else 1) * scale)
    most = draw(st.lists(few, min_size=1, max_size=3))
    return offer(item, draw(few), *most, unit=unit)


@settings(max_examples=400, deadline=None)
@given(wants=st.lists(lines(), max_size=6), first=st.lists(offers(), max_size=6), second=st.lists(offers(), max_size=4))
def test_short_is_what_plain_arithmetic_says(bench, wants, first, second):
    answers = [answered(first), answered(second, "other")]
    found = shorts(bench, wants, *answers)
    assert [Fraction(short) * 1000 for short in found] == plain(wants, answers)


def test_the_plain_arithmetic_knows_the_cases_done_by_hand():
    wants = [("3", "each", ["P-1"]), ("500", "mL", ["O-1", "O-2"])]
    answers = [answered([offer("P-1", None, 1000, 1000), offer("O-1", 300), offer("O-2", 100_000)])]
    assert plain(wants, answers) == [1000, 100_000]
    assert plain(wants, [answered([offer("P-1", None), offer("O-1", None)])]) == [0, 0]
