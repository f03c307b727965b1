"""The ways to fill lines where items take others' place together, by hand and against a plain search."""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.catalogue.together import Ask, Choice, choices, sentence
from kitbuilder.model.catalogue import Replacement, Supersession

DAY = date(2026, 3, 10)


def many(**counts: float) -> dict[str, int]:
    return {number: round(count * 1000) for number, count in counts.items()}


def one_set(olds: dict[str, int], news: dict[str, int], rule: str = "used up first", **more: object) -> Replacement:
    return Replacement(olds, news, more.pop("set", "s"), rule=rule, **more)  # type: ignore[arg-type]


def pair(old: str, new: str, group: str = "make", rule: str = "used up first", **more: object) -> Replacement:
    return Replacement(many(**{old: 1}), many(**{new: 1}), "", group, rule=rule, **more)  # type: ignore[arg-type]


def ways(told: list[Replacement], *asked: str | tuple[str, ...] | tuple[str, float], day: date = DAY,
         alone: dict[str, Supersession] | None = None, units: dict[str, str] | None = None) -> list[list[list[str]]]:
    """Of each choice its ways; a way as `items x amount` for each part."""
    return [shown(one) for one in found(told, *asked, day=day, alone=alone, units=units)]


def found(told: list[Replacement], *asked: str | tuple[str, ...] | tuple[str, float], day: date = DAY,
          alone: dict[str, Supersession] | None = None, units: dict[str, str] | None = None) -> list[Choice]:
    asks = []
    for number, one in enumerate(asked):
        items, count = (one, 1) if isinstance(one, str) else one if isinstance(one[1], (int, float)) else (one, 1)
        names = (items,) if isinstance(items, str) else items
        asks.append(Ask(f"n{number}", names, round(count * 1000), (units or {}).get(names[0], "each")))
    return choices(asks, Supersessions(alone or {}, tuple(told)), day, lambda item: (units or {}).get(item, "each"))


def shown(choice: Choice) -> list[list[str]]:
    every = sorted({way for part in choice.parts for way in part.ways})
    assert every == list(range(len(every)))
    return [sorted(f"{' or '.join(part.acceptable)} x {Fraction(part.quantity, 1000)}"
                   for part in choice.parts if way in part.ways) for way in every]


def test_one_is_several_now() -> None:
    told = [one_set(many(A=1), many(B=1, C=2))]
    assert ways(told, "A", "X") == [[["A x 1"], ["B x 1", "C x 2"]]]
    assert ways(told, ("A", 3)) == [[["A x 3"], ["B x 3", "C x 6"]]]
    # lines that nothing binds choose each for itself
    assert len(found(told, "A", "A")) == 2
    assert ways(told, "B", "C") == []


def test_there_are_enough_of_a_set_to_cover_what_is_asked_for() -> None:
    told = [one_set(many(A=2), many(B=1, C=1))]
    assert ways(told, ("A", 3)) == [[["A x 3"], ["B x 2", "C x 2"]]]
    assert ways([one_set(many(A=1), many(B=0.75))], ("A", 3), units={"A": "L", "B": "L"}) == [[["A x 3"], ["B x 9/4"]]]
    # half a litre of the old one is a whole tin of the new
    assert ways([one_set(many(A=1), many(B=1))], ("A", 0.5), units={"A": "L"}) == [[["A x 1/2"], ["B x 1"]]]


def test_several_are_one_now_where_all_of_them_are_needed() -> None:
    told = [one_set(many(A=1, B=1), many(C=1))]
    assert ways(told, "A", "B", "X") == [[["A x 1", "B x 1"], ["C x 1"]]]
    assert ways(told, "A", "A", "B") == [[["A x 1", "A x 1", "B x 1"], ["C x 2"]]]
    assert ways(told, "A") == ways(told, "B", "X") == []
    # unless the catalogue says that it stands for one alone, too
    [choice] = found(told, "A", "B", alone={"A": Supersession("A", "C")})
    assert [part.acceptable for part in choice.parts if 0 in part.ways] == [("A", "C"), ("B",)]


def test_a_line_in_a_circuit_is_never_made_of_a_set() -> None:
    told = Supersessions({}, (one_set(many(A=1), many(B=1, C=1)),))
    assert choices([Ask("n", ("A",), 1000, "L", single=True)], told, DAY, lambda _: "L") == []


def test_a_group_is_old_or_new_as_a_whole() -> None:
    told = [pair("A", "B"), pair("C", "D")]
    assert ways(told, "A", "C") == [[["A x 1", "C x 1"], ["B x 1", "D x 1"]]]
    assert ways(told, "A") == [[["A x 1"], ["B x 1"]]]
    # who asks for the new one of one pipe takes the new one of the other
    assert ways(told, "A", "D") == [[["B x 1", "D x 1"]]]
    assert ways(told, "B", "D") == []
    # a requirement that either make satisfies is filled from the make of the others
    assert ways(told, "A", ("D", "C")) == [[["A x 1", "C x 1"], ["B x 1", "D x 1"]]]


def test_a_group_may_go_both_ways() -> None:
    told = [pair("A", "B", rule="two-way"), pair("C", "D", rule="two-way")]
    assert ways(told, "B", "D") == [[["B x 1", "D x 1"], ["A x 1", "C x 1"]]]
    assert ways(told, "A", "D") == [[["A x 1", "C x 1"], ["B x 1", "D x 1"]]]


def test_a_set_may_be_of_a_group_and_go_both_ways() -> None:
    told = [pair("A", "B", rule="two-way"), one_set(many(C=1), many(D=1, E=1), rule="two-way", group="make")]
    assert ways(told, "A", "C") == [[["A x 1", "C x 1"], ["B x 1", "D x 1", "E x 1"]]]
    assert ways(told, "B", "D", "E") == [[["B x 1", "D x 1", "E x 1"], ["A x 1", "C x 1"]]]


