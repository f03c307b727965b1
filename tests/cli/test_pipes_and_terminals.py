"""Pipes that close, colours where they show, widths, and the same bytes everywhere."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import KITBUILDER, on_terminal, run

LORRY = ("--vehicle", "DEMO 005")
ANSWERS = {
    "jobs": ("jobs",),
    "kit": ("kit", "actuator-replace", *LORRY),
    "kit, quiet": ("kit", "actuator-replace", *LORRY, "--quiet"),
    "kit with sources": ("kit", "clutch-replace", "--vehicle", "DEMO 026", "--source"),
    "why": ("why", "actuator-replace", "line-fuse"),
    "why an item": ("why", "actuator-replace", "EX-71130", *LORRY),
    "check": ("catalogue", "check"),
    "check with a fault": ("catalogue", "check", "--catalogue", "catalogue-with-a-fault"),
    "compare": ("catalogue", "compare", "catalogue", "catalogue-with-a-fault"),
    "compile": ("catalogue", "compile"),
    "sources": ("sources",),
    "plugins": ("plugins",),
}
NAMES = list(ANSWERS)


@pytest.mark.parametrize("name", [*NAMES, "json"])
def test_a_reader_that_has_seen_enough_ends_it_quietly(workshop: Path, name: str) -> None:
    words = ANSWERS.get(name, (*ANSWERS["kit"], "--json"))
    code = run(workshop, *words).code
    reading, writing = os.pipe()
    os.close(reading)  # nobody reads any more, before the first byte
    with os.fdopen(writing, "w") as closed:
        ran = subprocess.run([*KITBUILDER, *words], cwd=workshop, stdout=closed, stderr=subprocess.PIPE, check=False)
    assert (ran.returncode, ran.stderr) == (code, b"")


def test_the_first_line_of_a_kit_in_a_shell(workshop: Path) -> None:
    ran = subprocess.run(
        ["bash", "-c", '"$@" | head -1; echo "${PIPESTATUS[0]}"', "bash", *KITBUILDER, *ANSWERS["kit"]], cwd=workshop,
        capture_output=True, text=True, check=False)
    assert ran.stdout.splitlines() == ["Replace the actuator unit of an automated gearbox", "0"]
    assert ran.stderr == ""


def test_a_full_disk_is_said_and_is_no_success(workshop: Path) -> None:
    with open("/dev/full", "w") as full:
        ran = subprocess.run(
            [*KITBUILDER, "jobs"], cwd=workshop, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert ran.returncode == 6
    assert "No space left on device" in ran.stderr
    assert "Traceback" not in ran.stderr


@pytest.mark.parametrize("name", NAMES)
def test_headings_are_bold_on_a_terminal_that_can(workshop: Path, name: str) -> None:
    _, screen = on_terminal([*KITBUILDER, *ANSWERS[name]], workshop)
    piped = run(workshop, *ANSWERS[name])
    if name not in ("compile",) and "No problem" not in screen:  # these have no heading
        assert "\x1b[1m" in screen
    assert screen.count("\x1b[1m") == screen.count("\x1b[0m")
    assert "\x1b" not in piped.out + piped.err
    assert screen.replace("\x1b[1m", "").replace("\x1b[0m", "") == piped.err + piped.out


@pytest.mark.parametrize("environment", [{"NO_COLOR": "1"}, {"TERM": "dumb"}], ids=["NO_COLOR", "dumb"])
def test_no_codes_where_they_are_not_wanted(workshop: Path, environment: dict[str, str]) -> None:
    command = [*KITBUILDER, *ANSWERS["kit"]]
    assert "\x1b" not in on_terminal(command, workshop, environment=environment)[1]
    # an empty NO_COLOR is none
    assert "\x1b[1m" in on_terminal(command, workshop, environment={"NO_COLOR": ""})[1]


def too_long(text: str, width: int) -> list[str]:
    """Lines wider than they may be; a single word that is too long can't be helped."""
    return [line for line in text.splitlines() if len(line) > width and len(line.split()) > 1]


@pytest.mark.parametrize("width", [60, 72, 80, 100])
@pytest.mark.parametrize("name", NAMES)
def test_no_line_is_wider_than_the_terminal(workshop: Path, name: str, width: int) -> None:
    ran = run(workshop, *ANSWERS[name], COLUMNS=str(width))
    assert ran.out
    assert too_long(ran.out + ran.err, width) == []


