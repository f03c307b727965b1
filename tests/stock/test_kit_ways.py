"""What sources have for a kit's lines where items take others' place together, and what is short then."""

from __future__ import annotations

from datetime import date

from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.model.catalogue import Item, Replacement, Stage
from kitbuilder.show.kit import kit_text
from kitbuilder.show.paper import Paper
from kitbuilder.stock.quoting import wanted_items, with_stock
from tests.stock.asking import NOW
from tests.stock.bench import wanting
from tests.stock.test_short import FAILED, answered, bench, offer  # noqa: F401  # a fixture

DAY = date(2026, 3, 10)
TWO = Replacement({"P-1": 1000}, {"P-2": 1000, "P-3": 2000}, "two", rows=(2, 3), note="the clip came off it")
WITHDRAWN = Replacement({"P-1": 1000}, {"P-2": 1000, "P-3": 2000}, "two", rows=(2, 3), rule="withdrawn")
ONE = Replacement({"P-1": 1000, "P-2": 1000}, {"P-3": 1000}, "one", rows=(2, 3))
MAKES = (Replacement({"P-1": 1000}, {"P-3": 1000}, "", "make", rows=(2,)),
         Replacement({"P-2": 1000}, {"P-4": 1000}, "", "make", rows=(3,)))


class Superseding:
    """The edition with items P-3 and P-4 as well, and some that take the place of others."""

    def __init__(self, edition: object, *told: Replacement) -> None:
        self._edition, self.supersessions = edition, Supersessions({}, told)

    def item(self, number: str) -> Item:
        return Item(number, f"item {number}", "each")

    def known_item(self, number: str) -> Item:
        return self.item(number)

    def known_role(self, name: str) -> None:
        return None


def shorts(edition: object, kit: object, told: tuple[Replacement, ...], lines: list[tuple[str, str]],
           **there: int) -> list[object]:
    built = wanting(kit, [(count, "each", [item]) for item, count in lines])
    offers = [offer(number.replace("_", "-"), count * 1000, unit="each") for number, count in there.items()]
    answers = [answered(offers)]
    return [line.short for line in with_stock(Superseding(edition, *told), built, answers, DAY).lines]  # type: ignore[arg-type]


def test_sources_are_asked_for_all_parts(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("1", "each", ["P-1"])])
    assert [one.item for one in wanted_items(Superseding(edition, TWO), built, DAY)] == ["P-1", "P-2", "P-3"]
    assert [one.item for one in wanted_items(Superseding(edition, WITHDRAWN), built, DAY)] == ["P-2", "P-3"]
    assert [one.item for one in wanted_items(Superseding(edition, TWO), built)] == ["P-1"]


def test_a_line_is_not_short_where_all_parts_of_the_new_are_there(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    assert shorts(edition, kit, (TWO,), [("P-1", "1")], P_1=1) == ["0"]
    assert shorts(edition, kit, (TWO,), [("P-1", "1")], P_2=1, P_3=2) == ["0"]
    assert shorts(edition, kit, (TWO,), [("P-1", "1")], P_2=1, P_3=1) == ["1"]
    # never some of each
    assert shorts(edition, kit, (TWO,), [("P-1", "2")], P_1=1, P_2=1, P_3=2) == ["1"]
    # the second line gets what the first leaves
    assert shorts(edition, kit, (TWO,), [("P-1", "1"), ("P-1", "1")], P_1=1, P_2=1, P_3=2) == ["0", "0"]
    assert shorts(edition, kit, (TWO,), [("P-1", "1"), ("P-3", "1")], P_2=1, P_3=2) == ["0", "1"]


def test_what_is_withdrawn_in_a_set_counts_no_more(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    assert shorts(edition, kit, (WITHDRAWN,), [("P-1", "3")], P_1=5) == ["3"]
    assert shorts(edition, kit, (WITHDRAWN,), [("P-1", "3")], P_2=3, P_3=6) == ["0"]


def test_one_stands_for_two_where_both_are_needed(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    assert shorts(edition, kit, (ONE,), [("P-1", "1"), ("P-2", "1")], P_1=1, P_3=1) == ["0", "0"]
    assert shorts(edition, kit, (ONE,), [("P-1", "1")], P_3=1) == ["1"]
    assert shorts(edition, kit, (ONE,), [("P-1", "1"), ("P-2", "1")], P_1=1) == ["0", "1"]


def test_both_are_of_one_make(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    both = [("P-1", "1"), ("P-2", "1")]
    assert shorts(edition, kit, MAKES, both, P_1=1, P_4=1) == ["0", "1"]
    assert shorts(edition, kit, MAKES, both, P_3=1, P_4=1) == ["0", "0"]
    assert shorts(edition, kit, MAKES, both, P_1=1, P_3=1, P_4=1) == ["0", "0"]


def test_the_list_says_why_and_shows_each_part(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("1", "each", ["P-1"])])
    answers = [answered([offer("P-1", 2000), offer("P-3", 5000, unit="each")])]
    found = with_stock(Superseding(edition, TWO), built, answers, DAY)
    [line] = found.lines
    assert line.superseded == ("P-1 is superseded by P-2 and 2 P-3: the clip came off it",)
    text = kit_text(found, "A job", [Stage(line.stage, 10)], {}, {}, Paper(80), now=NOW)
    told = [one.strip() for one in text.splitlines()]
    assert "P-1 is superseded by P-2 and 2 P-3: the clip came off it" in told
    assert [one for one in told if "counter" in one] == [
        "counter P-1: 2 there now", "counter P-3 (see above): 5 there now"]


def test_a_source_that_failed_leaves_the_new_ones_open_too(bench) -> None:  # type: ignore[no-untyped-def]  # noqa: F811
    edition, kit = bench
    built = wanting(kit, [("1", "each", ["P-1"])])
    [line] = with_stock(Superseding(edition, TWO), built, [answered([offer("P-1", 2000)]), FAILED], DAY).lines
    assert line.short is None
    assert [row.item for row in line.stock if row.state == "failed"] == ["P-1", "P-2", "P-3"]
