"""VINs and type plates at the command line, as processes."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import bookings
from tests.cli.running import Ran, run
from tests.cli.test_loads import loaded
from tests.night.shop import Shop, row_of

ROOT = Path(__file__).parents[2]
VIN = "000DALSN00M175123"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the demo catalogue, a fleet file and nothing else."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copytree(ROOT / "demo_catalog", folder / "catalogue")
    (folder / "kitbuilder.toml").write_text(
        'catalogue = "catalogue"\n[registers.fleet]\nplugin = "fleet-file"\nfile = "fleet.csv"\n', "utf-8")
    (folder / "fleet.csv").write_text(
        "registration,vin,emissions,gearbox,brakes\n"
        f"DEMO 201,{VIN},Euro V,,\n"
        "DEMO 202,000DALSN00M17512,Euro V,,\n"
        "DEMO 203,000DBMTN00M000001,,Osmerby manual 6,drum\n"
        "DEMO 203,000DBMTN00M000002,,,\n", "utf-8")
    return folder


def kit(folder: Path, *words: str) -> tuple[Ran, dict[str, tuple[list[str], str]], list[str]]:
    """How a kit ends, the facts in it with their source, its warnings."""
    ran = run(folder, "kit", "clutch-replace", "--json", *words)
    built = json.loads(ran.out) if ran.out else {"facts": [], "warnings": []}
    return ran, {one["fact"]: (one["values"], one["source"]) for one in built["facts"]}, built["warnings"]


def test_a_vin_narrows_facts_as_a_register_does(desk: Path) -> None:
    ran, facts, warnings = kit(desk, "--vin", "000-dalsn00m 175123")
    assert (ran.code, warnings) == (0, [])
    assert {name: facts[name] for name in ("gearbox", "axles", "brakes", "power-take-off")} == {
        "gearbox": (["Tarnholt light 6 late"], "register"), "axles": (["4x2"], "register"),
        "brakes": (["disc"], "register"), "power-take-off": (["no"], "register")}
    assert facts["emissions"] == (["Euro V", "EEV", "Euro VI"], "inferred")


def test_the_text_says_where_in_the_catalogue_it_stands(desk: Path) -> None:
    said = " ".join(run(desk, "kit", "clutch-replace", "--vin", VIN, "--plate", "engine=E6-1").out.split())
    assert "gearbox Tarnholt light 6 late (as built, by its VIN: vin.csv line 6, vin.csv line 8)" in said
    assert "emissions Euro VI (seen: plate engine E6-1, plates.csv line 12)" in said


def test_as_fitted_beats_as_built_and_the_vin_s_row_is_named(desk: Path) -> None:
    ran, facts, warnings = kit(desk, "--vin", VIN, "--plate", "gearbox=TL6-1 207")
    assert ran.code == 0
    assert facts["gearbox"] == (["Tarnholt light 6 early"], "seen")
    assert warnings == [
        "gearbox = Tarnholt light 6 late (vin.csv line 8) disagrees with gearbox = Tarnholt light 6 early "
        "(plate gearbox TL6-1 207, plates.csv line 2). Set aside."]
    _, facts, warnings = kit(desk, "--vin", VIN, "--fact", "brakes=drum")
    assert facts["brakes"] == (["drum"], "told")
    assert warnings == ["brakes = disc (vin.csv line 15) disagrees with brakes = drum (told). Set aside."]


def test_two_things_seen_that_contradict_each_other_are_an_error(desk: Path) -> None:
    ran, _, _ = kit(desk, "--plate", "gearbox=TL6-2207", "--seen", "gearbox=Osmerby manual 9")
    assert (ran.code, ran.out) == (3, "")
    assert "gearbox = Tarnholt light 6 late (plate gearbox TL6-2207, plates.csv line 3)" in ran.said


@pytest.mark.parametrize(("words", "said"), [
    (("--vin", "000DALSN00M17512"), "has 16 places. Expected 17"),
    (("--vin", "OOODALSN00M175123"), "has the letter O at place 1. A VIN has no I, O or Q: is it a 0?"),
    (("--vin", ""), "has 0 places"),
    (("--plate", "gearbx=TL6-2207"), "Did you mean 'gearbox'?"),
    (("--plate", "gearbox=ZZ9"), "No pattern of plates.csv for gearbox matches 'ZZ9'. It has TL6-1* (Invented);"),
    (("--plate", "TL6-2207"), "Expected --plate COMPONENT=NUMBER"),
    (("--vehicle", "000DALSN00M175124"), "No register knows the VIN '000DALSN00M175124'. With --vin"),
])
def test_wrong_use_ends_with_2(desk: Path, words: tuple[str, ...], said: str) -> None:
    ran, _, _ = kit(desk, *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.said


def test_what_a_vin_does_not_tell_is_said(desk: Path) -> None:
    _, facts, warnings = kit(desk, "--vin", "1M8GDM9A1KP042788")
    assert {source for _, source in facts.values()} == {"open"}
    assert warnings == [
        "The VIN 1M8GDM9A1KP042788 has 1 at place 9, where a North American one has its check digit, X. Read it again.",
        "No row of the catalogue's vin.csv matches the VIN 1M8GDM9A1KP042788; it narrows nothing."]


@pytest.mark.parametrize("asked", ["DEMO 201", VIN, "000dalsn 00m-175123"])
def test_a_vehicle_of_the_register_is_found_by_its_vin_too_and_its_vin_tells(desk: Path, asked: str) -> None:
    ran, facts, warnings = kit(desk, "--vehicle", asked)
    assert (ran.code, warnings) == (0, [])
    assert facts["emissions"] == (["Euro V"], "register")
    assert facts["gearbox"] == (["Tarnholt light 6 late"], "register")


def test_a_vin_of_the_register_that_is_none_is_set_aside_with_its_place(desk: Path) -> None:
    ran, facts, warnings = kit(desk, "--vehicle", "DEMO 202")
    assert ran.code == 0
    assert facts["emissions"] == (["Euro V"], "register")
    assert facts["axles"][1] == "open"
    assert warnings == [
        "The VIN '000DALSN00M17512' has 16 places. Expected 17; read it again, on the chassis plate or on the frame. "
        "Set aside (fleet.csv line 3)."]


def test_what_the_register_says_comes_before_what_its_vin_says(desk: Path) -> None:
    _, facts, warnings = kit(desk, "--vehicle", "DEMO 203")
    assert facts["gearbox"] == (["Osmerby manual 6"], "register")
    assert facts["brakes"] == (["drum"], "register")
    assert warnings == [
        "The register has another VIN for this vehicle, 000DBMTN00M000002; 000DBMTN00M000001 counts.",
        "gearbox = Osmerby manual 9 (vin.csv line 12) disagrees with gearbox = Osmerby manual 6 (fleet.csv line 4). "
        "Set aside."]


def test_the_typed_vin_counts_before_the_register_s(desk: Path) -> None:
    _, facts, warnings = kit(desk, "--vehicle", "DEMO 201", "--vin", "000DBASN00M175123")
    assert warnings == [f"The register has another VIN for this vehicle, {VIN}; 000DBASN00M175123 counts."]
    assert (facts["gearbox"], facts["axles"]) == ((["Osmerby automatic 6"], "register"), (["6x2"], "register"))


def test_why_takes_both(desk: Path) -> None:
    words = ("why", "clutch-replace", "clutch-kit", "--vin", VIN, "--plate", "engine=E6-1")
    facts = {one["fact"]: one["source"] for one in json.loads(run(desk, *words, "--json").out)["facts"]}
    assert (facts["gearbox"], facts["emissions"], facts["registered"]) == ("register", "seen", "inferred")
    said = " ".join(run(desk, *words).out.split())
    assert "gearbox must be light automated: holds, it is Tarnholt light 6 late (as built, by its VIN: vin.csv line 6" \
        in said
    assert "from the register" not in said


def test_asking_ends_with_the_command_that_says_it_all(desk: Path) -> None:
    ran = run(desk, "kit", "clutch-replace", "--vin", VIN, "--plate", "rear axle=RA1-S", "--ask", typed="1\n.\n")
    assert ran.code == 0
    assert f"kitbuilder kit clutch-replace --vin {VIN}" in ran.said
    assert '"rear axle"=RA1-S' in ran.said


def test_a_catalogue_without_the_files_says_so(desk: Path, tmp_path: Path) -> None:
    without = shutil.ignore_patterns("vin.csv", "plates.csv")
    bare = shutil.copytree(desk / "catalogue", tmp_path / "bare", ignore=without)
    ran, _, warnings = kit(desk, "--vin", VIN, "--catalogue", str(bare))
    assert (ran.code, warnings) == (0, [f"The catalogue has no vin.csv for the VIN {VIN}; it narrows nothing."])
    ran, _, warnings = kit(desk, "--vehicle", "DEMO 201", "--catalogue", str(bare))
    assert (ran.code, warnings) == (0, [])
    assert kit(desk, "--plate", "gearbox=TL6-2207", "--catalogue", str(bare))[0].code == 2


def test_a_kit_without_them_loads_nothing_of_them(desk: Path) -> None:
    own = {"kitbuilder.vehicle.vin", "kitbuilder.vehicle.plates", "kitbuilder.vehicle.pattern"}
    words = ("kit", "clutch-replace", "--quiet", "--catalogue", str(desk / "catalogue"))
    run(desk, *words)  # compiled
    assert own & loaded(desk, *words)[1] == set()
    code, modules = loaded(desk, *words, "--vin", VIN, "--plate", "engine=E6-1")
    assert (code, own & modules) == (0, own)
    assert not {"vininfo", "pluggy", "kitbuilder.catalogue.content"} & modules


# bookings


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A workshop whose catalogue knows VINs and plates."""
    made = Shop(tmp_path / "shop")
    (made.folder / "catalogue/vin.csv").write_text("pattern,emissions\n0005*,Euro V\n0006*,Euro VI\n", "utf-8")
    (made.folder / "catalogue/plates.csv").write_text(
        "component,pattern,emissions\nengine,E5-*,Euro V\nengine,E*,Euro V or Euro VI\n", "utf-8")
    (made.folder / "fleet.csv").write_text(
        "registration,vin,emissions\n"
        "DEMO 5,000XAAAAAAAAA0005,Euro V\nDEMO 7,0006AAAAAAAAA0007,\nDEMO 8,X,Euro V\n", "utf-8")
    yield made
    made.store.close()


