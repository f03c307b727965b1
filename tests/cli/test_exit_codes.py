"""Each exit code, by a command that ends with it."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from kitbuilder.settings import DEMO_MARK, FILE
from tests.cli.running import run

EURO_SIX = ("--fact", "emissions=Euro VI")
FAULTY = ("--catalogue", "catalogue-with-a-fault")


@pytest.fixture
def failing(workshop: Path, tmp_path: Path) -> Path:
    """A workshop whose supplier's file is gone, and whose register is a folder."""
    folder = tmp_path / "workshop"
    shutil.copytree(workshop, folder)
    (folder / "prices-supplier.csv").unlink()
    (folder / "fleet.csv").unlink()
    (folder / "fleet.csv").mkdir()
    return folder


def test_zero_where_questions_are_open(workshop: Path) -> None:
    ran = run(workshop, "kit", "clutch-replace")
    assert ran.code == 0
    assert "ASK NEXT" in ran.out


def test_zero_where_a_problem_is_only_possible(workshop: Path) -> None:
    ran = run(workshop, "kit", "exhaust-joint-renew", *FAULTY)
    assert ran.code == 0
    assert "Possibly: Nothing fills Exhaust clamp" in " ".join(ran.out.split())


@pytest.mark.parametrize("words", [
    ("kit", "exhaust-joint-renew", *FAULTY, *EURO_SIX),
    ("why", "exhaust-joint-renew", "exhaust-clamp", *FAULTY, *EURO_SIX),
    ("catalogue", "check", *FAULTY),
    ("kit", "actuator-replace", "--vehicle", "DEMO 001", "--fact", "access=in the frame", "--source"),
], ids=["a certain problem", "why of it", "check", "a shortage"])
def test_one_where_the_answer_is_no(workshop: Path, words: tuple[str, ...]) -> None:
    ran = run(workshop, *words)
    assert (ran.code, ran.err) == (1, "")
    assert ran.out
    assert run(workshop, *words, "--json").code == 1


def test_two_for_wrong_use(workshop: Path) -> None:
    assert run(workshop, "kit", "nothing-like-it").code == 2


def test_three_for_bad_data(workshop: Path) -> None:
    assert run(workshop, "kit", "clutch-replace", "--catalogue", "nowhere").code == 3


def test_four_where_a_source_failed(failing: Path) -> None:
    # the shortage of DEMO 001 would be exit code 1
    ran = run(failing, "kit", "actuator-replace", "--fact", "gearbox=Tarnholt light 6 early", "--source")
    assert ran.code == 4
    assert "warning: The source supplier failed:" in ran.said
    assert "supplier: not known, the source failed" in ran.out
    assert "SHORT? not known, as a source failed" in ran.out
    assert run(failing, "sources").code == 4


def test_four_where_a_register_failed(failing: Path) -> None:
    ran = run(failing, "kit", "clutch-replace", "--vehicle", "DEMO 004")
    assert ran.code == 4
    assert "warning: The register fleet failed" in ran.said
    assert "Replace the clutch" in ran.out


def test_quiet_silences_no_warning(failing: Path) -> None:
    loud = run(failing, "kit", "clutch-replace", "--vehicle", "DEMO 004")
    quiet = run(failing, "kit", "clutch-replace", "--vehicle", "DEMO 004", "--quiet")
    assert quiet.err == loud.err != ""
    assert len(quiet.out) < len(loud.out)


def test_six_for_a_fault_of_ours(tmp_path: Path) -> None:
    script = "from kitbuilder.cli.app import COMMANDS, Entry, main\n" \
             "COMMANDS['odd'] = Entry('not_there', '', '')\nmain(['odd'])"

    def odd(**more: str) -> "subprocess.CompletedProcess[str]":
        return subprocess.run([sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, check=False,
                              env={"HOME": str(tmp_path), **more})

    ran = odd()
    assert (ran.returncode, ran.stdout) == (6, "")
    assert ran.stderr.startswith("This is a fault of kitbuilder: ModuleNotFoundError: ")
    assert "Traceback" not in ran.stderr
    assert "Traceback" in odd(KITBUILDER_TRACE="1").stderr


def test_a_standing_clock_is_refused_outside_a_demo(workshop: Path, tmp_path: Path) -> None:
    shutil.copy(workshop / FILE, tmp_path)
    ran = run(tmp_path, "jobs", "--catalogue", str(workshop / "catalogue"))
    assert ran.code == 3
    assert "'now' fixes the clock, which only a demo folder may" in ran.said
    (tmp_path / DEMO_MARK).touch()
    assert run(tmp_path, "jobs", "--catalogue", str(workshop / "catalogue")).code == 0
