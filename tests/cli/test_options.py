"""`kitbuilder options`: answers, files, exit codes, and what wrong input is told."""

import json
import re
from pathlib import Path
from typing import Any

import msgspec
import pytest
from jsonschema import Draft202012Validator

from kitbuilder.model.options import Options
from tests.cli.running import Ran, run
from tests.cli.test_loads import among, loaded
from tests.workshop.options_files import FILES

SITE = """
[sites.hillfoot]
zone = "Europe/London"

[sites.hillfoot.shifts]
monday = ["08:00 to 16:00"]
tuesday = ["08:00 to 16:00"]
"""
LABOUR = """
[labour]
rate = "90.00"
tax = "20"
"""
SOURCE = """
[sources.Quellhorst]
plugin = "price-file"
file = "prices.csv"
supplier = true
"""
START = ("--start", "2026-01-13T08:00")
KNOWN = ("--fact", "gearbox=light", "--fact", "place=workshop")
PRICES = """\
item,quantity,unit,ready,price,per,currency,as_of
U-1,1,each,2026-01-13T11:00:00+00:00,700.17,1,EUR,2026-01-13T07:30:00+00:00
U-9,1,each,2026-01-13T11:00:00+00:00,900.17,1,EUR,2026-01-13T07:30:00+00:00
S-1,1,set,2026-01-13T07:00:00+00:00,50.17,1,EUR,2026-01-13T07:30:00+00:00
O-1,9,L,2026-01-13T07:00:00+00:00,7.17,1,EUR,2026-01-13T07:30:00+00:00
H-1,9,each,2026-01-13T07:00:00+00:00,1.17,1,EUR,2026-01-13T07:30:00+00:00
H-2,9,each,2026-01-13T07:00:00+00:00,1.17,1,EUR,2026-01-13T07:30:00+00:00
C-1,9,each,2026-01-13T07:00:00+00:00,0.17,1,EUR,2026-01-13T07:30:00+00:00
"""


def lay(folder: Path, settings: str, **files: str) -> Path:
    """A catalogue and settings in a folder; its clock stands, as in a demo."""
    for path, text in FILES.items():
        (folder / "catalogue" / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / "catalogue" / path).write_text(text, "utf-8")
    (folder / ".kitbuilder-demo").write_text("", "utf-8")
    (folder / "prices.csv").write_text(PRICES, "utf-8")
    (folder / "kitbuilder.toml").write_text(
        f'catalogue = "catalogue"\nnow = 2026-01-13T07:45:00+00:00\n{settings}', "utf-8")
    return folder


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay(tmp_path_factory.mktemp("options"), SITE + LABOUR + SOURCE)


def answer(ran: Ran) -> Any:
    assert ran.code == 0, ran.err
    return json.loads(ran.out)


def test_the_ways_are_compared(place: Path) -> None:
    ran = run(place, "options", "exchange", *KNOWN, *START)
    assert (ran.code, ran.err) == (0, "")
    assert "3 ways to a working unit, in EUR" in ran.out
    assert "1463.16 to 1469.40" in " ".join(ran.out.split())
    assert "The maker's instructions, local codes and licensed practice come first." in ran.out
    assert [line for line in ran.out.splitlines() if len(line) > 80] == []
    assert run(place, "options", "a working unit", *KNOWN, *START) == ran


def test_the_start_is_now_where_none_is_told(place: Path) -> None:
    found = answer(run(place, "options", "exchange", *KNOWN, "--json"))
    assert found["start"] == "2026-01-13T07:45+00:00"
    # work begins at 08:00
    assert found["ways"][1]["choice"]["finish"] == "2026-01-13T10:15+00:00"


WAY = {"choice", "waits", "strip_down", "problems"}
CHOICE = {"job", "title", "sums", "parts", "stages", "deposits", "may_turn_out", "advised", "unpriced", "hangs_on",
          "finish", "finish_latest"}


