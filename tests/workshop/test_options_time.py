"""When a way is done, what it waits for, and the chance of a second strip-down, worked out by hand.

The site works Monday to Friday from 08:00 to 16:00. Of the repair the stages open, mend and close take 60, 90 and 30
minutes, of the exchange open, change and close 60, 45 and 30; lifting in the yard adds 20 to the first.
"""

from datetime import datetime
from pathlib import Path

import msgspec
import pytest

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.stages import StageMinutes
from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.options import Options, Span, Way
from kitbuilder.stock.quoting import Answer
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.asked import Asked, When
from kitbuilder.workshop.at_hand import Shelves, Wanted, finish
from kitbuilder.workshop.options import compare
from tests.workshop.options_files import CHARGES, SITE, START, WHEN, answer, at, edition_in, shelf

LIGHT = Statement("gearbox", "light", TOLD)
HERE = Statement("place", "workshop", TOLD)
ALL = ("U-1", "U-9", "S-1", "M-1", "O-1", "H-1", "H-2", "C-1")


@pytest.fixture(scope="module")
def edition(tmp_path_factory: pytest.TempPathFactory) -> Edition:
    return edition_in(tmp_path_factory.mktemp("ways"))


def way(edition: Edition, job: str, *answers: Answer, told: tuple[Statement, ...] = (LIGHT, HERE),
        when: When | None = WHEN) -> Way:
    asked = Asked(answers, START) if answers else None
    found: Options = compare(edition, job, told, CHARGES, when, asked)
    return next(one for one in found.ways if one.choice.job == job)


def without(*items: str, later: dict[str, datetime] | None = None) -> list[Answer]:
    """A shelf with all but some items; some of those come later."""
    here = shelf(*(item for item in ALL if item not in items))
    slots = {f"at {moment:%H:%M}": moment for moment in (later or {}).values()}
    offers = {item: (f"at {moment:%H:%M}", 5, 1000) for item, moment in (later or {}).items()}
    return [here, answer("van", offers, slots)] if later else [here]


def test_without_stock_all_counts_as_there(edition: Edition) -> None:
    found = way(edition, "exchange")
    assert (found.choice.finish, found.choice.finish_latest) == ("2026-01-13T10:15+00:00",) * 2
    assert found.waits == ()


def test_what_is_open_may_take_longer(edition: Edition) -> None:
    found = way(edition, "exchange", told=(LIGHT,))
    assert (found.choice.finish, found.choice.finish_latest) == ("2026-01-13T10:15+00:00", "2026-01-13T10:35+00:00")


def test_work_goes_on_when_the_site_opens_again(edition: Edition) -> None:
    friday = way(edition, "exchange", when=When(SITE, at(15, 0, day=16)))
    # the first stage ends with the shift; the other 75 minutes are Monday's
    assert friday.choice.finish == "2026-01-19T09:15+00:00"


def test_moments_are_the_site_s_own(edition: Edition) -> None:
    summer = way(edition, "exchange", when=When(SITE, datetime.fromisoformat("2026-07-14T07:00+00:00")))
    assert summer.choice.finish == "2026-07-14T10:15+01:00"


def test_without_a_site_no_finish_is_known(edition: Edition) -> None:
    found = way(edition, "exchange", *without(), when=None)
    assert (found.choice.finish, found.waits) == (None, ())
    assert compare(edition, "exchange", (LIGHT,), CHARGES).start is None


def test_a_stage_waits_for_what_arrives_later(edition: Edition) -> None:
    found = way(edition, "exchange", *without("U-1", later={"U-1": at(11)}))
    assert found.choice.finish == "2026-01-13T12:15+00:00"
    (wait,) = found.waits
    assert (wait.stage, wait.name, wait.until, wait.why) == (
        "change", "Unit, light, exchange", "2026-01-13T11:00+00:00", "arrives later")


def test_what_arrives_before_its_stage_holds_nothing_up(edition: Edition) -> None:
    found = way(edition, "exchange", *without("U-1", later={"U-1": at(9)}))
    assert (found.choice.finish, found.waits) == ("2026-01-13T10:15+00:00", ())


def test_what_nothing_brings_leaves_no_finish(edition: Edition) -> None:
    found = way(edition, "exchange", *without("U-1"))
    assert (found.choice.finish, found.choice.finish_latest) == (None, None)
    assert [(one.name, one.until, one.why) for one in found.waits] == [
        ("Unit, light, exchange", None, "nothing brings it")]


