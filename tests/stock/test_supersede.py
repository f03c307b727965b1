"""What may be taken once another item takes the place of one: the old one first, then the new one."""

from datetime import date, datetime, timedelta

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder import Wanted
from kitbuilder.calendar.site import Hours, Site
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.demo.workshop import demo_catalogue
from kitbuilder.model.booking import Booking, EditRow
from kitbuilder.model.catalogue import Stage, Supersession
from kitbuilder.model.work import WorkKit, WorkLine
from kitbuilder.show.kit import kit_text
from kitbuilder.show.paper import Paper
from kitbuilder.stock.quoting import short_for_certain, wanted_items, with_stock
from kitbuilder.stock.supersede import successors, superseded
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.lines import share_visit
from kitbuilder.workshop.work import Work, build, items_of
from tests.stock.asking import NOW, change
from tests.stock.bench import wanting
from tests.stock.test_short import FAILED, answered, bench, offer  # noqa: F401  # a fixture

DAY = date(2026, 3, 10)


def follow(*pairs: tuple[str, str] | tuple[str, str, date]) -> dict[str, Supersession]:
    return {old: Supersession(old, new, *since) for old, new, *since in pairs}


# What is acceptable


def test_the_new_one_stands_right_behind_the_old_one() -> None:
    assert successors(["A", "B"], follow(("A", "C")), DAY) == ("A", "C", "B")
    assert successors(["A", "B"], follow(("B", "C")), DAY) == ("A", "B", "C")


def test_nothing_changes_where_nothing_is_superseded() -> None:
    assert successors(["A", "B"], {}, DAY) == ("A", "B")
    assert successors(["A", "B"], follow(("X", "Y")), DAY) == ("A", "B")
    assert successors([], follow(("X", "Y")), DAY) == ()


def test_it_holds_from_its_day_on() -> None:
    told = follow(("A", "B", DAY))
    assert successors(["A"], told, DAY - timedelta(days=1)) == ("A",)
    assert successors(["A"], told, DAY) == ("A", "B")
    assert successors(["A"], told, DAY + timedelta(days=400)) == ("A", "B")


def test_a_chain_is_followed_as_far_as_it_holds() -> None:
    told = follow(("A", "B"), ("B", "C"), ("C", "D", DAY))
    assert successors(["A"], told, DAY - timedelta(days=1)) == ("A", "B", "C")
    assert successors(["A"], told, DAY) == ("A", "B", "C", "D")
    # where a link doesn't hold yet, what lies behind it isn't reached
    assert successors(["A"], follow(("A", "B", DAY), ("B", "C")), DAY - timedelta(days=1)) == ("A",)


def test_it_is_one_way() -> None:
    assert successors(["B"], follow(("A", "B")), DAY) == ("B",)


def test_what_was_acceptable_anyway_stands_once_and_behind_the_old_one() -> None:
    assert successors(["A", "X", "B"], follow(("A", "B")), DAY) == ("A", "B", "X")
    assert successors(["B", "A"], follow(("A", "B")), DAY) == ("B", "A")


ITEMS = st.sampled_from("ABCDEF")


@given(st.lists(ITEMS, unique=True), st.permutations("ABCDEF"), st.lists(st.integers(-2, 2), min_size=5, max_size=5))
def test_nothing_acceptable_is_lost_and_all_that_is_new_follows_from_it(
        acceptable: list[str], chain: list[str], days: list[int]) -> None:
    links = zip(chain, chain[1:], days, strict=False)
    told = follow(*((old, new, DAY + timedelta(days=away)) for old, new, away in links))
    found = successors(acceptable, told, DAY)
    assert len(set(found)) == len(found)
    # what can be reached, worked out link by link until nothing is added
    reached = set(acceptable)
    while more := {one.new for one in told.values() if one.old in reached and one.since <= DAY} - reached:
        reached |= more
    assert set(found) == reached
    for place, number in enumerate(found):
        if number not in acceptable:
            [old] = [one.old for one in told.values() if one.new == number]
            assert found[place - 1] == old


def rules(*rows: tuple[str, str, str]) -> dict[str, Supersession]:
    return {old: Supersession(old, new, None, "", row, rule) for row, (old, new, rule) in enumerate(rows, 2)}


def test_what_is_withdrawn_is_left_out_and_what_takes_its_place_stands_there() -> None:
    assert successors(["A", "X"], rules(("A", "B", "withdrawn")), DAY) == ("B", "X")
    assert successors(["A"], rules(("A", "B", "used up first"), ("B", "C", "withdrawn")), DAY) == ("A", "C")
    assert successors(["A", "X"], rules(("X", "", "withdrawn")), DAY) == ("A",)
    assert successors(["A"], rules(("A", "B", "withdrawn"), ("B", "", "withdrawn")), DAY) == ()