def test_a_pipe_is_eighty_wide_and_a_terminal_as_wide_as_it_is(workshop: Path) -> None:
    words = ANSWERS["kit"]
    piped = run(workshop, *words).out
    assert piped == run(workshop, *words, COLUMNS="80").out
    for columns, same_as in ((70, "70"), (40, "60"), (200, "100")):
        _, screen = on_terminal([*KITBUILDER, *words], workshop, columns=columns, environment={"NO_COLOR": "1"})
        assert screen == run(workshop, *words, COLUMNS=same_as).out


OTHER = {
    "another locale": {"LC_ALL": "tr_TR.UTF-8"},
    "no UTF-8 in the locale": {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"},
    "Latin 1": {"PYTHONIOENCODING": "latin-1"},
    "another zone": {"TZ": "Pacific/Kiritimati"},
    "another zone, far west": {"TZ": "Pacific/Pago_Pago"},
    "one hash seed": {"PYTHONHASHSEED": "1"},
    "another hash seed": {"PYTHONHASHSEED": "4242"},
}


@pytest.mark.parametrize("name", ["kit with sources", "check with a fault", "why", "jobs"])
@pytest.mark.parametrize("other", OTHER)
def test_the_same_bytes_on_every_machine(workshop: Path, name: str, other: str) -> None:
    words = ANSWERS[name]
    assert run(workshop, *words, **OTHER[other]) == run(workshop, *words)
    assert run(workshop, *words, "--json", **OTHER[other], COLUMNS="60") == run(workshop, *words, "--json")


def test_what_is_not_ascii_comes_through_whole(workshop: Path) -> None:
    ran = run(workshop, *ANSWERS["kit"], **OTHER["no UTF-8 in the locale"])
    assert "--fact built=…" in ran.out


_NEXT_DAY = """\
import datetime, time
_day = 86400
_datetime, _time, _time_ns = datetime.datetime, time.time, time.time_ns
class Later(_datetime):
    @classmethod
    def now(cls, tz=None):
        return _datetime.now(tz) + datetime.timedelta(days=1)
datetime.datetime = Later
time.time = lambda: _time() + _day
time.time_ns = lambda: _time_ns() + _day * 1_000_000_000
"""


def test_a_kit_is_the_same_the_next_day(workshop: Path, tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(_NEXT_DAY)
    later = {"PYTHONPATH": str(tmp_path)}
    print_day = [sys.executable, "-c", "import datetime; print(datetime.datetime.now().date())"]
    days = [subprocess.run(print_day, env={**os.environ, **more}, capture_output=True, check=True).stdout
            for more in ({}, later)]
    assert days[0] != days[1]
    # outside the demo's folder, where the clock runs
    words = ("kit", "actuator-replace", "--fact", "registered=2013-06-14", "--catalogue", str(workshop / "catalogue"))
    outside = tmp_path / "outside"
    outside.mkdir()
    for one in ((), ("--json",)):
        assert run(outside, *words, *one, **later) == run(outside, *words, *one)


def test_the_clock_of_a_demo_stands_still(workshop: Path) -> None:
    # on any day but one the machine's clock would make these stale, or the arrivals past
    assert "fresh, told 30 min ago" in run(workshop, "sources").out
    kit = run(workshop, *ANSWERS["kit with sources"]).out
    assert "there now" in kit
    assert "from Wed 11 Mar 08:00" in kit
    assert "STALE" not in kit


@pytest.mark.parametrize("name", NAMES)
def test_json_is_one_value_on_standard_output(workshop: Path, name: str) -> None:
    ran = run(workshop, *ANSWERS[name], "--json")
    answer = json.loads(ran.out)
    assert answer["format"].startswith("kitbuilder.")
    assert answer["warnings"] == []
    assert ran.err == ""
    assert ran.code == run(workshop, *ANSWERS[name]).code


def test_warnings_are_in_the_json_and_on_standard_error(workshop: Path) -> None:
    ran = run(workshop, "kit", "actuator-replace", *LORRY, "--seen", "gearbox=Osmerby manual 9", "--json")
    warnings = json.loads(ran.out)["warnings"]
    # the register says so, and so does the VIN that it knows
    places = [warning.partition("(")[2].partition(")")[0] for warning in warnings]
    assert places == ["fleet.csv line 6", "vin.csv line 6"]
    set_aside = "gearbox = light automated (fleet.csv line 6) disagrees with gearbox = Osmerby manual 9 (seen)."
    assert set_aside in warnings[0]
    assert ran.said == " ".join(f"warning: {warning}" for warning in warnings)