def test_json_has_exactly_these_keys_and_is_valid_by_its_schema(place: Path) -> None:
    found = answer(run(place, "options", "repair", *START, "--json"))
    assert set(found) == {"format", "warnings", "goal", "currency", "tax", "start", "asked", "ways"}
    assert (found["format"], found["goal"], found["currency"], found["tax"], found["asked"]) == (
        "kitbuilder.options/1", "a working unit", "EUR", "20", False)
    assert [set(way) for way in found["ways"]] == [WAY] * 3
    assert set(found["ways"][0]["choice"]) == CHOICE
    assert set(found["ways"][0]["choice"]["sums"]) == {
        "parts", "small", "labour", "net", "tax", "total", "deposits", "expected_extra", "expected_total"}
    with_cost = answer(run(place, "options", "repair", *START, "--cost", "--json"))
    assert [set(way) for way in with_cost["ways"]] == [WAY | {"cost"}] * 3
    schema = Draft202012Validator(msgspec.json.schema(Options))
    for one in (found, with_cost):
        assert [error.message for error in schema.iter_errors(one)] == []
    for key in found:
        assert not schema.is_valid({name: value for name, value in found.items() if name != key})
    for key in CHOICE:
        way = found["ways"][0]
        less = way | {"choice": {name: value for name, value in way["choice"].items() if name != key}}
        assert not schema.is_valid(found | {"ways": [less]})


def test_money_in_json_is_a_decimal_text(place: Path) -> None:
    ran = run(place, "options", "repair", *START, "--cost", "--json")

    def figures(value: Any) -> list[float]:
        if isinstance(value, dict):
            return [one for inner in value.values() for one in figures(inner)]
        if isinstance(value, list):
            return [one for inner in value for one in figures(inner)]
        return [value] if isinstance(value, float) else []

    assert figures(answer(ran)) == []


def test_sources_say_what_the_job_waits_for(place: Path) -> None:
    found = answer(run(place, "options", "exchange", *KNOWN, *START, "--source", "--json"))
    repair, exchange, _ = found["ways"]
    assert found["asked"] is True
    assert exchange["choice"]["finish"] == "2026-01-13T12:15+00:00"
    assert [(one["name"], one["until"]) for one in exchange["waits"]] == [
        ("Unit, light, exchange", "2026-01-13T11:00+00:00")]
    # the unit comes too late for the repair's second stage, and nobody has the motor
    assert repair["strip_down"] == {"chance": "0.6", "findings": ["beyond-repair", "motor-worn"]}


def test_costs_are_the_house_s(place: Path) -> None:
    ran = run(place, "options", "exchange", *KNOWN, *START, "--cost")
    assert "Our cost of parts" in ran.out
    # 700.17, a shim of 1.17, 1.2 L to 1.5 L at 7.17: 8.604, 10.755
    assert "709.94 to 712.10" in " ".join(ran.out.split())
    assert "Our cost" not in run(place, "options", "exchange", *KNOWN, *START, "--source").out


@pytest.mark.parametrize("name", ["sheet.txt", "sheet.html"])
def test_the_choice_sheet_is_written_without_cost_or_supplier(place: Path, tmp_path: Path, name: str) -> None:
    ran = run(place, "options", "exchange", *KNOWN, *START, "--cost", "--sheet", str(tmp_path / name))
    assert ran.code == 0
    assert f"choice sheet is in {tmp_path / name}" in ran.out.replace("\n", " ") or name in ran.out
    sheet = (tmp_path / name).read_text("utf-8")
    assert "1463.16 to 1469.40" in sheet
    assert "Thu 12 Feb 2026" in " ".join(sheet.split())
    costs = [row.split(",")[4] for row in PRICES.splitlines()[1:]]
    assert "700.17" in costs
    for cost in (*costs, "709.94", "712.10", "Quellhorst"):
        assert not re.search(rf"(?<![\d.]){re.escape(cost)}(?!\d)", sheet), cost


