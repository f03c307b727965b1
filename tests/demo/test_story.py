"""The demo's story: it comes out as it is known to, whole, and everything it shows can be typed."""

import os
import re
import shlex
import shutil
import socket
import sqlite3
import subprocess
import sysconfig
from pathlib import Path

import pytest

from kitbuilder.demo.story import NEXT, STORY, WITH_SUPPLIER, Step, tell, to_reach, typed_lines
from kitbuilder.demo.workshop import FAULTY, lay_out, supplier_of
from kitbuilder.show.command import command_lines
from kitbuilder.show.paper import Paper
from tests.cli.running import KITBUILDER, Ran, run


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Ran]]:
    """A workshop of its own in which every step was run, one after the other, and how each ended."""
    folder = tmp_path_factory.mktemp("walked") / "workshop"
    lay_out(folder)
    with supplier_of(folder):
        # as wide as the story lets its commands write
        return folder, [
            run(folder, *step.words, COLUMNS="78", typed=(folder / step.reads).read_bytes() if step.reads else b"")
            for step in STORY]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The whole story, as `kitbuilder demo my-demo` prints it."""
    ran = run(tmp_path_factory.mktemp("told"), "demo", "my-demo", COLUMNS="80")
    assert (ran.code, ran.err) == (0, "")
    return ran.out


@pytest.mark.parametrize("number", range(len(STORY)), ids=lambda at: f"{at + 1} {' '.join(STORY[at].words[:3])}")
def test_a_step_ends_as_known_and_its_sections_exist(walked: tuple[Path, list[Ran]], number: int) -> None:
    step, ran = STORY[number], walked[1][number]
    assert ran.code == step.code, ran.err
    if step.reads:
        assert ran.out and ran.err
    else:
        assert bool(ran.out) != bool(ran.err)
    sections = (ran.err + ran.out).split("\n\n")
    for begins in step.sections:
        assert [one for one in sections if one.startswith(begins)], begins


def test_every_step_is_told_and_none_ended_otherwise(told: str) -> None:
    flat = " ".join(told.split())
    for number, step in enumerate(STORY, 1):
        assert f"{number}. {step.tell}" in flat
        for begins in step.sections:
            assert f"\n  {begins}" in told
    assert "was expected" not in told
    assert "can't be run here" not in told
    assert re.findall(r"\(exit code (\d)\)", told) == [str(step.code) for step in STORY if step.code]


def test_the_story_is_the_point(told: str) -> None:
    flat = " ".join(told.split())
    assert "emissions Euro V, EEV or Euro VI (follows from gearbox by combinations/gearbox-generations.csv; and from " \
           "registered by combinations/emissions-dates.csv)" in flat
    assert "emissions Euro V (seen on the vehicle)" in flat
    assert "SHORT by 1: no source has it" in flat
    assert "They disagree by combinations/emissions-dates.csv." in flat
    assert "Nothing fills Exhaust clamp (exhaust-clamp)" in flat
    assert "No problem in 19 job types" in flat


def answer(walked: tuple[Path, list[Ran]], *words: str, last: bool = False) -> str:
    """What a command of the story answered, in one line; the first of those that are typed twice, or the last."""
    found = [ran for step, ran in zip(STORY, walked[1], strict=True) if step.words[:len(words)] == words]
    assert found, words
    return " ".join((found[-1] if last else found[0]).out.split())


def state_of(report: str, booking: int) -> str:
    """The heading under which a booking stands in a report."""
    before = report[:re.search(rf" {booking} 2026-03-1\d \d\d:\d\d ", report).start()]  # type: ignore[union-attr]
    return re.findall(r"(READY BY STAGE|NOT READY|READY|ASK FIRST|ENQUIRY|NEEDS A PERSON): \d+ booking", before)[-1]


def test_the_night_is_the_point(walked: tuple[Path, list[Ran]]) -> None:
    report = answer(walked, "night", "run")
    # off the road before the one that starts earlier; asked first; short; not authorised
    assert [state_of(report, booking) for booking in (3, 5, 2, 4, 12)] == [
        "NOT READY", "READY", "ASK FIRST", "NOT READY", "ENQUIRY"]
    assert "Which emissions generation is the vehicle?" in report
    assert "(TH-10310): neither held nor ordered" in report
    assert "Order 3 at wholesaler, for bookings 9, 11, waits for a decision before 2026-03-11 10:00" in report
    # told what stands out: off the road, of one visit, past its day
    assert "clutch-actuator-replace, DEMO 024, VOR" in report
    assert "air-dryer-cartridge, DEMO 008, visit V-118" in report
    assert "lot S-0917, in E-01-2-1 was to be used by 2026-02-28" in report
    # the build date of the gearbox makes a generation likelier, but no line hangs on it
    assert "Which build date" not in report
    assert "failed" not in report


def test_the_shelf_is_the_point(walked: tuple[Path, list[Ran]]) -> None:
    promised = re.findall(r"([A-Z]{2}-\d+) \S+ [\d.]+ \w+ ([\d.]+) \w+(?: (S-\d+))?", answer(walked, "stock", "list"))
    # nothing of the sealant past its day, all of the old nuts before any of the new ones
    assert promised == [("CO-50220", "0", "S-0917"), ("CO-50220", "10", "S-1102"), ("OS-22310", "1", ""),
                        ("PS-70130", "5", ""), ("PS-70131", "7", "")]


def test_the_bay_is_the_point(walked: tuple[Path, list[Ran]]) -> None:
    assert "5 each PS-70130" in answer(walked, "pick", "7")
    assert "3 each PS-70131" in answer(walked, "pick", "7")
    assert "WITH ANOTHER BOOKING OF THIS VISIT - Gloves, nitrile: 2 pair with booking 7" in answer(walked, "pick", "8")
    assert "IN THE TOTE" in answer(walked, "pick", "7", "--done")
    [checked] = [ran for step, ran in zip(STORY, walked[1], strict=True) if step.reads]
    assert checked.err.count("WRONG ITEM") == 1
    assert "WRONG ITEM: Output shaft seal, Tarnholt automated 12 (TH-14120)" in checked.said
    assert "13 items signed for" in checked.said
    assert answer(walked, "check", "7").startswith("Booking 7: START.")
    assert answer(walked, "check", "4").startswith("Booking 4: DON'T START")
    assert state_of(answer(walked, "night", "run", last=True), 11) == "READY BY STAGE"
    assert answer(walked, "stock", "audit") == "Every balance is proved by the ledger."


def tables(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    """All rows of the store, but for the runs' own record."""
    with sqlite3.connect(folder / "workshop.db") as store:
        names = [name for name, in store.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
        return {name: sorted(store.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr)
                for name in names if not name.startswith(("run", "sqlite_"))}


def test_a_run_more_changes_nothing(walked: tuple[Path, list[Ran]], tmp_path: Path) -> None:
    folder = tmp_path / "workshop"
    shutil.copytree(walked[0], folder)
    before = tables(folder)
    assert sum(len(rows) for rows in before.values()) > 400
    with supplier_of(folder):
        again = run(folder, "night", "run", COLUMNS="78")
    assert again.out == walked[1][-2].out
    assert tables(folder) == before


def test_without_its_supplier_the_run_says_so(tmp_path: Path) -> None:
    lay_out(tmp_path)
    settings = tmp_path / "kitbuilder.toml"
    # a port that nobody listens at: another demo's supplier may be at the usual one
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        settings.write_text(settings.read_text().replace(":8937", f":{free.getsockname()[1]}"))
        ran = run(tmp_path, "night", "run")
    assert ran.code == 4
    assert "The source wholesaler failed: http-supplier of kitbuilder:" in " ".join(ran.out.split())


def test_the_story_fits_its_paper(told: str) -> None:
    long = [line for line in told.splitlines() if len(line) > 80]
    # a path can't be broken
    assert [line for line in long if not line.startswith("  export PATH=")] == []


def test_the_fault_is_found_in_every_job_that_needs_the_row(workshop: Path) -> None:
    ran = run(workshop, "catalogue", "check", "--catalogue", FAULTY)
    jobs = re.findall(r"^([a-z-]+)\n  - GAP: ", ran.out, re.MULTILINE)
    assert len(jobs) == 7
    assert {"actuator-replace", "exhaust-joint-renew", "clutch-replace"} <= set(jobs)
    assert ran.out.count("Nothing fills Exhaust clamp") == 7


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


def in_shell(folder: Path, text: str, **environment: str) -> "subprocess.CompletedProcess[str]":
    script = f'kitbuilder() {{ {shlex.join(KITBUILDER)} "$@"; }}\n{text}\n'
    return subprocess.run(["bash", "-c", script], cwd=folder, env={**os.environ, **environment},
                          stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)


@pytest.mark.long
def test_every_command_shown_can_be_typed_as_it_stands(
        walked: tuple[Path, list[Ran]], told: str, tmp_path: Path) -> None:
    typed = commands(told, "  $ ")
    assert len(typed) == len(STORY)
    lay_out(tmp_path)
    with supplier_of(tmp_path):
        for step, text, ran in zip(STORY, typed, walked[1], strict=True):
            done = in_shell(tmp_path, text, COLUMNS="78")
            assert (done.returncode, done.stdout, done.stderr) == (step.code, ran.out, ran.err), text


def test_what_to_type_next_works_where_the_story_says(walked: tuple[Path, list[Ran]], told: str) -> None:
    rest = told.partition("What to type next\n")[2]
    assert next(line for line in rest.splitlines() if not line.startswith("  export PATH=")) == "  cd my-demo"
    alone, _, with_supplier = rest.partition("With the wholesaler")
    assert with_supplier
    for text, every in ((alone, NEXT), (with_supplier, (("demo", "supplier"), *WITH_SUPPLIER))):
        assert [shlex.split(one.replace("\\\n", "")) for one in commands(text, "  ")] == [
            ["kitbuilder", *words] for words in every]
    for text in commands(alone, "  "):
        done = in_shell(walked[0], text)
        # what is asked stands on standard error
        assert (done.returncode, bool(done.stderr), bool(done.stdout)) == (0, "--ask" in text, True), text


def test_the_supplier_runs_as_a_command_until_it_is_interrupted(walked: tuple[Path, list[Ran]], told: str) -> None:
    folder = walked[0]
    with supplier_of(folder):
        pass  # it has a port of its own now, whatever else runs here
    with subprocess.Popen([*KITBUILDER, "demo", "supplier"], cwd=folder, text=True, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE) as process:
        try:
            assert process.stdout is not None
            said = process.stdout.readline()
            url = re.search(r'url = "([^"]+)"', (folder / "kitbuilder.toml").read_text())
            assert url and said == f"The demo's wholesaler answers at {url[1]}. Ctrl-C ends it.\n"
            for text in commands(told.partition("With the wholesaler")[2], "  ")[1:]:
                done = in_shell(folder, text)
                assert (done.returncode, done.stderr) == (0, ""), text
            again = run(folder, "demo", "supplier")
            assert (again.code, "is another demo supplier running?" in again.said) == (2, True)
            process.send_signal(2)
            out, complaints = process.communicate(timeout=20)
        finally:
            process.kill()
    assert (process.returncode, complaints) == (0, "")
    assert [bool(re.fullmatch(r"asked for \d+ items, answered \d+ offers", line)) for line in out.splitlines()] == [
        True] * len(WITH_SUPPLIER)
    assert run(folder, "sources").code == 4


def test_supplier_is_a_folder_where_there_is_one(tmp_path: Path) -> None:
    (tmp_path / "supplier").mkdir()
    assert run(tmp_path, "demo", "supplier", "--quiet") == Ran(0, "supplier\n", "")
    assert (tmp_path / "supplier" / "catalogue").is_dir()


def test_the_supplier_outside_a_demo_is_explained(tmp_path: Path) -> None:
    ran = run(tmp_path, "demo", "supplier")
    assert ran.code == 2
    assert "Type this inside a demo folder" in ran.said
    assert list(tmp_path.iterdir()) == []


def test_a_shell_that_does_not_find_kitbuilder_is_told_how(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    scripts = Path(sysconfig.get_path("scripts"))
    monkeypatch.setenv("PATH", str(tmp_path))
    lines = to_reach()
    assert lines == [f'export PATH="{scripts}:$PATH"']
    found = subprocess.run(["/bin/bash", "-c", f"{lines[0]}; command -v kitbuilder"], env={"PATH": str(tmp_path)},
                           capture_output=True, text=True, check=True)
    assert found.stdout == f"{scripts}/kitbuilder\n"
    monkeypatch.setenv("PATH", str(scripts))
    assert to_reach() == []


def test_the_path_is_quoted_for_a_shell(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    scripts = tmp_path / 'a "strange" $HOME `folder`'
    scripts.mkdir()
    (scripts / "kitbuilder").write_text("#!/bin/sh\n")
    (scripts / "kitbuilder").chmod(0o755)
    monkeypatch.setattr(sysconfig, "get_path", lambda name: str(scripts))
    monkeypatch.setenv("PATH", str(tmp_path))
    found = subprocess.run(["/bin/bash", "-c", f"{to_reach()[0]}; command -v kitbuilder"], env={"PATH": "/nowhere"},
                           capture_output=True, text=True, check=True)
    assert found.stdout == f"{scripts}/kitbuilder\n"


@pytest.mark.parametrize("width", [60, 80, 100])
def test_commands_can_be_typed_whatever_the_width(tmp_path: Path, width: int) -> None:
    for step in STORY:
        lines = typed_lines(step, Paper(width), "  ")
        assert [line for line in lines if len(line) > width] == []
        if step.reads:
            (tmp_path / step.reads).write_text("read")
        script = 'kitbuilder() { printf "%s\\n" "$@"; cat; }\n' + "\n".join(lines)
        said = subprocess.run(["bash", "-c", script], cwd=tmp_path, stdin=subprocess.DEVNULL, capture_output=True,
                              text=True, check=True).stdout
        assert said.splitlines() == [*step.words, *(["read"] if step.reads else [])]


def test_commands_of_the_end_fit_too() -> None:
    for words in (*NEXT, *WITH_SUPPLIER):
        assert [line for line in command_lines(words, Paper(60), "  ") if len(line) > 60] == []


def test_a_step_that_ends_otherwise_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lay_out(tmp_path)
    monkeypatch.setattr("kitbuilder.demo.story.STORY", (Step("What can't be.", ("kit", "not-a-job")),))
    written: list[str] = []
    tell(tmp_path, "my-demo", Paper(80), written.append)
    assert "(it ended with exit code 2, where 0 was expected)" in "".join(written)


def test_the_story_is_the_same_every_time_and_names_the_folder(told: str, tmp_path: Path) -> None:
    ran = run(tmp_path, "demo", COLUMNS="80", TMPDIR=str(tmp_path), TZ="Pacific/Kiritimati", PYTHONHASHSEED="7",
              LC_ALL="C")
    [folder] = tmp_path.iterdir()
    assert (ran.code, ran.err) == (0, "")
    assert f"lies in {folder}." in " ".join(ran.out.split())
    # but for where it lies, which is said first and last
    stories = [
        " ".join(text.partition("\n1. ")[2].partition("What to type next")[0].split()) for text in (told, ran.out)]
    assert stories[0]
    assert stories[0] == stories[1]


def test_without_a_folder_it_names_its_own(tmp_path: Path) -> None:
    ran = run(tmp_path, "demo", "--quiet", TMPDIR=str(tmp_path))
    assert (ran.code, ran.err) == (0, "")
    folder = Path(ran.out.strip())
    assert folder.parent == tmp_path
    assert run(folder, "jobs").code == 0
