"""The made catalogues that the benchmarks measure: they load, are believable, and hold just the planted faults."""

import sys
from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.lines import KitLines
from kitbuilder.proof.check import check_catalogue
from kitbuilder.vehicle.statements import TOLD, Statement

FITS = 10_000


@pytest.fixture(scope="module")
def catalogues():
    """The generator, which lies beside the package and not in it."""
    folder = str(Path(__file__).parents[2] / "benchmarks")
    sys.path.insert(0, folder)
    try:
        import catalogues

        yield catalogues
    finally:
        sys.path.remove(folder)


@pytest.fixture(scope="module")
def made(catalogues, tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    planted = catalogues.make(folder, FITS)
    return planted, read_edition(folder)


def test_a_catalogue_has_just_so_many_fits_and_the_same_for_the_same_seed(catalogues, made, tmp_path):
    _, edition = made
    assert edition.heading.counts["fits"] == FITS
    assert edition.heading.counts["facts"] == 12
    assert len(edition.heading.jobs) == FITS // 200
    names = []
    for number, seed in enumerate((1, 1, 2)):
        folder = tmp_path / str(number)
        catalogues.make(folder, 1_000, seed)
        names.append(read_edition(folder).name)
    assert names[0] == names[1] != names[2]


def test_the_check_finds_the_planted_faults_and_no_other(made):
    planted, edition = made
    found = {(one.job, one.kind, one.role or one.circuit) for one in check_catalogue(edition).problems}
    assert found == set(planted)
    assert sorted(one.kind for one in planted) == ["circuit", "clash", "gap", "unmet"]


def test_kits_of_known_vehicles_are_believable(catalogues, made):
    planted, edition = made
    lines = KitLines(edition)
    faulty = {one.job for one in planted}
    jobs = [name for name, _, _ in edition.heading.jobs if name not in faulty]
    sizes = []
    for number, vehicle in enumerate(catalogues.vehicles(3, 40)):
        job = jobs[number % len(jobs)]
        kit = build_kit(edition, job, [Statement(fact, cell, TOLD) for fact, cell in vehicle.items()])
        assert kit.complete
        assert [(one.stage, one.role, one.item, one.requirement) for one in kit.lines] == [
            (one.stage, one.role, one.key.item, one.key.requirement) for one in lines.job(job).lines(vehicle)]
        sizes.append(len(kit.lines))
    assert 15 <= sum(sizes) / len(sizes) <= 60
    assert max(sizes) <= 100
