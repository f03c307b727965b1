"""What the demo catalogue holds."""

import csv
from pathlib import Path

import pytest

from kitbuilder.catalogue.edition import Edition, read_edition
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


def fleet() -> list[dict[str, str]]:
    with (demo_catalogue() / "fleet.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("vehicle", fleet(), ids=lambda vehicle: vehicle["registration"])
def test_nothing_the_register_says_of_a_vehicle_is_set_aside(edition: Edition, vehicle: dict[str, str]) -> None:
    told = [Statement(fact, cell, REGISTER) for fact, cell in vehicle.items()
            if cell and fact not in ("registration", "vin", "note")]
    assert build_kit(edition, "clutch-replace", told).warnings == ()


def test_every_price_is_of_an_item_in_its_unit(edition: Edition) -> None:
    units = {item.number: item.unit for item in edition.items()}
    for name in ("prices-counter.csv", "prices-supplier.csv"):
        with (demo_catalogue() / name).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) > 50
        assert [row["item"] for row in rows if units.get(row["item"]) != row["unit"]] == []


def test_nothing_in_it_claims_to_be_real() -> None:
    for path in (Path("facts.toml"), Path("catalogue.toml")):
        assert "invented" in (demo_catalogue() / path).read_text("utf-8")
    assert all(vehicle["registration"].startswith("DEMO ") for vehicle in fleet())