def test_a_source_that_failed_is_not_one_without_stock(edition: Edition) -> None:
    failed = Answer("van", (), "failed", None, None, "it hung")
    (wait,) = way(edition, "exchange", *without("U-1"), failed).waits
    assert wait.why == "a source failed"


def test_a_slot_whose_cut_off_has_passed_brings_nothing(edition: Edition) -> None:
    slots, offers = {"noon": at(12)}, {"U-1": ("noon", 5, 1000)}
    late = way(edition, "exchange", *without("U-1"), answer("van", offers, slots, cut_off=at(8)))
    assert late.choice.finish is None
    in_time = way(edition, "exchange", *without("U-1"), answer("van", offers, slots, cut_off=at(8, 1)))
    assert in_time.choice.finish == "2026-01-13T13:15+00:00"


def test_a_possible_line_that_never_comes_leaves_only_the_latest_unknown(edition: Edition) -> None:
    found = way(edition, "exchange", *without("C-1"), told=(LIGHT,))
    assert (found.choice.finish, found.choice.finish_latest) == ("2026-01-13T10:15+00:00", None)


def test_what_has_taken_an_item_s_place_counts(tmp_path: Path) -> None:
    (tmp_path / "supersession.csv").write_text("old,new,rule\nU-1,U-9,used up first\n", "utf-8")
    found = way(edition_in(tmp_path), "exchange", *without("U-1"))
    assert found.choice.finish == "2026-01-13T10:15+00:00"


@pytest.mark.parametrize("lacking, chance, findings", [
    ((), "0", ()),
    (("M-1",), "0.4", ("motor-worn",)),               # 0.5, where the unit isn't beyond repair: 0.8
    (("U-1",), "0.2", ("beyond-repair",)),
    (("U-1", "M-1"), "0.6", ("beyond-repair", "motor-worn")),   # 1 - 0.8 × 0.5
    (("H-2",), "0.2", ("beyond-repair",)),            # the exchange that it turns into wants the shims
    (("S-1",), "0", ()),                              # certain: the job waits for it, no finding brings it
])
def test_a_second_strip_down_is_a_finding_whose_parts_are_not_at_hand(
        edition: Edition, lacking: tuple[str, ...], chance: str, findings: tuple[str, ...]) -> None:
    found = way(edition, "repair", *without(*lacking)).strip_down
    assert (found.chance, found.findings) == (chance, findings)


def test_where_no_source_was_asked_nothing_on_condition_is_at_hand(edition: Edition) -> None:
    assert way(edition, "repair").strip_down.chance == "0.6"
    assert way(edition, "exchange").strip_down.chance == "0"


@pytest.mark.parametrize("arrives, chance", [(at(9), "0"), (at(9, 1), "0.4")])
def test_at_hand_means_by_the_start_of_the_stage(edition: Edition, arrives: datetime, chance: str) -> None:
    found = way(edition, "repair", *without("M-1", later={"M-1": arrives}))
    assert found.strip_down.chance == chance
    assert found.choice.finish == "2026-01-13T11:00+00:00"


def test_a_stage_that_waits_gives_what_is_on_condition_time_too(edition: Edition) -> None:
    found = way(edition, "repair", *without("M-1", "S-1", later={"M-1": at(9, 30), "S-1": at(10)}))
    assert found.strip_down.chance == "0"
    assert found.choice.finish == "2026-01-13T12:00+00:00"


def test_lines_take_from_a_pool_in_turn() -> None:
    shelves = Shelves([shelf("C-1", many=5), answer("van", {"C-1": ("noon", 9, 1)}, {"noon": at(12)})], START)
    line = Wanted("open", "Clip", 3000, "each", ("C-1",))
    assert [shelves.first([line], take=True) for _ in range(4)] == [START, at(12), at(12), at(12)]
    assert shelves.first([line], take=True) is None
    assert shelves.first([a_little_less(line)], take=True) == at(12)


def a_little_less(line: Wanted) -> Wanted:
    return line._replace(milli=2000)


def test_asking_takes_nothing() -> None:
    shelves = Shelves([shelf("C-1", many=3)], START)
    line = Wanted("open", "Clip", 3000, "each", ("C-1",))
    assert [shelves.first([line], take=False) for _ in range(3)] == [START] * 3


def test_lines_of_one_circuit_are_filled_from_one_item() -> None:
    stock = [shelf("O-1", many=2), answer("van", {"O-2": ("noon", 5, 1)}, {"noon": at(12)})]
    first, rest = (Wanted("open", "Oil", milli, "mL", ("O-1", "O-2")) for milli in (1_500_000, 1_000_000))
    assert Shelves(stock, START).first([first], take=True) == START
    assert Shelves(stock, START).first([first, rest], take=True) == at(12)


