"""Help: every command says what it is for, and nothing has to be guessed."""

import importlib
from importlib.metadata import version
from pathlib import Path

import pytest
from typer.main import get_command

from kitbuilder.cli.app import COMMANDS
from tests.cli.running import run


def _all_commands() -> dict[str, object]:
    """Every command and command of a group, by its words."""
    found: dict[str, object] = {}
    for name, entry in COMMANDS.items():
        command = get_command(importlib.import_module(f"kitbuilder.cli.{entry.module}").app)
        found[name] = command
        found |= {f"{name} {inner}": one for inner, one in getattr(command, "commands", {}).items()}
    return found


ALL = _all_commands()


@pytest.mark.parametrize("words", ALL)
def test_every_command_tells_its_use_and_its_purpose(words: str, tmp_path: Path) -> None:
    ran = run(tmp_path, *words.split(), "--help")
    assert (ran.code, ran.err) == (0, "")
    usage, blank, purpose, *_ = ran.out.splitlines()
    assert usage.startswith(f"Usage: kitbuilder {words} ")
    assert blank == ""
    assert len(purpose.split()) >= 3
    # only the top offers to install completion
    assert "completion" not in ran.out
    assert run(tmp_path, *words.split(), "-h") == ran


@pytest.mark.parametrize("words", [
    "demo", "jobs", "kit", "options", "why", "catalogue check", "catalogue compare", "catalogue compile",
    "catalogue import", "catalogue draft", "store backup", "store restore"])
def test_what_takes_words_shows_an_example(words: str, tmp_path: Path) -> None:
    assert f"kitbuilder {words} " in run(tmp_path, *words.split(), "--help").out.partition("Example")[2]


@pytest.mark.parametrize("words", ALL)
def test_every_option_and_argument_has_a_help_text(words: str) -> None:
    for param in ALL[words].params:  # type: ignore[attr-defined]
        assert len((param.help or "").split()) >= 3, param.name


@pytest.mark.parametrize("columns", ["80", "100"])
@pytest.mark.parametrize("words", ["", *ALL])
def test_help_fits_eighty_columns(words: str, columns: str, tmp_path: Path) -> None:
    lines = run(tmp_path, *words.split(), "--help", COLUMNS=columns).out.splitlines()
    assert lines
    assert [line for line in lines if len(line) > 80] == []
    assert [line for line in lines if line.endswith("...") and not line.startswith("Usage")] == []


def test_the_top_groups_commands_by_who_uses_them(tmp_path: Path) -> None:
    blocks = run(tmp_path, "--help").out.split("\n\n")
    by_heading = {block.splitlines()[0]: [line.split()[0] for line in block.splitlines()[1:]] for block in blocks}
    for who in dict.fromkeys(entry.who for entry in COMMANDS.values()):
        assert by_heading[f"{who}:"] == [name for name, entry in COMMANDS.items() if entry.who == who]
    assert by_heading["At the parts counter:"][:3] == ["jobs", "kit", "why"]


def test_without_a_command_the_help_is_shown(tmp_path: Path) -> None:
    assert run(tmp_path) == run(tmp_path, "--help")
    assert run(tmp_path, "catalogue") == run(tmp_path, "catalogue", "--help")


def test_the_top_offers_to_install_completion(tmp_path: Path) -> None:
    assert "--install-completion" in run(tmp_path, "--help").out


def test_the_version_is_the_installed_one(tmp_path: Path) -> None:
    ran = run(tmp_path, "--version")
    assert (ran.code, ran.out, ran.err) == (0, f"kitbuilder {version('kitbuilder')}\n", "")
