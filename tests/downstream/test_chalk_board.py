"""A stranger's plug-in project is built, installed and used as a stranger would."""

import json
import os
import shutil
import subprocess
import sys
from importlib.metadata import distributions
from pathlib import Path

import pytest

from tests.plugins.installed import ROOT, kitbuilder
from tests.plugins.test_public_api import beyond_public

PROJECT = Path(__file__).with_name("chalk_board")
BOARD = """\
# the board beside the counter
LU-40230  7500 mL
CO-50310  2 each
CO-50380  ?
DEMO 301: gearbox = Osmerby manual 9; axles = 4x2; power-take-off = no
"""
SETTINGS = """
catalogue = "catalogue"
[sources.board]
plugin = "chalk-board"
file = "board.txt"
[registers.yard]
plugin = "chalk-board"
file = "board.txt"
"""


def run(*words: str | Path, cwd: Path) -> None:
    # no registry is asked: what the build needs is installed with the tests
    environment = {**os.environ, "PIP_NO_INDEX": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    answer = subprocess.run(
        [sys.executable, "-m", *map(str, words)], cwd=cwd, env=environment, capture_output=True, text=True, timeout=300,
        check=False)
    assert answer.returncode == 0, answer.stdout + answer.stderr


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder into which the built wheel is installed."""
    folder = tmp_path_factory.mktemp("downstream")
    project, wheels, site = folder / "project", folder / "wheels", folder / "site"
    shutil.copytree(PROJECT, project, ignore=shutil.ignore_patterns("__pycache__"))
    run("pip", "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", wheels, project, cwd=folder)
    [wheel] = wheels.glob("*.whl")
    run("pip", "install", "--no-deps", "--target", site, wheel, cwd=folder)
    # what is used from now on is what was built, not the sources
    shutil.rmtree(project)
    return site


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "demo_catalog", tmp_path / "catalogue")
    (tmp_path / "kitbuilder.toml").write_text(SETTINGS, "utf-8")
    (tmp_path / "board.txt").write_text(BOARD, "utf-8")
    return tmp_path


def test_the_wheel_carries_the_module_and_its_entry_point(installed):
    [dist] = distributions(path=[str(installed)])
    assert (dist.name, dist.version) == ("workshop-chalk-board", "0.3.0")
    assert [(one.group, one.name, one.value) for one in dist.entry_points] == [
        ("kitbuilder", "chalk-board", "workshop_chalk_board")]
    assert (installed / "workshop_chalk_board/__init__.py").is_file()


def test_the_project_uses_only_the_public_api():
    files = list(PROJECT.rglob("*.py"))
    assert files
    assert [beyond_public(file.read_text("utf-8")) for file in files] == [[]] * len(files)


def test_plugins_shows_it_beside_the_bundled_ones(installed, shop):
    answer = kitbuilder(shop, "plugins", "--json", path=installed)
    assert (answer.returncode, answer.stderr) == (0, "")
    rows = {row["name"]: row for row in json.loads(answer.stdout)["plugins"]}
    assert rows["chalk-board"] == {
        "name": "chalk-board", "distribution": "workshop-chalk-board", "version": "0.3.0",
        "brings": ["chalk-board", "chalk-board"], "error": None}
    assert {"price-file", "fleet-file"} <= set(rows)
    assert "chalk-board (workshop-chalk-board 0.3.0)" in kitbuilder(shop, "plugins", path=installed).stdout
    # and only where it is installed
    assert "chalk-board" not in kitbuilder(shop, "plugins").stdout


def test_sources_shows_how_it_answers(installed, shop):
    answer = kitbuilder(shop, "sources", "--json", path=installed)
    assert (answer.returncode, answer.stderr) == (0, "")
    [board] = json.loads(answer.stdout)["sources"]
    assert {key: board[key] for key in ("source", "plugin", "does", "state", "age_s", "error")} == {
        "source": "board", "plugin": "chalk-board", "does": ["quote"], "state": "fresh", "age_s": 0, "error": None}
    missing = kitbuilder(shop, "sources")
    assert missing.returncode == 4
    assert "no plug-in brings 'chalk-board'" in " ".join(missing.stdout.split())


def test_a_kit_is_built_from_its_register_and_shown_with_its_stock(installed, shop):
    words = ("kit", "gearbox-oil-change", "--vehicle", "demo-301", "--source", "--json")
    answer = kitbuilder(shop, *words, path=installed)
    built = json.loads(answer.stdout)
    facts = {one["fact"]: (one["values"], one["source"]) for one in built["facts"]}
    assert facts["gearbox"] == (["Osmerby manual 9"], "register")
    assert facts["power-take-off"] == (["no"], "register")
    stock = {row["item"]: (row["source"], row["quantity"], row["state"], row["error"])
             for line in built["lines"] for row in line["stock"]}
    assert stock == {
        "LU-40230": ("board", "7.5", "fresh", None), "CO-50310": ("board", "2", "fresh", None),
        "CO-50380": ("board", None, "failed", "board.txt, line 4: expected an amount and a unit")}
    # nine and a half litres are needed, and of what nobody can read it is open what is short
    short = {line["item"] or line["requirement"]: line["short"] for line in built["lines"]}
    assert (short["oil-manual-9"], short["CO-50310"], short["CO-50380"]) == ("2", "0", None)
    assert answer.returncode == 4
    shown = kitbuilder(shop, *words[:-1], path=installed)
    assert shown.returncode == 4
    assert "board LU-40230: 7.5 L" in " ".join(shown.stdout.split())


def test_what_is_wrong_on_the_board_is_told_by_the_line(installed, shop):
    words = ("kit", "gearbox-oil-change", "--source", "--json")
    built = json.loads(kitbuilder(shop, *words, path=installed).stdout)
    item = next(line["item"] for line in built["lines"] if line["item"])
    (shop / "board.txt").write_text(BOARD + f"{item} a few\n", "utf-8")
    answer = kitbuilder(shop, *words, path=installed)
    assert answer.returncode == 4
    rows = [row for line in json.loads(answer.stdout)["lines"] for row in line["stock"] if row["item"] == item]
    assert rows
    assert {(row["state"], row["error"]) for row in rows} == {
        ("failed", "board.txt, line 6: expected an amount and a unit")}
    (shop / "board.txt").unlink()
    answer = kitbuilder(shop, *words, path=installed)
    assert answer.returncode == 4
    [warning] = json.loads(answer.stdout)["warnings"]
    assert warning.startswith("The source board failed: chalk-board of workshop-chalk-board: FileNotFoundError")


def test_settings_it_cannot_use_are_told_with_their_table(installed, shop):
    (shop / "kitbuilder.toml").write_text(SETTINGS.replace("file", "path"), "utf-8")
    answer = kitbuilder(shop, "sources", "--json", path=installed)
    assert json.loads(answer.stdout)["sources"][0]["error"] == (
        "chalk-board of workshop-chalk-board: in [sources.board] it expected file = \"…\", the board's text file, "
        "and nothing else")


def test_a_type_checker_sees_the_whole_public_api(tmp_path):
    """An author who runs mypy --strict has no missing stubs and no Any: what is wrong is found."""
    config = tmp_path / "mypy.ini"
    config.write_text("[mypy]\nstrict = true\n", "utf-8")
    good = PROJECT / "workshop_chalk_board/__init__.py"
    bad = tmp_path / "bad.py"
    bad.write_text(good.read_text("utf-8").replace('sureness="on the shelf"', 'sureness="for sure"'), "utf-8")

    def checked(file: Path) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            [sys.executable, "-m", "mypy", "--config-file", str(config), "--cache-dir", str(tmp_path / "cache"),
             str(file)], cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)

    assert (found := checked(good)).returncode == 0, found.stdout
    found = checked(bad)
    assert found.returncode == 1
    assert 'has incompatible type "Literal[\'for sure\']"' in found.stdout