def test_it_is_withdrawn_from_its_day_on() -> None:
    told = {"A": Supersession("A", "B", DAY, "", 2, "withdrawn")}
    assert successors(["A"], told, DAY - timedelta(days=1)) == ("A",)
    assert successors(["A"], told, DAY) == ("B",)


def test_two_way_makes_each_stand_for_the_other() -> None:
    told = rules(("A", "B", "two-way"), ("B", "C", "used up first"))
    assert successors(["A"], told, DAY) == ("A", "B", "C")
    # what is exchanged with it comes before what takes its place
    assert successors(["B"], told, DAY) == ("B", "A", "C")
    assert successors(["C"], told, DAY) == ("C",)


def test_a_circle_is_gone_round_once() -> None:
    told = rules(("A", "B", "used up first"), ("B", "C", "used up first"), ("C", "A", "used up first"))
    assert successors(["B"], told, DAY) == ("B", "C", "A")
    assert successors(["A"], rules(("A", "B", "two-way"), ("B", "A", "two-way")), DAY) == ("A", "B")
    assert successors(["A"], rules(("A", "B", "withdrawn"), ("B", "A", "withdrawn")), DAY) == ()


RULES = st.sampled_from(("used up first", "withdrawn", "two-way"))


@given(st.lists(ITEMS, unique=True), st.permutations("ABCDEF"), st.permutations("ABCDEF"),
       st.lists(st.tuples(RULES, st.integers(-1, 1), st.booleans()), max_size=6))
def test_by_any_rules_just_what_they_lead_to_may_be_taken(
        acceptable: list[str], olds: list[str], news: list[str], told: list[tuple[str, int, bool]]) -> None:
    table = {}
    for old, new, (rule, away, none) in zip(olds, news, told, strict=False):
        if old != new:
            table[old] = Supersession(
                old, "" if none and rule == "withdrawn" else new, DAY + timedelta(days=away), "", 2, rule)
    here = [one for one in table.values() if one.since <= DAY]
    # link by link: every row leads from old to new, a two-way one back as well, but only from where one started or
    # came back to: what took the place of something does not bring back what others may use instead
    found = set()
    for start in acceptable:
        back, forth = {start}, {start}
        while more := {one.old for one in here if one.rule == "two-way" and one.new in back} - back:
            back |= more
        while more := {one.new for one in here if one.new and one.old in forth} - forth:
            forth |= more
        found |= back | forth
    gone = {one.old for one in here if one.rule == "withdrawn"}
    taken = successors(acceptable, table, DAY)
    assert len(set(taken)) == len(taken)
    assert set(taken) == found - gone


# A booking's lines


def test_every_line_of_a_booking_may_take_what_is_new() -> None:
    def line(need: str, *acceptable: str) -> WorkLine:
        return WorkLine(need=need, stage="fit", role=need, title=need, filler=acceptable[0], name=need, amount=1000,
                        unit="each", sort="part", certainty="certain", finding=None, acceptable=acceptable)

    kit = WorkKit(7, (line("one", "A"), line("two", "X")), (), (line("extra", "A"),), (line("reserve", "X", "A"),))
    found = superseded(kit, follow(("A", "B")), DAY)
    assert [one.acceptable for one in found.lines] == [("A", "B"), ("X",)]
    assert [one.acceptable for one in (*found.extras, *found.reserves)] == [("A", "B"), ("X", "A", "B")]

    def back(lines: tuple[WorkLine, ...], old: tuple[WorkLine, ...]) -> tuple[WorkLine, ...]:
        return tuple(change(one, acceptable=before.acceptable) for one, before in zip(lines, old, strict=True))

    assert change(found, lines=back(found.lines, kit.lines), extras=back(found.extras, kit.extras),
                  reserves=back(found.reserves, kit.reserves)) == kit
    assert superseded(kit, {}, DAY) == kit


@pytest.fixture(scope="module")
def edition() -> Edition:
    """The demo's catalogue, in which PS-70131 takes the place of PS-70130 from 1 March 2026 on."""
    return read_edition(demo_catalogue())


def works(edition: Edition, start: str, *edits: EditRow) -> Work:
    booking = Booking(
        number=7, diary="office", id="B", recurrence="", revision=0, visit="", site="hillfoot", job="output-seal",
        registration="", start=datetime.fromisoformat(f"{start}+00:00"), start_wall=start, zone="Europe/London",
        state="authorised", priority="normal", bay="", technician="", facts={}, missing=False)
    week = ((Hours(6 * 60, 14 * 60),),) * 7
    told = [Statement("gearbox", "Tarnholt automated 12", TOLD)]
    return build(edition, Site("hillfoot", "Europe/London", week, (), (), (), "", ""), booking, told, edits)


def nuts(work: Work) -> tuple[str, ...]:
    [line] = [line for line in work.lines.lines if line.role == "propshaft-nuts"]
    return line.acceptable


