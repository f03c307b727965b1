"""The demo's story: it comes out as it is known to, whole, and everything it shows can be typed."""

import re
import shlex
import subprocess
from pathlib import Path

import pytest

from kitbuilder.demo.story import NEXT, STORY, Step, tell
from kitbuilder.demo.workshop import FAULTY, lay_out
from kitbuilder.show.command import command_lines
from kitbuilder.show.paper import Paper
from tests.cli.running import KITBUILDER, run


@pytest.fixture(scope="module")
def told(workshop: Path) -> str:
    """The whole story, as `kitbuilder demo` prints it."""
    written: list[str] = []
    tell(workshop, "my-demo", Paper(80), written.append)
    return "".join(written)


@pytest.mark.parametrize("step", STORY, ids=lambda step: " ".join(step.words[:2]) + step.tell[:12])
def test_a_step_ends_as_known_and_its_sections_exist(workshop: Path, step: Step) -> None:
    # as wide as the story lets its commands write
    ran = run(workshop, *step.words, COLUMNS="78")
    assert ran.code == step.code
    assert bool(ran.out) != bool(ran.err)
    sections = ran.out.split("\n\n")
    for begins in step.sections:
        assert [one for one in sections if one.startswith(begins)], begins


def test_every_step_is_told_and_none_ended_otherwise(told: str) -> None:
    flat = " ".join(told.split())
    for number, step in enumerate(STORY, 1):
        assert f"{number}. {step.tell}" in flat
        for begins in step.sections:
            assert f"\n  {begins}" in told
    assert "was expected" not in told
    assert re.findall(r"\(exit code (\d)\)", told) == [str(step.code) for step in STORY if step.code]


def test_the_story_is_the_point(told: str) -> None:
    flat = " ".join(told.split())
    assert "emissions Euro V, EEV or Euro VI (follows from gearbox by combinations/gearbox-generations.csv; and from " \
           "registered by combinations/emissions-dates.csv)" in flat
    assert "emissions Euro V (seen on the vehicle)" in flat
    assert "SHORT by 1: no source has it" in flat
    assert "They disagree by combinations/emissions-dates.csv." in flat
    assert "Nothing fills Exhaust clamp (exhaust-clamp)" in flat
    assert "No problem in 18 job types" in flat


def test_the_story_fits_its_paper(told: str) -> None:
    assert [line for line in told.splitlines() if len(line) > 80] == []


def test_the_fault_is_found_in_every_job_that_needs_the_row(workshop: Path) -> None:
    ran = run(workshop, "catalogue", "check", "--catalogue", FAULTY)
    jobs = re.findall(r"^([a-z-]+)\n  - GAP: ", ran.out, re.MULTILINE)
    assert len(jobs) == 6
    assert {"actuator-replace", "exhaust-joint-renew", "clutch-replace"} <= set(jobs)
    assert ran.out.count("Nothing fills Exhaust clamp") == 6


def commands(text: str, before: str) -> list[str]:
    """The commands of a text, as they stand there: lines that begin so, and those that they go on with."""
    found: list[str] = []
    goes_on = False
    for line in text.splitlines():
        if goes_on:
            found[-1] += "\n" + line
        elif line.startswith(before + "kitbuilder "):
            found.append(line.removeprefix(before))
        else:
            continue
        goes_on = line.endswith(" \\")
    return found


def in_shell(folder: Path, text: str) -> "subprocess.CompletedProcess[str]":
    script = f'kitbuilder() {{ {shlex.join(KITBUILDER)} "$@"; }}\n{text}\n'
    return subprocess.run(["bash", "-c", script], cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, text=True,
                          check=False)


def test_every_command_shown_can_be_typed_as_it_stands(workshop: Path, told: str) -> None:
    typed = commands(told, "  $ ")
    assert len(typed) == len(STORY)
    for step, text in zip(STORY, typed, strict=True):
        done = in_shell(workshop, text)
        ran = run(workshop, *step.words)
        assert (done.returncode, done.stdout, done.stderr) == (step.code, ran.out, ran.err)


def test_what_to_type_next_works_where_the_story_says(workshop: Path, told: str) -> None:
    rest = told.partition("What to type next\n")[2]
    assert rest.splitlines()[0] == "  cd my-demo"
    typed = commands(rest, "  ")
    assert len(typed) == len(NEXT)
    for words, text in zip(NEXT, typed, strict=True):
        done = in_shell(workshop, text)
        ran = run(workshop, *words)
        assert (done.returncode, done.stdout, done.stderr) == (0, ran.out, ran.err)


@pytest.mark.parametrize("width", [60, 80, 100])
def test_commands_can_be_typed_whatever_the_width(workshop: Path, width: int) -> None:
    for step in STORY:
        lines = command_lines(step.words, Paper(width), "  ")
        assert [line for line in lines if len(line) > width] == []
        script = 'kitbuilder() { printf "%s\\n" "$@"; }\n' + "\n".join(lines)
        said = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=True).stdout
        assert said.splitlines() == list(step.words)


def test_a_step_that_ends_otherwise_is_said_so(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("kitbuilder.demo.story.STORY", (Step("What can't be.", ("kit", "not-a-job")),))
    written: list[str] = []
    tell(workshop, "my-demo", Paper(80), written.append)
    assert "(it ended with exit code 2, where 0 was expected)" in "".join(written)


def test_the_story_is_the_same_every_time(tmp_path: Path) -> None:
    first = run(tmp_path, "demo", "my-demo", COLUMNS="80")
    again = run(tmp_path, "demo", "my-demo", COLUMNS="80", TZ="Pacific/Kiritimati", PYTHONHASHSEED="7", LC_ALL="C")
    assert (first.code, first.err) == (0, "")
    assert again == first


def test_without_a_folder_it_names_its_own(tmp_path: Path) -> None:
    ran = run(tmp_path, "demo", "--quiet", TMPDIR=str(tmp_path))
    assert (ran.code, ran.err) == (0, "")
    folder = Path(ran.out.strip())
    assert folder.parent == tmp_path
    assert run(folder, "jobs").code == 0


def test_the_story_names_the_temporary_folder(tmp_path: Path) -> None:
    ran = run(tmp_path, "demo", TMPDIR=str(tmp_path))
    [folder] = tmp_path.iterdir()
    assert ran.code == 0
    assert f"lies in {folder}." in " ".join(ran.out.split())
    assert f"  cd {folder}\n" in ran.out


def test_a_folder_whose_name_has_a_space_can_be_entered(tmp_path: Path) -> None:
    folder = tmp_path / "my demo"
    lay_out(folder)
    written: list[str] = []
    tell(folder, str(folder), Paper(80), written.append)
    cd = next(line for line in "".join(written).splitlines() if line.startswith("  cd "))
    assert shlex.split(cd) == ["cd", str(folder)]
