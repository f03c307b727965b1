"""A booking's lines where items take others' place together: the ways, the needs, and the one that is taken."""

from __future__ import annotations

from datetime import UTC, date, datetime

from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item, Replacement, Supersession
from kitbuilder.model.plan import Need
from kitbuilder.model.work import WorkKit, WorkLine
from kitbuilder.stock.supersede import as_taken, in_any_way, successors, superseded
from kitbuilder.stock.ways import with_ways_settled
from kitbuilder.workshop.needs import needs_of, reserves_of

DAY = date(2026, 3, 10)
START = datetime(2026, 3, 11, 6, 0, tzinfo=UTC)
TOLD = Supersessions({}, (
    Replacement({"A": 1000}, {"B": 1000, "C": 2000}, "s", note="the clips were part of it", rows=(2, 3)),
    Replacement({"P": 1000}, {"Q": 1000}, "", "make", rows=(4,)),
    Replacement({"R": 1000}, {"S": 1000}, "", "make", rows=(5,))))


def line(need: str, *acceptable: str, stage: str = "fit", amount: int = 1000, **more: object) -> WorkLine:
    return WorkLine(need=need, stage=stage, role=need, title=need.upper(), filler=acceptable[0], name=need,  # type: ignore[arg-type]
                    amount=amount, unit="each", sort="part", certainty="certain", finding=more.pop("finding", None),  # type: ignore[arg-type]
                    acceptable=acceptable, item=acceptable[0], **more)


def item(number: str) -> Item | None:
    return Item(number, f"item {number}", "each")


def kit(*lines: WorkLine, reserves: tuple[WorkLine, ...] = (), extras: tuple[WorkLine, ...] = ()) -> WorkKit:
    return superseded(WorkKit(7, lines, (), extras, reserves), TOLD, DAY, item, ["strip", "fit"])


def booking() -> Booking:
    return Booking(number=7, diary="d", id="B", recurrence="", revision=0, visit="", site="s", job="j",
                   registration="", start=START, start_wall="2026-03-11T06:00:00", zone="UTC", state="authorised",
                   priority="normal", bay="", technician="", facts={}, missing=False)


def needs(of: WorkKit) -> list[Need]:
    return needs_of(booking(), of, {"strip": START, "fit": START}, {})


def test_the_old_line_stands_among_the_lines_and_the_new_ones_instead() -> None:
    found = kit(line("pipe", "A"), line("other", "X"))
    assert [(one.need, one.acceptable, one.ways) for one in found.lines] == [
        ("pipe", ("A",), (0,)), ("other", ("X",), ())]
    assert [(one.need, one.acceptable, one.amount, one.ways, one.name) for one in found.instead] == [
        ("pipe>B", ("B",), 1000, (1,), "item B"), ("pipe>C", ("C",), 2000, (1,), "item C")]
    assert {one.because for one in found.instead} == {("A is superseded by B and 2 C: the clips were part of it",)}


def test_needs_are_those_of_all_ways_in_an_order_of_their_own() -> None:
    found = kit(line("pipe", "A"), line("other", "X"))
    assert [(one.name, one.binding, one.ways) for one in needs(found)] == [
        ("7/other", "", ()), ("7/pipe", "pipe", (0,)), ("7/pipe>B", "pipe", (1,)), ("7/pipe>C", "pipe", (1,))]
    assert needs(as_taken(found, {"pipe>B"})) == needs(found)


def test_what_is_held_says_which_way_is_taken() -> None:
    found = kit(line("pipe", "A"), line("other", "X"))
    assert as_taken(found, set()) == as_taken(found, {"pipe"}) == found
    new = as_taken(found, {"pipe>C"})
    assert [one.need for one in new.lines] == ["pipe>B", "pipe>C", "other"]
    assert [one.need for one in new.instead] == ["pipe"]
    assert as_taken(new, {"pipe"}) == found
    assert [one.need for one in new.must_be_there] == ["pipe>B", "pipe>C", "other"]


def test_both_pipes_of_one_make_are_bound_together() -> None:
    found = kit(line("left", "P", stage="fit"), line("right", "R", stage="strip"))
    assert [(one.name, one.binding, one.ways) for one in needs(found)] == [
        ("7/left", "left", (0,)), ("7/right", "left", (0,)), ("7/left>Q", "left", (1,)), ("7/right>S", "left", (1,))]
    assert [(one.need, one.stage) for one in as_taken(found, {"left>Q"}).lines] == [
        ("left>Q", "fit"), ("right>S", "strip")]