def test_a_booking_is_made_for_a_vin_and_its_kit_built_from_what_that_tells(shop: Shop) -> None:
    """Known to the register by its VIN; to the catalogue alone; by a registration whose VIN tells; to nobody."""
    words = ("add", "oil-change", "--start", "2026-03-11T08:00", "--vehicle", "000XAAAAAAAAA0005")
    made = run(shop.folder, "book", *words)
    assert made.code == 0, made.err
    shop.book("oil-change", registration="0006aaaaaaaaa9999")
    shop.book("oil-change", registration="DEMO 7")
    shop.book("oil-change", registration="000XAAAAAAAAA9999")
    shop.book("oil-change", registration="DEMO 8")
    report = shop.run()
    oils = [json.loads(bookings.kit_of(shop.store, number).kit)["lines"] for number in (1, 2, 3, 4, 5)]  # type: ignore[union-attr]
    assert [[line["amount"] for line in lines if line["role"] == "oil"] for lines in oils] == [
        ["3"], ["5"], ["5"], ["3", "5"], ["3"]]
    said = [" ".join(row_of(report, number).why) for number in (1, 2, 3, 4, 5)]
    assert ["VIN" in one for one in said] == [False, False, False, True, True]
    assert "No register knows the VIN '000XAAAAAAAAA9999'" in said[3]
    assert "The VIN 'X' has 1 place. Expected 17" in said[4]


def test_without_a_register_a_vin_tells_too(shop: Shop) -> None:
    shop.settings(('[registers.fleet]\nplugin = "fleet-file"\nfile = "fleet.csv"\n', ""))
    shop.book("oil-change", registration="0006AAAAAAAAA9999")
    shop.run()
    kept = bookings.kit_of(shop.store, 1)
    assert kept is not None
    assert [line["amount"] for line in json.loads(kept.kit)["lines"] if line["role"] == "oil"] == ["5"]


def test_what_a_plate_tells_is_kept_with_the_booking_as_told(shop: Shop) -> None:
    made = run(shop.folder, "book", "add", "oil-change", "--start", "2026-03-11T08:00", "--plate", "engine=e5 310",
               "--fact", "place=yard")
    assert made.code == 0, made.err
    assert shop.booking(1).facts == {"place": "yard", "emissions": "Euro V"}
    against = run(shop.folder, "book", "add", "oil-change", "--start", "2026-03-11T08:00", "--plate", "engine=E5-310",
                  "--fact", "emissions=Euro VI")
    assert against.code == 3
    assert "emissions = Euro V (plate engine E5-310, plates.csv line 2)" in against.said
