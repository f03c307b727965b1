"""What a command loads: start-up is a feature."""

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import pytest

from kitbuilder.cli.app import COMMANDS

#: Installed with the tests or with kitbuilder, and not for a kit.
HEAVY = (
    "pydantic", "sqlmodel", "sqlalchemy", "alembic", "httpx", "highspy", "apscheduler", "rich", "pluggy", "holidays")
#: Of the standard library or our own, and not for a kit that needs no settings and whose edition is compiled.
LATER = (
    "importlib.metadata", "tomllib", "csv", "asyncio", "unittest", "kitbuilder.plugins", "kitbuilder.hooks",
    "kitbuilder.proof", "kitbuilder.demo", "kitbuilder.stock", "kitbuilder.store", "kitbuilder.night",
    "kitbuilder.catalogue.content", "kitbuilder.catalogue.toml", "kitbuilder.catalogue.sheet")

_SCRIPT = """\
import atexit, os, sys
sys.argv[0] = "kitbuilder"
listed = os.fdopen(int(os.environ["LISTED"]), "w")
atexit.register(lambda: listed.write("\\n".join(sys.modules)))
from kitbuilder.cli.app import main
main()
"""


def loaded(folder: Path, *words: str) -> tuple[int, set[str]]:
    """How a command ends, and the modules that it has loaded by then."""
    reading, writing = os.pipe()
    process = subprocess.Popen(
        [sys.executable, "-c", _SCRIPT, *words], cwd=folder, pass_fds=[writing],
        env={**os.environ, "LISTED": str(writing)}, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL)
    os.close(writing)
    with os.fdopen(reading) as listed:
        names = listed.read().split("\n")
    return process.wait(), set(names)


def among(names: tuple[str, ...], modules: set[str]) -> list[str]:
    return [name for name in names if any(module == name or module.startswith(name + ".") for module in modules)]


def test_what_must_not_be_loaded_could_be() -> None:
    assert [name for name in (*HEAVY, *LATER) if importlib.util.find_spec(name) is None] == []


@pytest.mark.parametrize("words", [
    ("kit", "clutch-replace"),
    ("kit", "clutch-replace", "--json"),
    ("kit", "clutch-replace", "--ask"),
    ("kit", "clutch-replace", "--fact", "emissions=Euro V", "--seen", "brakes=disc"),
    ("jobs",), ("jobs", "--json"), ("why", "clutch-replace", "clutch-kit"),
], ids=" ".join)
def test_a_kit_loads_only_what_it_needs(workshop: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    code, modules = loaded(tmp_path, *words, "--catalogue", str(workshop / "catalogue"))
    assert code == 0
    assert "kitbuilder.catalogue.edition" in modules
    assert among(HEAVY + LATER, modules) == []


def test_settings_cost_only_their_reader(workshop: Path) -> None:
    code, modules = loaded(workshop, "kit", "clutch-replace")
    assert code == 0
    assert among(HEAVY + LATER, modules) == ["tomllib"]


def test_plug_ins_are_loaded_where_they_are_asked_for(workshop: Path, tmp_path: Path) -> None:
    (tmp_path / "kitbuilder.toml").write_text(
        f'catalogue = "{workshop}/catalogue"\n[sources.supplier]\nplugin = "price-file"\n'
        f'file = "{workshop}/prices-supplier.csv"\nsupplier = true\n', "utf-8")
    _, modules = loaded(tmp_path, "kit", "clutch-replace", "--source")
    assert {"pluggy", "importlib.metadata", "kitbuilder.plugins", "kitbuilder.stock"} <= modules
    assert among(("pydantic", "sqlmodel", "highspy", "apscheduler", "httpx"), modules) == []


def test_a_kit_with_the_own_shelf_loads_the_store_and_nothing_of_the_night(workshop: Path) -> None:
    _, modules = loaded(workshop, "kit", "clutch-replace", "--source")
    assert {"sqlmodel", "httpx"} <= modules
    assert among(("alembic", "highspy", "apscheduler", "kitbuilder.night", "kitbuilder.workshop"), modules) == []


@pytest.mark.parametrize("words", [("--help",), (), ("--version",)], ids=["help", "nothing", "version"])
def test_help_loads_no_command(tmp_path: Path, words: tuple[str, ...]) -> None:
    _, modules = loaded(tmp_path, *words)
    assert "kitbuilder.cli.app" in modules
    assert among(tuple(f"kitbuilder.cli.{entry.module}" for entry in COMMANDS.values()), modules) == []
    assert among((*HEAVY, "kitbuilder.catalogue", "kitbuilder.kit", "platformdirs"), modules) == []


def test_a_command_loads_no_other(workshop: Path) -> None:
    _, modules = loaded(workshop, "jobs")
    commands = {f"kitbuilder.cli.{entry.module}" for entry in COMMANDS.values()}
    assert commands & modules == {"kitbuilder.cli.jobs"}