def test_a_job_waits_for_the_one_item_that_fills_its_circuit() -> None:
    stock = [shelf("O-1", many=2), answer("van", {"O-2": ("noon", 5, 1)}, {"noon": at(12)})]
    stages = [StageMinutes("open", 60, 60), StageMinutes("close", 30, 30)]
    first = Wanted("open", "Oil", 1_500_000, "mL", ("O-1", "O-2"))
    rest = Wanted("close", "Oil", 1_000_000, "mL", ("O-1", "O-2"))
    apart = finish(SITE, START, stages, [first, rest], [], Shelves(stock, START))
    assert [(one.line, one.until) for one in apart.late] == [(rest, at(12))]
    one, other = first._replace(circuit="unit"), rest._replace(circuit="unit")
    together = finish(SITE, START, stages, [one, other], [], Shelves(stock, START))
    assert (together.starts["open"], together.earliest) == (at(12), at(13, 30))
    assert [(late.line, late.until) for late in together.late] == [(one, at(12))]


def test_the_earliest_arrival_is_taken_first_whichever_source_names_it() -> None:
    late, early = (answer(name, {"C-1": (name, 3, 1)}, {name: ready}) for name, ready in (("b", at(12)), ("a", at(9))))
    shelves = Shelves([late, early], START)
    line = Wanted("open", "Clip", 3000, "each", ("C-1",))
    assert [shelves.first([line], take=True) for _ in range(2)] == [at(9), at(12)]


def test_of_items_that_are_there_at_once_the_better_one_is_taken() -> None:
    shelves = Shelves([shelf("O-1", "O-2", many=2)], START)
    line = Wanted("open", "Oil", 2000, "L", ("O-2", "O-1"))
    shelves.first([line], take=True)
    assert (shelves.ready("O-1", 1), shelves.ready("O-2", 1)) == (START, None)


def test_an_arrival_s_most_and_the_offer_s_pool_both_bind() -> None:
    arrivals = Arrival(slot="a", sureness="promised", most=2000), Arrival(slot="b", sureness="promised")
    quote = Quote(
        as_of=START, currency="EUR", slots=(Slot(name="a", ready=at(9)), Slot(name="b", ready=at(12))),
        offers=(Offer(item="C-1", unit="each", pool=5000, arrivals=arrivals),))
    shelves = Shelves([Answer("van", (), "fresh", quote, 0, None)], START)
    assert [shelves.ready("C-1", many * 1000) for many in (2, 3, 5, 6)] == [at(9), at(12), at(12), None]


def costs(edition: Edition, job: str, *answers: Answer) -> Way:
    found = compare(edition, job, (LIGHT, HERE), CHARGES, WHEN, Asked(answers, START, cost=True))
    return next(one for one in found.ways if one.choice.job == job)


def test_the_cost_is_the_lowest_price_of_any_source(edition: Edition) -> None:
    prices = {"U-1": ("noon", 1, 70000), "O-1": ("noon", 9, 1100), "H-1": ("noon", 9, 100)}
    dear = answer("dear", prices, {"noon": at(12)})
    cheap = answer("cheap", {"U-1": ("noon", 0, 65000), "O-2": ("noon", 9, 777)}, {"noon": at(12)})
    found = costs(edition, "exchange", shelf(*ALL), dear, cheap)
    # unit 650.00, thin shim 1.00, oil 1.2 L to 1.5 L at 7.77: 9.324, 11.655
    assert found.cost and found.cost.parts == Span("660.32", "662.66")
    assert found.cost.unpriced == ("Thick shim",)


def test_a_price_break_counts_for_the_whole_amount(edition: Edition) -> None:
    prices = tuple(Price(minor=minor, per=1000, least=least) for minor, least in ((10, 0), (8, 3000), (1, 4000)))
    quote = Quote(as_of=START, currency="EUR", slots=(Slot(name="noon", ready=at(12)),), offers=(
        Offer(item="C-1", unit="each", pool=None, arrivals=(
            Arrival(slot="noon", sureness="promised", prices=prices),)),))
    found = costs(edition, "new", Answer("van", (), "fresh", quote, 0, None))
    assert found.cost and found.cost.parts == Span("0.24", "0.24")
    assert set(found.cost.unpriced) == {"Unit, new", "Oil of the unit"}


def test_costs_are_only_there_where_they_are_wanted(edition: Edition) -> None:
    found = compare(edition, "new", (LIGHT, HERE), CHARGES, WHEN, Asked([shelf(*ALL)], START))
    assert b'"cost"' not in msgspec.json.encode(found)
