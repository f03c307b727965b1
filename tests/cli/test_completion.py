"""Completion in the shell: what the shells' scripts ask for, and bash itself."""

import os
import subprocess
import sys
import sysconfig
from pathlib import Path

import pytest

from tests.cli.running import KITBUILDER, on_terminal


def asked(folder: Path, **environment: str) -> list[str]:
    """What kitbuilder answers to a shell's completion script."""
    done = subprocess.run(
        KITBUILDER, cwd=folder, env={**os.environ, **environment}, capture_output=True, text=True, check=False)
    assert done.stderr == ""
    return [line for line in done.stdout.splitlines() if line]


def in_bash(folder: Path, *words: str) -> list[str]:
    """The answer to bash, for words as bash takes them apart; the last one is being typed."""
    return asked(
        folder, _KITBUILDER_COMPLETE="complete_bash", COMP_WORDS="\n".join(words), COMP_CWORD=str(len(words) - 1))


def in_fish(folder: Path, line: str) -> list[str]:
    """The answer to fish, which hands over the line as typed."""
    return asked(folder, _KITBUILDER_COMPLETE="complete_fish", _TYPER_COMPLETE_FISH_ACTION="get-args",
                 _TYPER_COMPLETE_ARGS=line)


FACT = ("kitbuilder", "kit", "clutch-replace", "--fact")


@pytest.mark.parametrize(("words", "offered"), [
    (("kitbuilder", "ca"), ["catalogue"]),
    (("kitbuilder", "catalogue", "ch"), ["check"]),
    (("kitbuilder", "kit", "--fa"), ["--fact"]),
    (("kitbuilder", "kit", "actuator-"), ["actuator-replace", "actuator-new", "actuator-repair"]),
    (("kitbuilder", "why", "gearbox-o"), ["gearbox-oil-change"]),
    ((*FACT, "ax"), ["axles=", "axle="]),
    (("kitbuilder", "why", "clutch-replace", "--seen", "em"), ["emissions="]),
    ((*FACT, "power-take-off", "="), ["yes", "no"]),
    ((*FACT, "gearbox", "=", "Tarnholt\\ l"), ["Tarnholt\\ light\\ 6\\ early", "Tarnholt\\ light\\ 6\\ late"]),
    ((*FACT, "gearbox", "=", '"Tarnholt l'), ["Tarnholt light 6 early", "Tarnholt light 6 late"]),
    ((*FACT, "gearbox", "=", "'Osmerby m"), ["Osmerby manual 9", "Osmerby manual 6"]),
    ((*FACT, "emissions", "=", "before"), ["before\\ Euro\\ VI"]),
    ((*FACT, "emissions", "=", "zzz"), []),
    ((*FACT, "nofact", "="), []),
    ((*FACT, "zz"), []),
    (("kitbuilder", "kit", "zz"), []),
])
def test_bash_is_offered(workshop: Path, words: tuple[str, ...], offered: list[str]) -> None:
    assert in_bash(workshop, *words) == offered


def test_fish_is_offered_whole_pairs(workshop: Path) -> None:
    assert in_fish(workshop, "kitbuilder kit clutch-replace --fact 'gearbox=Osmerby m") == [
        "gearbox=Osmerby manual 9", "gearbox=Osmerby manual 6"]
    assert in_fish(workshop, "kitbuilder kit gearbox-o") == ["gearbox-oil-change\tChange the gearbox oil"]


def test_nothing_is_offered_and_nothing_said_where_there_is_no_catalogue(tmp_path: Path) -> None:
    assert in_bash(tmp_path, "kitbuilder", "kit", "act") == []
    assert in_bash(tmp_path, *FACT, "gearbox", "=", "T") == []
    (tmp_path / "kitbuilder.toml").write_text("catalogue = ")
    assert in_bash(tmp_path, "kitbuilder", "kit", "act") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_every_shell_gets_a_script(tmp_path: Path, shell: str) -> None:
    script = "\n".join(asked(tmp_path, _KITBUILDER_COMPLETE=f"source_{shell}"))
    assert f"_KITBUILDER_COMPLETE=complete_{shell}" in script


@pytest.mark.parametrize(("typed", "completed"), [
    ("kitbuilder kit gearbox-o\t", "kitbuilder kit gearbox-oil-change "),
    ("kitbuilder kit clutch-replace --fact gearb\t", "--fact gearbox="),
    ("kitbuilder kit clutch-replace --fact gearbox=Osmerby\\ a\t", "--fact gearbox=Osmerby\\ automatic\\ 6 "),
    ("kitbuilder kit clutch-replace --fact gearbox=\"Osmerby a\t", "--fact gearbox=\"Osmerby automatic 6\" "),
])
def test_bash_itself_completes(workshop: Path, typed: str, completed: str) -> None:
    scripts = Path(sysconfig.get_path("scripts"))
    assert (scripts / "kitbuilder").exists()
    environment = {"PATH": f"{scripts}:{os.environ['PATH']}", "TERM": "dumb", "PS1": "ready> ", "INPUTRC": os.devnull}
    # the prompt comes back when the line is given up, and then the shell ends
    code, screen = on_terminal(
        [sys.executable, "-c", "import fcntl, os, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); "
         "os.execvp('bash', ['bash', '--norc', '--noprofile', '-i'])"],
        workshop, [("ready> ", 'eval "$(_KITBUILDER_COMPLETE=source_bash kitbuilder)"\n'), ("ready> ", typed),
                   (completed, "\x15exit 7\n")], columns=200, environment=environment)
    assert code == 7
    assert completed in screen