def test_a_sheet_beside_json_leaves_json_alone(place: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.txt"
    answer(run(place, "options", "exchange", *START, "--json", "--sheet", str(sheet)))
    assert sheet.read_text("utf-8").startswith("YOUR CHOICE")


@pytest.mark.parametrize("words, said", [
    (("exchnge",), "There is neither a job nor a goal 'exchnge'. Did you mean 'exchange'?"),
    (("exchange", "--fact", "gearbox=lite"), "gearbox can't be 'lite'"),
    (("exchange", "--start", "2026-01-13"), "is no day and time"),
    (("exchange", "--start", "tomorrow"), "is no day and time"),
    (("exchange", "--start", "2026-01-13T08:00+00:00"), "leave the zone out"),
    (("exchange", "--site", "hillfot"), "There is no site 'hillfot'. Did you mean 'hillfoot'?"),
    (("exchange", "--sheet", "sheet.pdf"), "Expected a name that ends with .txt or .html."),
    (("exchange", "--sheet", "nowhere/sheet.txt"), "The choice sheet can't be written to nowhere/sheet.txt"),
    ((), "Missing argument"),
])
def test_wrong_use_is_told_and_ends_with_two(place: Path, words: tuple[str, ...], said: str) -> None:
    ran = run(place, "options", *words)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.said


def test_statements_that_clash_end_with_three(place: Path) -> None:
    ran = run(place, "options", "exchange", "--fact", "gearbox=light", "--fact", "gearbox=heavy")
    assert (ran.code, ran.out) == (3, "")


def test_bare_settings_still_compare_and_say_what_is_missing(tmp_path: Path) -> None:
    lay(tmp_path, "")
    ran = run(tmp_path, "options", "exchange")
    assert ran.code == 0
    assert "no rate is set" in ran.out
    assert "no site is set" in ran.out
    assert "Labour and tax come from [labour] of kitbuilder.toml" in " ".join(ran.out.split())
    for words, said in (
            (("--start", "2026-01-13T08:00"), "There is no site; add [sites.NAME]"),
            (("--source",), "There is no stock source; add [sources.NAME]"),
            (("--sheet", "sheet.txt"), "Add [labour] with rate")):
        wrong = run(tmp_path, "options", "exchange", *words)
        assert wrong.code == 2
        assert said in wrong.said


def test_several_sites_must_be_told_apart(tmp_path: Path) -> None:
    lay(tmp_path, SITE + SITE.replace("hillfoot", "brook"))
    ran = run(tmp_path, "options", "exchange")
    assert ran.code == 2
    assert "Which site? Name it with --site: hillfoot, brook." in ran.said
    assert run(tmp_path, "options", "exchange", "--site", "brook").code == 0


def test_settings_that_can_t_be_end_with_three(tmp_path: Path) -> None:
    lay(tmp_path, "[labour]\nrate = 90\n")
    ran = run(tmp_path, "options", "exchange")
    assert (ran.code, ran.out) == (3, "")
    assert "kitbuilder.toml: [labour] rate = 90; expected what an hour costs in EUR as a text" in ran.said


def test_a_catalogue_that_fails_for_a_way_ends_with_one(tmp_path: Path) -> None:
    lay(tmp_path, "")
    fits = tmp_path / "catalogue/fits/unit.csv"
    fits.write_text(fits.read_text("utf-8").replace("exchange,unit,U-2,,1,each,,,heavy\n", ""), "utf-8")
    ran = run(tmp_path, "options", "exchange", "--fact", "gearbox=heavy")
    assert ran.code == 1
    assert "THE CATALOGUE FAILS HERE" in ran.out


def test_no_way_that_can_be_finished_ends_with_one(tmp_path: Path) -> None:
    lay(tmp_path, SITE + SOURCE)
    (tmp_path / "prices.csv").write_text(PRICES.splitlines(keepends=True)[0], "utf-8")
    assert run(tmp_path, "options", "exchange", "--source").code == 1


def test_a_source_that_fails_ends_with_four_and_is_told(tmp_path: Path) -> None:
    lay(tmp_path, SITE + SOURCE.replace("prices.csv", "gone.csv"))
    ran = run(tmp_path, "options", "exchange", "--source")
    assert ran.code == 4
    assert "The source Quellhorst failed" in ran.said
    assert "not known, a source failed" in " ".join(ran.out.split())


def test_without_stock_no_store_and_no_web_client_is_loaded(place: Path) -> None:
    code, modules = loaded(place, "options", "exchange", *START)
    assert code == 0
    assert among(("pydantic", "sqlmodel", "sqlalchemy", "httpx", "highspy", "apscheduler"), modules) == []
