"""The customer's choice sheet: what it shows, and what can't get onto it."""

import re
import string
from datetime import datetime
from html.parser import HTMLParser
from typing import Any, get_args, get_type_hints

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.model.options import ChoiceSheet, Cost, Options, StripDown, Waits, Way
from kitbuilder.show.choice_sheet import sheet_html, sheet_text
from kitbuilder.stock.quoting import Answer
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.asked import Asked
from kitbuilder.workshop.charges import Charges
from kitbuilder.workshop.options import choice_sheet, compare
from tests.workshop.options_files import CHARGES, START, WHEN, at, edition_in

LIGHT = Statement("gearbox", "light", TOLD)


@pytest.fixture(scope="module")
def edition(tmp_path_factory: pytest.TempPathFactory) -> Edition:
    return edition_in(tmp_path_factory.mktemp("ways"))


def sheet_of(edition: Edition, *told: Statement, charges: Charges = CHARGES, asked: Asked | None = None) -> ChoiceSheet:
    return choice_sheet(compare(edition, "new", told, charges, WHEN, asked), charges, "DEMO 001", START, WHEN)


def words(text: str) -> str:
    return " ".join(text.split())


def reached(kind: Any, found: set[type]) -> set[type]:
    """All value types that a type may hold, at any depth."""
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct) and kind not in found:
        found.add(kind)
        for hint in get_type_hints(kind).values():
            reached(hint, found)
    for inner in get_args(kind):
        reached(inner, found)
    return found


def test_no_value_that_the_sheet_is_drawn_from_can_hold_a_cost_a_source_or_a_bin() -> None:
    held = reached(ChoiceSheet, set())
    assert {kind.__name__ for kind in held} == {
        "ChoiceSheet", "Choice", "Sums", "Span", "ChargedPart", "ChargedStage", "DepositDue", "MayTurnOut", "Advised"}
    names = {field.name for kind in held for field in msgspec.structs.fields(kind)}
    assert names & {"cost", "costs", "source", "sources", "supplier", "stock", "bin", "lot", "waits", "why"} == set()


def test_the_house_s_own_values_do_hold_them() -> None:
    assert {Way, Cost, Waits, StripDown} <= reached(Options, set())


def offered(name: str, slot: str, prices: dict[str, int], ready: datetime) -> Answer:
    units = {"S-1": "set", "O-1": "L", "O-2": "L"}
    return Answer(name, (), "fresh", Quote(
        as_of=START, currency="EUR", slots=(Slot(name=slot, ready=ready),), offers=tuple(
            Offer(item=item, unit=units.get(item, "each"), pool=None, lot=f"{slot}-lot", arrivals=(
                Arrival(slot=slot, sureness="promised", prices=(Price(minor=minor, per=1000),)),))
            for item, minor in prices.items())), 0, None)


ITEMS = ("U-1", "U-9", "S-1", "M-1", "O-1", "H-1", "H-2", "C-1", "F-1")
NAMES = st.text(string.ascii_letters, min_size=3, max_size=8).map(lambda name: f"{name}-Quellhorst")


@settings(deadline=None, max_examples=60)
@given(supplier=NAMES, slot=NAMES, minor=st.fixed_dictionaries({item: st.integers(1, 10**7) for item in ITEMS}))
def test_the_sheet_is_the_same_whatever_the_house_pays_and_whoever_it_buys_from(
        edition: Edition, supplier: str, slot: str, minor: dict[str, int]) -> None:
    plain = Asked([offered("van", "noon", dict.fromkeys(ITEMS, 100), at(12))], START)
    asked = Asked([offered(supplier, slot, minor, at(12))], START, cost=True)
    # the house's own answer does change
    assert compare(edition, "new", (LIGHT,), CHARGES, WHEN, asked).ways[0].cost
    for draw in (sheet_text, sheet_html):
        drawn = draw(sheet_of(edition, LIGHT, asked=asked))
        assert drawn == draw(sheet_of(edition, LIGHT, asked=plain))
        assert "Quellhorst" not in drawn


