"""One wrong input of each kind: one short paragraph on standard error, the nearest right thing, nothing else."""

import shutil
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.cli.running import run

KIT = ("kit", "actuator-replace")


class Wrong(NamedTuple):
    """What was typed, how it ends, and what has to be said."""

    name: str
    words: tuple[str, ...]
    code: int
    said: tuple[str, ...]


CASES = (
    Wrong("command", ("kti",), 2, ("no command 'kti'.", "Did you mean 'kit'? `kitbuilder --help` lists all.")),
    Wrong("command of a group", ("catalogue", "chek"), 2, ("'chek'", "Did you mean 'check'?")),
    Wrong("job", ("kit", "actuator-replac"), 2, ("no job 'actuator-replac'", "Did you mean 'actuator-replace'?")),
    Wrong("job like no other", ("kit", "xyz"), 2, ("no job 'xyz'", "`kitbuilder jobs` lists all")),
    Wrong("job left out", ("kit",), 2, ("Missing argument 'JOB'. `kitbuilder kit --help` shows how.",)),
    Wrong("a word too many", ("jobs", "more"), 2, ("extra argument", "more", "`kitbuilder jobs --help` shows how.")),
    Wrong("fact", (*KIT, "--fact", "emission=Euro V"), 2, ("no fact 'emission'", "did you mean 'emissions'?")),
    Wrong("value", (*KIT, "--fact", "emissions=Euro 5"), 2, ("emissions can't be 'Euro 5'", "'Euro V'?")),
    Wrong("value in other case", (*KIT, "--fact", "emissions=eev"), 2, ("emissions can't be 'eev'", "'EEV'?")),
    Wrong("no value", (*KIT, "--seen", "emissions="), 2, ("'emissions' was given no value", "leave it out")),
    Wrong("day too early", (*KIT, "--fact", "registered=1999-05-05"), 2, ("the earliest is 2000-10-01",)),
    Wrong("day too late", (*KIT, "--fact", "registered=2031-01-01"), 2, ("the latest is 2030-12-31",)),
    Wrong("day that isn't", (*KIT, "--fact", "registered=2013-02-30"), 2, ("a day that exists",)),
    Wrong("number too large", (*KIT, "--fact", "wheelbase=9999"), 2, ("the largest is 6800",)),
    Wrong("range reversed", (*KIT, "--fact", "registered=2013-12-31 to 2013-01-01"), 2,
          ("Expected the earlier end first: 2013-01-01 to 2013-12-31",)),
    Wrong("no equals sign", (*KIT, "--fact", "emissions"), 2,
          ("--fact 'emissions' lacks an equals sign", "NAME=VALUE")),
    Wrong("option", (*KIT, "--fatc", "emissions=EEV"), 2, ("no option --fatc. Did you mean --fact",)),
    Wrong("option like no other", (*KIT, "--qqq"), 2, ("no option --qqq. `kitbuilder kit --help` shows how.",)),
    Wrong("option without its value", (*KIT, "--vehicle"), 2, ("'--vehicle' requires an argument",)),
    Wrong("registration", (*KIT, "--vehicle", "DEM 015"), 2, ("knows the registration 'DEM 015'", "'DEMO 015'?")),
    Wrong("item of why", ("why", "actuator-replace", "lin-fuse"), 2,
          ("no item or role 'lin-fuse'.", "Did you mean 'line-fuse'?")),
    Wrong("item of why, like none", ("why", "actuator-replace", "qqqqq"), 2,
          ("no item or role 'qqqqq'. Expected one of",)),
    Wrong("catalogue", (*KIT, "--catalogue", "nowhere"), 3, ("no catalogue in nowhere", "--catalogue")),
    Wrong("two that exclude each other", (*KIT, "--fact", "registered=2008-05-01", "--fact", "emissions=Euro VI",
                                          "--fact", "brakes=disc"), 3,
          ("can't be true together: emissions = Euro VI (told) and registered = 2008-05-01 (told).",
           "combinations/emissions-dates.csv")),
    Wrong("one that leaves nothing", (*KIT, "--seen", "brakes=not drum or disc"), 3, ("This leaves no value: brakes",)),
    Wrong("demo in a folder of another", ("demo", "catalogue"), 2, ("catalogue is not empty and not a demo's",)),
    Wrong("demo in a file", ("demo", "fleet.csv"), 2, ("fleet.csv is a file",)),
)


def one_paragraph(err: str) -> None:
    """It is short, whole, and ends as a sentence does."""
    lines = err.splitlines()
    assert lines
    assert "" not in lines
    assert "Traceback" not in err
    assert err.rstrip().endswith((".", "?"))
    # a path can't be broken
    assert [line for line in lines if len(line) > 80 and " " in line] == []
    assert len(lines) <= 6