def test_what_stands_for_several_lines_is_wanted_at_the_earliest() -> None:
    told = Supersessions({}, (Replacement({"A": 1000, "B": 1000}, {"C": 1000}, "s", rows=(2, 3)),))
    lines = (line("one", "A", stage="fit"), line("two", "B", stage="strip"))
    found = superseded(WorkKit(7, lines, ()), told, DAY, item, ["strip", "fit"])
    [new] = found.instead
    assert (new.need, new.stage, new.title, new.because) == (
        "one>C", "strip", "ONE and TWO", ("A and B are superseded by C",))
    assert [one.need for one in as_taken(found, {"one>C"}).lines] == ["one>C"]


def test_what_is_withdrawn_leaves_the_new_ones_alone() -> None:
    told = Supersessions({}, (Replacement({"A": 1000}, {"B": 1000, "C": 1000}, "s", rule="withdrawn", rows=(2, 3)),))
    found = superseded(WorkKit(7, (line("pipe", "A"),), ()), told, DAY, item, ["fit"])
    assert [(one.need, one.binding) for one in found.lines] == [("pipe>B", ""), ("pipe>C", "")]
    assert found.instead == ()


def test_a_line_that_waits_for_a_finding_goes_with_nothing() -> None:
    found = kit(line("pipe", "A", finding="rounded"))
    assert (found.lines[0].acceptable, found.instead) == (("A",), ())


def test_what_open_questions_take_goes_the_same_way() -> None:
    found = kit(line("left", "P"), reserves=(line("?R", "R"),))
    assert [(one.name, one.binding, one.ways) for one in reserves_of(booking(), found, {"fit": START}, {})] == [
        ("7/?R", "left", (0,)), ("7/?R>S", "left", (1,))]
    new = as_taken(found, {"left>Q"})
    assert ([one.need for one in new.lines], [one.need for one in new.reserves]) == (["left>Q"], ["?R>S"])
    every = [*needs(found), *reserves_of(booking(), found, {"fit": START}, {})]
    left = with_ways_settled(every, {"7/left>Q"})
    assert [(one.name, one.binding) for one in left] == [("7/left>Q", ""), ("7/?R>S", "")]


def test_what_is_picked_or_ordered_of_one_way_rules_the_others_out() -> None:
    every = needs(kit(line("pipe", "A"), line("other", "X")))
    assert [one.name for one in with_ways_settled(every, ())] == ["7/other", "7/pipe", "7/pipe>B", "7/pipe>C"]
    assert [one.name for one in with_ways_settled(every, {"7/pipe>B"})] == ["7/other", "7/pipe>B", "7/pipe>C"]
    assert [one.name for one in with_ways_settled(every, {"7/pipe"})] == ["7/other", "7/pipe"]
    assert all(not one.binding for one in with_ways_settled(every, {"7/pipe"}))


def test_one_for_one_stays_as_it_was_beside_it() -> None:
    told = Supersessions({"X": Supersession("X", "Y")}, TOLD.together)
    found = superseded(WorkKit(7, (line("other", "X"), line("pipe", "A")), ()), told, DAY, item, ["fit"])
    assert [one.acceptable for one in found.lines] == [("X", "Y"), ("A",)]
    assert [one.need for one in in_any_way(found, reserved=False)] == ["other", "pipe", "pipe>B", "pipe>C"]


def test_what_only_waits_may_be_either_of_a_group() -> None:
    assert kit(line("left", "P", finding="rounded")).lines[0].acceptable == ("P", "Q")


def test_what_only_waits_and_is_withdrawn_says_what_stands_for_it() -> None:
    told = Supersessions({}, (Replacement({"A": 1000}, {"B": 1000, "C": 1000}, "s", rule="withdrawn", rows=(2, 3)),))
    [found] = superseded(WorkKit(7, (line("pipe", "A", finding="rounded"),), ()), told, DAY, item, ["fit"]).lines
    assert (found.acceptable, found.because) == ((), ("A is superseded by B and C",))
    assert successors(["A", "X"], told, DAY) == ("X",)
