"""What the demo catalogue holds."""

import csv
import re
from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.demo.supplier import PRICES
from kitbuilder.demo.workshop import demo_catalogue
from kitbuilder.kit.build import build_kit
from kitbuilder.proof.check import check_catalogue
from kitbuilder.vehicle.statements import REGISTER, TOLD, Statement


@pytest.fixture(scope="module")
def edition() -> Edition:
    return read_edition(demo_catalogue())


def test_it_is_large_enough_to_tell_something(edition: Edition) -> None:
    assert len(edition.heading.jobs) >= 12
    assert len(list(edition.items())) >= 120
    roles = [part.role for part in edition.roles()]
    assert sum(role.takes == "one" for role in roles) >= 0.7 * len(roles)


def test_it_has_the_facts_that_matter(edition: Edition) -> None:
    facts = {fact.name: fact for fact in edition.facts}
    assert {"emissions", "gearbox", "registered", "place"} <= facts.keys()
    assert (facts["place"].of, facts["gearbox"].of) == ("job", "vehicle")
    assert "light automated" in facts["gearbox"].groups
    assert len(facts["gearbox"].values) >= 5
    assert all(fact.question.endswith("?") and fact.where for fact in edition.facts)


def test_the_check_finds_no_problem(edition: Edition) -> None:
    found = check_catalogue(edition)
    assert found.jobs == len(edition.heading.jobs)
    assert found.problems == ()
    assert [one.text for one in found.remarks if one.kind != "unused item"] == []


def test_every_job_can_be_settled_and_is_complete_then(edition: Edition) -> None:
    for job, _, _ in edition.heading.jobs:
        said: list[Statement] = []
        kit = build_kit(edition, job)
        while kit.questions:
            # the first value of the best question, as often as it takes
            question = kit.questions[0]
            said.append(Statement(question.fact, question.answers[0].partition(" to ")[0], TOLD))
            kit = build_kit(edition, job, said)
        assert kit.complete, job
        assert any(line.certainty == "certain" for line in kit.lines), job


def beside(name: str) -> list[dict[str, str]]:
    with (demo_catalogue() / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def fleet() -> list[dict[str, str]]:
    return beside("fleet.csv")


@pytest.mark.parametrize("vehicle", fleet(), ids=lambda vehicle: vehicle["registration"])
def test_nothing_the_register_says_of_a_vehicle_is_set_aside(edition: Edition, vehicle: dict[str, str]) -> None:
    told = [Statement(fact, cell, REGISTER) for fact, cell in vehicle.items()
            if cell and fact not in ("registration", "vin", "note")]
    assert build_kit(edition, "clutch-replace", told).warnings == ()


def test_every_price_is_of_an_item_in_its_unit(edition: Edition) -> None:
    units = {item.number: item.unit for item in edition.items()}
    for name, least in (("shelf.csv", 100), ("prices-supplier.csv", 50), (PRICES, 20)):
        rows = beside(name)
        assert len(rows) > least
        assert [row["item"] for row in rows if units.get(row["item"]) != row["unit"]] == []


def test_the_shelf_has_a_bin_for_each_lot_and_sealant_past_its_date() -> None:
    rows = beside("shelf.csv")
    bins = [row["bin"] for row in rows]
    assert [one for one in bins if not re.fullmatch(r"[A-Z]-\d\d-\d-\d", one)] == []
    assert len(set(bins)) == len(bins)
    assert len({(row["item"], row["lot"]) for row in rows}) == len(rows)
    past = {row["item"] for row in rows if row["use_by"] and row["use_by"] < "2026-03-10"}
    good = {row["item"] for row in rows if row["use_by"] >= "2026-03-10"}
    assert past == {"CO-50220"} <= good


def test_the_old_number_and_the_new_one_are_on_the_shelf(edition: Edition) -> None:
    shelf = {row["item"] for row in beside("shelf.csv")}
    assert edition.supersessions
    for one in edition.supersessions.values():
        assert {one.old, one.new} <= shelf
        assert one.since is not None and one.since.isoformat() <= "2026-03-10"


def test_the_diary_has_a_dozen_bookings_over_three_days(edition: Edition) -> None:
    rows = beside("diary.csv")
    assert len(rows) == 12
    assert {row["start"][:10] for row in rows} == {"2026-03-11", "2026-03-12", "2026-03-13"}
    jobs = {name for name, _, _ in edition.heading.jobs}
    assert [row["job"] for row in rows if row["job"] not in jobs] == []
    vehicles = {vehicle["registration"] for vehicle in fleet()}
    assert [row["registration"] for row in rows if row["registration"] not in vehicles] == []
    assert [row["priority"] for row in rows].count("VOR") == 1
    visits = [row["visit"] for row in rows if row["visit"]]
    assert len(visits) == 2 and len(set(visits)) == 1
    assert any(part.role.per == "visit" for part in edition.roles())


def test_the_wholesaler_gives_something_to_choose_from() -> None:
    rows = beside(PRICES)
    assert len({row["slot"] for row in rows}) == 3
    for column in ("cut_off", "fee", "minimum", "packs", "deposit"):
        assert [row for row in rows if row[column] not in ("", "0")], column
    also = {row["item"] for row in beside("prices-supplier.csv")}
    assert len({row["item"] for row in rows} & also) >= 10


def test_nothing_in_it_claims_to_be_real() -> None:
    for path in (Path("facts.toml"), Path("catalogue.toml")):
        assert "invented" in (demo_catalogue() / path).read_text("utf-8")
    assert all(vehicle["registration"].startswith("DEMO ") for vehicle in fleet())
