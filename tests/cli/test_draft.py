"""`catalogue draft` as a parts person runs it."""

import json
import shutil
from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.demo.workshop import demo_catalogue
from tests.bringing_in.past_jobs import done_jobs, rows_of
from tests.bringing_in.workbooks import delimited
from tests.cli.running import KITBUILDER, on_terminal, run


@pytest.fixture(scope="module")
def past(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a catalogue, and forty past jobs as a sheet."""
    folder = tmp_path_factory.mktemp("past")
    shutil.copytree(demo_catalogue(), folder / "cat")
    edition = read_edition(demo_catalogue())
    rows = rows_of(list(done_jobs(edition, "shift-unit-replace", 40, 3)), edition)
    names = list(dict.fromkeys(name for row in rows for name in row.cells))
    lines = [[row.cells.get(name, "") for name in names] for row in rows]
    (folder / "past.csv").write_bytes(delimited([names, *lines], ";"))
    return folder


def test_a_draft_is_told_and_written_only_when_it_is_asked_for(past: Path, tmp_path: Path) -> None:
    shutil.copytree(past / "cat", tmp_path / "cat")
    words = ("catalogue", "draft", "shift-unit-drafted", "--from", str(past / "past.csv"), "--catalogue", "cat")
    done = run(tmp_path, *words)
    assert done.code == 0
    assert "ASKED: the records don't tell" in done.out
    assert "Nothing was written" in done.out
    assert not (tmp_path / "cat/jobs/shift-unit-drafted.toml").exists()
    done = run(tmp_path, *words, "--write")
    assert done.code == 0
    text = (tmp_path / "cat/jobs/shift-unit-drafted.toml").read_text()
    assert "# Drafted from 40 past jobs" in text
    kit = run(tmp_path, "kit", "shift-unit-drafted", "--fact", "gearbox=Tarnholt light 6 late", "--catalogue", "cat",
              "--json")
    assert kit.code == 0
    assert "TH-16110" in [line["item"] for line in json.loads(kit.out)["lines"]]
    checked = run(tmp_path, "catalogue", "check", "--catalogue", "cat", "--json")
    assert {one["kind"] for one in json.loads(checked.out)["problems"]} <= {"gap"}
    again = run(tmp_path, *words, "--write")
    assert again.code == 2
    assert "give the draft another name" in again.said


def test_the_answer_as_json(past: Path) -> None:
    done = run(past, "catalogue", "draft", "drafted", "--from", "past.csv", "--catalogue", "cat", "--json")
    answer = json.loads(done.out)
    assert answer["format"] == "kitbuilder.draft/1"
    assert answer["jobs"] == 40
    assert answer["written"] is False
    assert set(answer["files"]) == {"jobs/drafted.toml", "fits/drafted.csv", "roles.toml"}
    unit = [one for one in answer["fits"] if one["item"] == "TH-16110"]
    assert [one["conditions"] for one in unit] == [{"gearbox": "light automated"}]
    assert unit[0]["evidence"].endswith("with gearbox light automated")


def test_a_row_that_cannot_be_used_stops_the_draft(past: Path) -> None:
    text = (past / "past.csv").read_text().splitlines()
    head, first = text[0].split(";"), text[1].split(";")
    wrong = ["XX-1" if name == "item" else cell for name, cell in zip(head, first, strict=True)]
    (past / "wrong.csv").write_text("\n".join([*text, ";".join(wrong)]) + "\n")
    done = run(past, "catalogue", "draft", "drafted", "--from", "wrong.csv", "--catalogue", "cat")
    assert done.code == 3
    assert f"row {len(text) + 1}, item: read 'XX-1'" in done.out
    assert "Nothing was drafted" in done.out


@pytest.mark.parametrize("words, said", [
    (("Drafted", "--from", "past.csv"), "no name for a job type"),
    (("drafted",), "either --from PAST.csv or --from-store"),
    (("drafted", "--from-store"), "no store"),
    (("clutch-replace", "--from", "past.csv"), "give the draft another name"),
])
def test_wrong_use_is_told(past: Path, words: tuple[str, ...], said: str) -> None:
    done = run(past, "catalogue", "draft", *words, "--catalogue", "cat")
    assert (done.code, done.out) == (2, "")
    assert said in done.said


def test_columns_of_others_go_through_a_mapping(past: Path) -> None:
    lines = (past / "past.csv").read_text().splitlines()
    (past / "theirs.csv").write_text("\n".join([lines[0].replace("amount", "Amount used"), *lines[1:]]) + "\n")
    words = ("catalogue", "draft", "drafted", "--from", "theirs.csv", "--catalogue", "cat")
    assert run(past, *words).code == 2
    assert run(past, *words, "--propose").code == 2
    assert run(past, *words, "--mapping", "theirs.csv.mapping.toml").code == 0


def test_it_fits_eighty_columns(past: Path) -> None:
    code, screen = on_terminal(
        [*KITBUILDER, "catalogue", "draft", "drafted", "--from", "past.csv", "--catalogue", "cat"], past)
    assert code == 0
    assert max(map(len, screen.splitlines())) <= 80
