"""The demo catalogue's emissions by date of registration, against the EU's dates of eu_emissions_dates.py.

The demo widens what the law says by early adopters and end-of-series vehicles; each such row says
"common practice, no source" of itself, and the checks here hold it apart from the rows that name an act.
"""

import csv
import shutil
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.build import build_kit
from kitbuilder.vehicle.statements import Statement
from tests.outside.eu_emissions_dates import EEV_VOLUNTARY, END_OF_SERIES, GENERATIONS, LOWEST_AT_REGISTRATION

DEMO = Path(__file__).resolve().parents[2] / "demo_catalog"
SHEET = "combinations/emissions-dates.csv"
NO_SOURCE = "common practice, no source"
DAY = timedelta(days=1)
LADDER = [generation.name for generation in GENERATIONS]


def rows() -> list[dict[str, str]]:
    """The sheet's rows."""
    with open(DEMO / SHEET, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def legal() -> list[dict[str, str]]:
    """The rows that rest on an act."""
    return [row for row in rows() if not row["note"].endswith(NO_SOURCE)]


def ends(row: dict[str, str]) -> tuple[date, date]:
    """The first and the last day of a row."""
    first, last = row["registered"].split(" to ")
    return date.fromisoformat(first), date.fromisoformat(last)


def in_words(day: date) -> str:
    """A day as the notes write it: 1 October 2000."""
    return f"{day.day} {day:%B} {day.year}"


@pytest.fixture(scope="module")
def emissions():
    """The emissions that are open in the demo for a day of registration."""
    return opener(read_edition(DEMO))


@pytest.fixture(scope="module")
def emissions_by_law(tmp_path_factory):
    """The same in a copy whose sheet has only the rows that rest on an act."""
    folder = tmp_path_factory.mktemp("by-law") / "catalogue"
    shutil.copytree(DEMO, folder)
    with open(folder / SHEET, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows()[0]))
        writer.writeheader()
        writer.writerows(legal())
    return opener(read_edition(folder))


def opener(edition):
    """A function from a day of registration to the emissions that a kit still has open."""
    def opened(day: date) -> set[str]:
        kit = build_kit(edition, "exhaust-joint-renew", [Statement("registered", day.isoformat(), "told")])
        (values,) = [known.values for known in kit.facts if known.fact == "emissions"]
        return set(values)
    return opened


def test_every_row_names_an_act_or_says_that_it_has_no_source():
    acts = [generation.act.split(",")[0] for generation in GENERATIONS]
    for row in rows():
        named = [act for act in acts if row["note"].startswith(act)]
        assert bool(named) != row["note"].endswith(NO_SOURCE), row["note"]


@pytest.mark.parametrize("place", range(len(GENERATIONS)), ids=LADDER)
def test_the_rows_of_an_act_have_exactly_its_dates(place):
    generation = GENERATIONS[place]
    act = generation.act.split(", row")[0].replace(", Art. ", ", Article ")
    found = {row["note"]: ends(row) for row in legal() if row["emissions"] == generation.name}
    last = GENERATIONS[place + 1].all_new - DAY if place + 1 < len(GENERATIONS) else date(2030, 12, 31)
    assert found == {
        f"{act}: new types from {in_words(generation.new_types)}": (generation.new_types, generation.all_new - DAY),
        f"{act}: all new registrations from {in_words(generation.all_new)}": (generation.all_new, last),
    }


def test_eev_is_told_to_be_voluntary_and_stands_beside_euro_iv_and_v():
    (row,) = [row for row in legal() if row["emissions"] == EEV_VOLUNTARY]
    assert "Article 1(c): voluntary" in row["note"] and "no date of its own" in row["note"]
    of = {generation.name: generation for generation in GENERATIONS}
    assert ends(row) == (of["Euro IV"].new_types, of["Euro VI"].all_new - DAY)


@pytest.mark.parametrize(("day", "lowest"), LOWEST_AT_REGISTRATION)
def test_by_law_alone_the_lowest_generation_of_a_day_is_the_published_one(emissions_by_law, day, lowest):
    assert min(LADDER.index(name) for name in emissions_by_law(day) - {EEV_VOLUNTARY}) == LADDER.index(lowest)


@pytest.mark.parametrize("generation", GENERATIONS, ids=LADDER)
def test_by_law_alone_a_generation_begins_with_the_day_of_its_new_types(emissions_by_law, generation):
    assert generation.name in emissions_by_law(generation.new_types)
    assert generation.name in emissions_by_law(generation.all_new)
    if generation.new_types > date(2000, 10, 1):  # with which the demo's days begin
        assert generation.name not in emissions_by_law(generation.new_types - DAY)


@pytest.mark.parametrize(("before", "after"), list(pairwise(GENERATIONS)), ids=LADDER[1:])
def test_by_law_alone_the_one_before_ends_the_day_before_all_new_ones(emissions_by_law, before, after):
    assert before.name in emissions_by_law(after.all_new - DAY)
    assert before.name not in emissions_by_law(after.all_new)


def test_euro_vi_is_the_only_one_by_law_from_31_december_2013(emissions_by_law):
    assert emissions_by_law(date(2013, 12, 30)) == {"Euro V", "EEV", "Euro VI"}
    assert emissions_by_law(date(2013, 12, 31)) == {"Euro VI"}
    assert emissions_by_law(date(2014, 1, 1)) == {"Euro VI"}


def test_in_the_demo_only_end_of_series_vehicles_are_below_euro_vi_from_that_day(emissions):
    day, (last, name) = date(2013, 12, 31), END_OF_SERIES[0]
    assert name in emissions(last) and emissions(last + DAY) == {"Euro VI"}
    for at in (day, day + DAY, date(2014, 6, 30), last, last + DAY, date(2030, 12, 31)):
        late = {row["emissions"] for row in rows() if row["note"].startswith("End of series") and covers(row, at)}
        assert emissions(at) == {"Euro VI"} | late
    assert emissions(day) == {"Euro V", "EEV", "Euro VI"}


def test_in_the_demo_euro_v_is_open_on_30_december_2013_by_law(emissions):
    day = date(2013, 12, 30)
    assert {row["emissions"] for row in legal() if covers(row, day)} == {"Euro V", "EEV", "Euro VI"}
    assert emissions(day) == {"Euro V", "EEV", "Euro VI"}


def test_the_demo_widens_the_law_and_never_narrows_it(emissions, emissions_by_law):
    days = {end + step for row in rows() for end in ends(row) for step in (-DAY, timedelta(), DAY)}
    widened = 0
    for day in sorted(day for day in days if date(2000, 10, 1) <= day <= date(2030, 12, 31)):
        wide, law = emissions(day), emissions_by_law(day)
        assert law <= wide
        extra = {row["emissions"] for row in rows() if row not in legal() and covers(row, day)}
        assert wide == law | extra
        widened += wide != law
    assert widened


def covers(row: dict[str, str], day: date) -> bool:
    """Whether the day is one of the row's."""
    first, last = ends(row)
    return first <= day <= last