def test_the_sheet_shows_prices_tax_deposits_and_what_may_turn_out(edition: Edition) -> None:
    told = words(sheet_text(sheet_of(edition, LIGHT, Statement("place", "workshop", TOLD))))
    for said in (
            "There are 3 ways to a working unit.", "Vehicle: DEMO 001", "Date: Tue 13 Jan 2026", "Prices in: EUR",
            "Choice 2: Exchange the unit", "1 × Unit, light, exchange 1000.00",
            "Small parts, fluids and materials 14.80 to 18.50", "Labour, 135 minutes planned 202.50",
            "Without tax 1219.30 to 1224.50", "Tax, 20 % 243.86 to 244.90", "TOTAL WITH TAX 1463.16 to 1469.40",
            "250.00 for Unit, light, exchange: paid back if your old unit, like for like, is back by Thu 12 Feb 2026, "
            "drained and boxed",
            "Unit beyond repair, chance 20 %: 1283.40 to 1285.20 more. It then becomes: Exchange the unit.",
            "With each counted by its chance, the total is 838.80 to 843.24 on average.",
            "[ ] Filter: 30.00", "it is not in the total - Unit, new", "[ ] We choose this.",
            "at the earliest Tue 13 Jan 2026 10:15 if all parts are there",
            "A deposit carries no tax unless it is kept",
            "Not included: deposits, what may turn out", "The maker's instructions, local codes and licensed practice",
            "Name ___", "Date ___", "Signature ___"):
        assert said in told, said


def test_with_stock_asked_the_finish_is_said_without_an_if(edition: Edition) -> None:
    asked = Asked([offered("van", "noon", dict.fromkeys(ITEMS, 100), at(12))], START)
    told = words(sheet_text(sheet_of(edition, LIGHT, asked=asked)))
    assert "at the earliest Tue 13 Jan 2026 13:15" in told
    assert "if all parts are there" not in told


def test_a_finish_that_is_not_known_is_said_to_be_so(edition: Edition) -> None:
    told = words(sheet_text(sheet_of(edition, LIGHT, asked=Asked([], START))))
    assert told.count("not known yet; please ask us") == 3


def test_open_facts_are_why_there_are_two_figures(edition: Edition) -> None:
    assert "the price still hangs on what we don't know yet: gearbox and place" in words(sheet_text(sheet_of(edition)))


def test_deposits_taxed_at_once_say_so(edition: Edition) -> None:
    told = words(sheet_text(sheet_of(edition, LIGHT, charges=Charges(9000, "20", "at once"))))
    assert "250.00 and 50.00 tax on it for Unit, light, exchange" in told
    assert "Deposits carry tax, which is paid back with them." in told


def test_the_text_fits_eighty_columns(edition: Edition) -> None:
    lines = sheet_text(sheet_of(edition)).splitlines()
    assert [line for line in lines if len(line) > 80] == []


def test_a_long_name_leaves_the_figure_at_the_edge(edition: Edition) -> None:
    sheet = sheet_of(edition, LIGHT)
    (unit,) = [part for part in sheet.choices[1].parts if part.role == "unit"]
    choice = msgspec.structs.replace(
        sheet.choices[1], parts=(msgspec.structs.replace(unit, name="Unit " * 30),))
    lines = sheet_text(msgspec.structs.replace(sheet, choices=(choice,))).splitlines()
    assert [line for line in lines if len(line) > 80] == []
    assert [line for line in lines if line.startswith("1 × Unit") and line.endswith("  1000.00") and len(line) == 80]


class Page(HTMLParser):
    """The words of a page; every element must be closed in turn."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert not {name for name, _ in attrs} & {"src", "href", "onclick", "action"}
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)


def page(text: str) -> Page:
    read = Page()
    read.feed(text)
    assert read.open == []
    return read


def test_the_page_says_what_the_text_says(edition: Edition) -> None:
    sheet = sheet_of(edition)
    shown = words(" ".join(page(sheet_html(sheet)).words))
    figures = re.findall(r"\d+\.\d\d", sheet_text(sheet))
    assert figures
    assert re.findall(r"\d+\.\d\d", shown) == figures
    assert "Choice 1: Repair the unit" in shown


def test_the_page_needs_nothing_beside_it(edition: Edition) -> None:
    text = sheet_html(sheet_of(edition))
    assert {"script", "link", "img", "iframe"} & set(page(text).tags) == set()
    assert "url(" not in text
    assert "@import" not in text


def test_what_the_catalogue_says_can_t_become_markup(edition: Edition) -> None:
    sheet = msgspec.structs.replace(sheet_of(edition), goal="<script>x()</script>", vehicle='"><b>')
    read = page(sheet_html(sheet))
    assert "script" not in read.tags
    assert "b" not in read.tags
    assert '"><b>' in read.words
