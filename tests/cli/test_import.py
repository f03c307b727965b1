"""`catalogue import` as a parts person runs it."""

import csv
import json
import shutil
from pathlib import Path

import pytest

from kitbuilder.demo.workshop import demo_catalogue
from tests.bringing_in.workbooks import delimited, xlsx
from tests.cli.running import on_terminal, run

HEAD = ["Part number", "Name", "ME", "Rank"]
GOOD = [HEAD, ["Z-1", "Bracket", "Stk", "1,5"], ["007", "Oil", "LTR", "2"]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(demo_catalogue(), tmp_path / "cat")
    return tmp_path


def brought(folder: Path, *words: str) -> tuple[int, str, str]:
    done = run(folder, "catalogue", "import", *words, "--catalogue", "cat")
    return done.code, done.out, done.said


def test_the_whole_way_from_a_sheet_to_the_catalogue(folder: Path) -> None:
    (folder / "parts.xlsx").write_bytes(xlsx(GOOD, "Parts"))
    before = (folder / "cat/items.csv").read_bytes()
    code, out, _ = brought(folder, "parts.xlsx", "--into", "items", "--propose")
    assert code == 0
    assert "Stk = each" in out
    assert (folder / "cat/items.csv").read_bytes() == before
    code, out, _ = brought(folder, "parts.xlsx", "--mapping", "parts.xlsx.mapping.toml")
    assert code == 0
    assert "Nothing was written" in out
    assert (folder / "cat/items.csv").read_bytes() == before
    code, out, _ = brought(folder, "parts.xlsx", "--mapping", "parts.xlsx.mapping.toml", "--write")
    assert code == 0
    assert "2 rows written" in out
    after = (folder / "cat/items.csv").read_bytes()
    assert after.startswith(before)
    added = list(csv.reader(after[len(before):].decode().splitlines(), delimiter=";"))
    assert [row[:4] for row in added] == [["Z-1", "Bracket", "each", "1.5"], ["007", "Oil", "L", "2"]]
    assert run(folder, "catalogue", "check", "--catalogue", "cat").code == 0
    again = brought(folder, "parts.xlsx", "--mapping", "parts.xlsx.mapping.toml", "--write")[1]
    assert "2 rows stood there already" in again


def test_what_would_be_guessed_is_not_written(folder: Path) -> None:
    (folder / "parts.csv").write_bytes(delimited(GOOD, ";"))
    before = (folder / "cat/items.csv").read_bytes()
    code, out, said = brought(folder, "parts.csv", "--into", "items", "--write")
    assert (code, out) == (2, "")
    assert "--propose" in said
    assert (folder / "cat/items.csv").read_bytes() == before


def test_what_needs_no_guess_is_written_at_once(folder: Path) -> None:
    (folder / "items.csv").write_bytes(delimited([["number", "name", "unit"], ["Z-1", "x", "each"]]))
    assert brought(folder, "items.csv", "--write")[0] == 0
    assert b"Z-1;x;each" in (folder / "cat/items.csv").read_bytes()


def test_one_row_that_cannot_be_read_stops_them_all(folder: Path) -> None:
    rows = [["number", "name", "unit"], ["Z-1", "x", "each"], ["Z-2", "", "each"]]
    (folder / "items.csv").write_bytes(delimited(rows))
    before = (folder / "cat/items.csv").read_bytes()
    code, out, _ = brought(folder, "items.csv", "--write")
    assert code == 3
    assert "row 3, name" in out
    assert (folder / "cat/items.csv").read_bytes() == before
    code, out, _ = brought(folder, "items.csv", "--write", "--json")
    answer = json.loads(out)
    assert code == 3
    assert answer["format"] == "kitbuilder.import/1"
    assert answer["written"] is None
    assert [(one["row"], one["column"]) for one in answer["faults"]] == [(3, "name")]
    assert (answer["rows"], answer["ready"]) == (2, 1)


def test_a_new_sheet_of_fits(folder: Path) -> None:
    rows = [["role", "item", "amount", "unit", "gearbox"], ["wipes", "CO-50320", "2", "each", "tarnholt automated 12"]]
    (folder / "more.csv").write_bytes(delimited(rows))
    code, out, _ = brought(folder, "more.csv", "--into", "fits/more", "--propose")
    assert code == 0
    assert "gearbox: tarnholt automated 12 = Tarnholt automated 12" in " ".join(out.split())
    assert brought(folder, "more.csv", "--mapping", "more.csv.mapping.toml", "--write")[0] == 0
    assert (folder / "cat/fits/more.csv").read_text() == (
        "role,item,amount,unit,gearbox\nwipes,CO-50320,2,each,Tarnholt automated 12\n")


@pytest.mark.parametrize("words, said", [
    (("none.csv", "--into", "items"), "none.csv can't be read"),
    (("parts.csv",), "Say it with --into"),
    (("parts.csv", "--into", "item"), "items"),
    (("parts.csv", "--into", "../x"), "no sheet"),
    (("parts.csv", "--into", "fits/../../x"), "no sheet"),
    (("parts.csv", "--into", "items", "--mapping", "none.toml"), "none.toml can't be read"),
    (("parts.csv", "--into", "items", "--sheet", "A"), "text file"),
])
def test_wrong_use_is_told(folder: Path, words: tuple[str, ...], said: str) -> None:
    (folder / "parts.csv").write_bytes(delimited(GOOD, ";"))
    code, out, err = brought(folder, *words)
    assert code in (2, 3)
    assert out == ""
    assert said in err


def test_it_fits_eighty_columns(folder: Path) -> None:
    (folder / "parts.csv").write_bytes(delimited([*GOOD, ["Z-9", "x" * 30, "crate", "y"]], ";"))
    command = ["kitbuilder", "catalogue", "import", "parts.csv", "--into", "items", "--catalogue", "cat"]
    from tests.cli.running import KITBUILDER

    code, screen = on_terminal([*KITBUILDER, *command[1:]], folder)
    assert code == 3
    assert "ASKED" in screen
    assert max(map(len, screen.splitlines())) <= 80
