"""The demo's VINs and type plates."""

import csv

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.demo.workshop import demo_catalogue
from kitbuilder.kit.build import build_kit
from kitbuilder.vehicle.plates import of_plates
from kitbuilder.vehicle.statements import REGISTER, Statement
from kitbuilder.vehicle.vin import by_vin, read_vin


def fleet() -> list[dict[str, str]]:
    with (demo_catalogue() / "fleet.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def edition() -> Edition:
    return read_edition(demo_catalogue())


@pytest.mark.parametrize("vehicle", fleet(), ids=lambda vehicle: vehicle["registration"])
def test_a_vehicle_s_vin_says_nothing_that_its_papers_contradict(edition: Edition, vehicle: dict[str, str]) -> None:
    assert read_vin(vehicle["vin"]) == vehicle["vin"]
    assert vehicle["vin"].startswith("000D"), "no maker has zeros: it is seen to be invented"
    told = [Statement(fact, cell, REGISTER) for fact, cell in vehicle.items()
            if cell and fact not in ("registration", "vin", "note")]
    built, warnings = by_vin(edition.vins, vehicle["vin"], [])
    assert (bool(built), warnings) == (True, [])
    assert build_kit(edition, "clutch-replace", [*told, *built]).warnings == ()


def test_vins_are_the_vehicles_own() -> None:
    vins = [vehicle["vin"] for vehicle in fleet()]
    assert len(set(vins)) == len(vins)


def test_a_vehicle_of_which_only_the_vin_is_known_is_narrowed_by_it(edition: Edition) -> None:
    names = ("registration", "vin")
    [vehicle] = [one for one in fleet() if not any(cell for name, cell in one.items() if name not in names)]
    built, _ = by_vin(edition.vins, None, [vehicle["vin"]])
    assert {one.fact for one in built} == {"axles", "gearbox", "brakes", "power-take-off"}
    job = "gearbox-oil-change"
    assert len(build_kit(edition, job, built).questions) < len(build_kit(edition, job).questions)


def test_every_gearbox_is_told_by_some_vin_and_by_some_plate(edition: Edition) -> None:
    boxes = set(next(fact for fact in edition.facts if fact.name == "gearbox").values)
    for rows in (edition.vins, edition.plates):
        assert boxes <= {cell.cell for row in rows for cell in row.cells if cell.fact == "gearbox"}


def test_a_plate_of_each_component_tells_something(edition: Edition) -> None:
    plates = ["gearbox=TL6-2207", "engine=E6-310", "rear axle=RA2-T 5"]
    assert [one.cell for one in of_plates(edition.plates, plates)] == ["Tarnholt light 6 late", "Euro VI", "drum"]