def test_a_booking_goes_by_its_planned_day(edition: Edition) -> None:
    assert nuts(works(edition, "2026-02-28T13:00:00")) == ("PS-70130",)
    after = works(edition, "2026-03-01T06:00:00")
    assert nuts(after) == ("PS-70130", "PS-70131")
    assert {"PS-70130", "PS-70131"} <= items_of(edition, [after]).keys()
    # its kit, which is stored, is the same on both days
    assert after.kit == works(edition, "2026-02-28T13:00:00").kit


def test_a_number_chosen_by_hand_is_superseded_like_others(edition: Edition) -> None:
    by_hand = EditRow(booking=7, action="add", role="propshaft-nuts", item="PS-70130", amount=1000, unit="each",
                      who="A. Person", why="one rolled away", at=NOW)
    lines = works(edition, "2026-03-11T06:00:00", by_hand).lines.lines
    [added] = [line for line in lines if line.added]
    assert added.acceptable == ("PS-70130", "PS-70131")


def test_a_visit_over_the_day_of_change_shares_and_has_no_clash() -> None:
    def kit(booking: int, *acceptable: str) -> WorkKit:
        line = WorkLine(need="w:A", stage="fit", role="w", title="W", filler="A", name="W", amount=1000, unit="each",
                        sort="part", certainty="certain", finding=None, acceptable=acceptable, item="A", per_visit=True)
        return WorkKit(booking, (line,), ())

    shared, clashes = share_visit([kit(1, "A"), kit(2, "A", "B")])
    assert clashes == []
    assert [len(one.lines) for one in shared] == [1, 0]


# What sources are asked, and what is short


class Superseding:
    """An edition in which P-2 takes the place of P-1 from a day on."""

    def __init__(self, edition: object) -> None:
        self.item = edition.item  # type: ignore[attr-defined]
        self.supersessions = follow(("P-1", "P-2", DAY))


def test_sources_are_asked_for_the_new_number_too(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("1", "each", ["P-1"])])
    assert wanted_items(Superseding(edition), built, DAY) == (Wanted("P-1", "each"), Wanted("P-2", "each"))
    assert wanted_items(Superseding(edition), built, DAY - timedelta(days=1)) == (Wanted("P-1", "each"),)
    assert wanted_items(Superseding(edition), built) == (Wanted("P-1", "each"),)


def test_the_new_number_counts_once_the_old_one_is_used_up(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("3", "each", ["P-1"]), ("2", "each", ["P-2"])])
    answers = [answered([offer("P-1", 2000), offer("P-2", 2000)])]

    def shorts(day: date | None) -> list[object]:
        return [line.short for line in with_stock(Superseding(edition), built, answers, day).lines]

    # two of the old and one of the new leave one of the new for the second line
    assert shorts(DAY) == ["0", "1"]
    assert shorts(DAY - timedelta(days=1)) == shorts(None) == ["1", "0"]


def test_each_number_is_shown_and_the_kit_stays_as_it_was(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("3", "each", ["P-1"])])
    found = with_stock(Superseding(edition), built, [answered([offer("P-1", 2000), offer("P-2", 5000)])], DAY)
    [line] = found.lines
    assert [(row.item, row.quantity) for row in line.stock] == [("P-1", "2"), ("P-2", "5")]
    assert (line.acceptable, line.short) == (("P-1",), "0")
    assert not short_for_certain(found)
    bare = msgspec.structs.replace(line, stock=built.lines[0].stock, short=built.lines[0].short)
    assert msgspec.structs.replace(found, lines=(bare,)) == built


def test_a_source_that_failed_leaves_the_new_number_open_too(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("1", "each", ["P-1"])])
    [line] = with_stock(Superseding(edition), built, [answered([offer("P-1", 2000)]), FAILED], DAY).lines
    assert line.short is None
    assert [row.item for row in line.stock if row.state == "failed"] == ["P-1", "P-2"]


def test_a_new_number_that_cannot_be_told_leaves_it_open_what_is_short(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("3", "each", ["P-1"])])
    answers = [answered([offer("P-1", 2000)], unreadable={"P-2": "being counted"})]
    [line] = with_stock(Superseding(edition), built, answers, DAY).lines
    assert line.short is None
    [line] = with_stock(Superseding(edition), built, answers, DAY - timedelta(days=1)).lines
    assert line.short == "1"


def test_the_list_says_which_number_is_new(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("3", "each", ["P-1"])])
    built = with_stock(Superseding(edition), built, [answered([offer("P-1", 2000), offer("P-2", 5000)])], DAY)
    text = kit_text(built, "A job", [Stage(built.lines[0].stage, 10)], {}, {}, Paper(80), now=NOW)
    told = [line.strip() for line in text.splitlines() if "counter" in line]
    assert told == ["counter P-1: 2 there now", "counter P-2 (new number, the old one first): 5 there now"]