@pytest.mark.parametrize("wrong", CASES, ids=lambda wrong: wrong.name)
def test_it_is_said_in_one_paragraph(workshop: Path, wrong: Wrong) -> None:
    ran = run(workshop, *wrong.words)
    assert (ran.code, ran.out) == (wrong.code, "")
    one_paragraph(ran.err)
    for said in wrong.said:
        assert said in ran.said
    assert brief_of(wrong) not in ran.said


def brief_of(wrong: Wrong) -> str:
    """What must not be told among the fewest: a statement that has nothing to do with it."""
    return "brakes = disc" if wrong.name == "two that exclude each other" else "Usage:"


def test_outside_any_workshop_the_catalogue_has_to_be_named(tmp_path: Path) -> None:
    ran = run(tmp_path, "jobs")
    assert (ran.code, ran.out) == (2, "")
    one_paragraph(ran.err)
    assert "Which catalogue?" in ran.said
    assert "kitbuilder demo FOLDER" in ran.said


def test_source_and_vehicle_want_settings(workshop: Path, tmp_path: Path) -> None:
    of = ("kit", "clutch-replace", "--catalogue", str(workshop / "catalogue"))
    for words, said in (("--source",), "[sources.NAME]"), (("--vehicle", "DEMO 001"), "[registers.NAME]"):
        ran = run(tmp_path, *of, *words)
        assert (ran.code, ran.out) == (2, "")
        one_paragraph(ran.err)
        assert said in ran.said


@pytest.mark.parametrize(("text", "said"), [
    (b"catalogue = ", "kitbuilder.toml is not TOML"),
    (b"catalogue = \"caf\xe9\"", "kitbuilder.toml is not TOML"),
    (b"cataloge = \"catalogue\"", "no setting 'cataloge'. Did you mean 'catalogue'?"),
    (b"catalogue = 3", "expected the path of a catalogue folder"),
    (b"[sources.counter]\nfile = \"x.csv\"", "[sources.counter] has no plugin"),
], ids=["half", "not UTF-8", "unknown key", "not a path", "no plug-in"])
def test_settings_that_cannot_be_read(tmp_path: Path, text: bytes, said: str) -> None:
    (tmp_path / "kitbuilder.toml").write_bytes(text)
    ran = run(tmp_path, "jobs")
    assert (ran.code, ran.out) == (3, "")
    one_paragraph(ran.err)
    assert said in ran.said


def test_a_broken_catalogue_tells_all_its_faults(workshop: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken"
    shutil.copytree(workshop / "catalogue", broken)
    items = (broken / "items.csv").read_text("utf-8")
    (broken / "items.csv").write_text(items.replace("number;", "numer;", 1), "utf-8")
    (broken / "fits/late.csv").write_text(
        "job,role,item,amount,unit\n,unit-gasket,TH-10131,1,each\n,unit-gaskets,TH-10131,\"0,5\",each\n", "utf-8")
    with (broken / "facts.toml").open("a", encoding="utf-8") as facts:
        facts.write("\n[facts.colour]\nof = \"vehicle\"\nvalues = [\"red or blue\"]\nquestion = \"?\"\n")
    ran = run(workshop, "jobs", "--catalogue", str(broken))
    assert (ran.code, ran.out) == (3, "")
    first, *faults = ran.err.split("\n  - ")
    assert f"has {len(faults)} faults; nothing was built." in " ".join(first.split())
    told = [" ".join(fault.split()) for fault in faults]
    for place, expected in (
        ("facts.toml, line", "red or blue"), ("fits/late.csv, line 3, amount: read '0,5'", "expected"),
        ("fits/late.csv, line 3, role: read 'unit-gaskets'", "did you mean 'unit-gasket'?"),
        ("items.csv, line 1, numer: read 'numer'", "did you mean 'number'?"),
    ):
        assert [one for one in told if one.startswith(place) and expected in one], (place, told)
    assert [line for line in ran.err.splitlines() if len(line) > 80 and len(line.split()) > 1] == []


def test_bytes_that_are_no_text_are_wrong_words_and_no_fault(workshop: Path) -> None:
    ran = run(workshop, "kit", b"cl\xff".decode("utf-8", "surrogateescape"))
    assert (ran.code, ran.out) == (2, "")
    one_paragraph(ran.err)
    ran = run(workshop, "kit", "clutch-replace", "--ask", typed=b"\xff\xfe\n.\n")
    assert ran.code == 0
    assert "gearbox can't be" in ran.said