def test_what_is_withdrawn_is_no_way() -> None:
    assert ways([one_set(many(A=1), many(B=1, C=1), rule="withdrawn")], "A") == [[["B x 1", "C x 1"]]]
    assert ways([pair("A", "B", rule="withdrawn"), pair("C", "D", rule="withdrawn")], "A", "C") == [
        [["B x 1", "D x 1"]]]
    gone = {"B": Supersession("B", "", rule="withdrawn")}
    assert ways([one_set(many(A=1), many(B=1, C=1))], "A", alone=gone) == []


def test_it_holds_from_its_day_on() -> None:
    told = [one_set(many(A=1), many(B=1, C=1), since=DAY)]
    assert ways(told, "A", day=DAY - timedelta(days=1)) == []
    assert ways(told, "A", day=DAY) == [[["A x 1"], ["B x 1", "C x 1"]]]


def test_chains_go_on_through_sets() -> None:
    told = [one_set(many(A=1), many(B=1, C=1), set="s"), one_set(many(B=1), many(D=1, E=1), set="t")]
    assert ways(told, "A") == [[["A x 1"], ["B x 1", "C x 1"], ["C x 1", "D x 1", "E x 1"]]]
    alone = {"P": Supersession("P", "A"), "B": Supersession("B", "B2")}
    assert ways(told[:1], "P", alone=alone) == [[["P or A x 1"], ["B or B2 x 1", "C x 1"]]]


def test_a_circle_of_sets_ends() -> None:
    told = [one_set(many(A=1), many(B=1, C=1), set="s"), one_set(many(B=1), many(A=1), set="t")]
    assert ["A x 1"] in ways(told, "A")[0]


def test_it_says_why() -> None:
    [choice] = found([one_set(many(A=1), many(B=1, C=2), note="the clip was part of it")], "A")
    assert {part.because for part in choice.parts if part.ways == (1,)} == {
        ("A is superseded by B and 2 C: the clip was part of it",)}
    assert sentence(one_set(many(A=1, B=1), many(C=1))) == "A and B are superseded by C"


NUMBERS = st.sampled_from("ABCDEF")


@st.composite
def tables(draw: st.DrawFn) -> list[Replacement]:
    told: list[Replacement] = []
    for number in range(draw(st.integers(1, 3))):
        items = draw(st.permutations("ABCDEF"))
        olds, news = draw(st.sampled_from(((1, 2), (2, 1), (1, 1), (2, 2))))
        told.append(one_set(
            {item: draw(st.sampled_from((1000, 2000))) for item in items[:olds]},
            {item: draw(st.sampled_from((1000, 2000))) for item in items[olds:olds + news]}, set=f"s{number}",
            rule=draw(st.sampled_from(("used up first", "used up first", "withdrawn", "two-way")))))
    return told


@settings(max_examples=200, deadline=None)
@given(tables(), st.lists(st.tuples(NUMBERS, st.sampled_from((1, 2, 3))), min_size=1, max_size=3))
def test_every_way_follows_from_the_lines_set_by_set(told: list[Replacement], asked: list[tuple[str, int]]) -> None:
    """The brute: rewrite what is asked for as a bag of amounts, by every set that fits, in every order."""
    start = tuple(sorted((item, Fraction(count)) for item, count in asked))
    steps = [(one.olds, one.news) for one in told]
    steps += [(one.news, one.olds) for one in told if one.rule == "two-way"]
    seen, left = {start}, [start]
    while left and len(seen) < 400:
        bag = left.pop()
        for olds, news in steps:
            if not all(any(item == old for item, _ in bag) for old in olds):
                continue
            # any of the lines of an item may go, of each old one at least one
            mine = [at for at, (item, _) in enumerate(bag) if item in olds]
            for size in range(1, len(mine) + 1):
                for gone in itertools.combinations(mine, size):
                    if {bag[at][0] for at in gone} != set(olds):
                        continue
                    times = max(sum(bag[at][1] for at in gone if bag[at][0] == old) * 1000 / milli
                                for old, milli in olds.items())
                    made = [(new, Fraction(-(-milli * times // 1000))) for new, milli in news.items()]
                    after = tuple(sorted([*(one for at, one in enumerate(bag) if at not in gone), *made]))
                    if after not in seen and len(after) < 7:
                        seen.add(after)
                        left.append(after)
    withdrawn = {old for one in told if one.rule == "withdrawn" for old in one.olds}
    bags = {bag for bag in seen if not withdrawn & {item for item, _ in bag}}
    chosen = found(told, *((item, count) for item, count in asked))
    names = [ask for choice in chosen for ask in choice.of]
    assert len(set(names)) == len(names)
    rest = [one for number, one in enumerate(asked) if f"n{number}" not in names]
    complete = len(seen) < 400
    for combined in itertools.product(*(
            [(choice, way) for way in sorted({way for part in choice.parts for way in part.ways})]
            for choice in chosen)):
        bag = [(item, Fraction(count)) for item, count in rest]
        for choice, way in combined:
            bag += [(part.acceptable[0] if part.acceptable else "gone", Fraction(part.quantity, 1000))
                    for part in choice.parts if way in part.ways]
        items = {item for item, _ in bag}
        if complete and len(bag) < 7 and not items & {"gone", *withdrawn}:
            assert tuple(sorted(bag)) in bags
    # where something can be used, no line is left with nothing
    if bags and complete and not withdrawn & {item for item, _ in rest}:
        assert all(part.acceptable for choice in chosen for part in choice.parts) or any(
            len(choice.of) > 1 for choice in chosen)
