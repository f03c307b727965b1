"""`catalogue compare`: what a new catalogue changes, as text, as JSON, and how it ends."""

import json
import shutil
from pathlib import Path

import jsonschema
import msgspec
import pytest

from kitbuilder.proof.compare import Compare
from tests.cli.running import run

FLUIDS = "fits/actuator-fluids.csv"
HALF = ",unit-oil-remainder,,unit-oil,0.5,L,,light automated"


@pytest.fixture
def two(workshop: Path, tmp_path: Path) -> Path:
    """A folder with the demo's catalogue and an edited one: more oil for the remainder, a renamed item."""
    for name in ("old", "new"):
        shutil.copytree(workshop / "catalogue", tmp_path / name)
    edit(tmp_path / "new" / FLUIDS, HALF, HALF.replace("0.5", "0.75"))
    edit(tmp_path / "new" / "items.csv", "Heat lance for seized bolts", "Heat lance")
    return tmp_path


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def answer(folder: Path, *words: str) -> dict:
    ran = run(folder, "catalogue", "compare", *words, "--json")
    assert (ran.code, ran.err) == (0, "")
    found = json.loads(ran.out)
    jsonschema.validate(found, msgspec.json.schema(Compare))
    assert found["format"] == "kitbuilder.compare/1"
    return found


def test_the_same_says_so(two: Path) -> None:
    ran = run(two, "catalogue", "compare", "old", "old")
    assert (ran.code, ran.out, ran.err) == (0, "Both say the same: no kit changes.\n", "")
    assert answer(two, "old", "old")["same"]


def test_notes_and_the_order_of_rows_change_no_kit(two: Path) -> None:
    shutil.rmtree(two / "new")
    shutil.copytree(two / "old", two / "new")
    path = two / "new" / FLUIDS
    head, *rows = path.read_text("utf-8").splitlines()
    path.write_text("\n".join([head, *reversed(rows)]) + "\n", "utf-8")
    found = answer(two, "old", "new")
    assert found["same"]
    assert found["old"] != found["new"]


def test_differences_are_told_and_are_no_failure(two: Path) -> None:
    ran = run(two, "catalogue", "compare", "old", "new")
    assert (ran.code, ran.err) == (0, "")
    said = " ".join(ran.out.split())
    assert "Oil of the actuator unit (unit-oil) 0.75 L instead of 0.5 L where gearbox is light automated." in said
    assert f"old: {FLUIDS} line 5; new: {FLUIDS} line 5" in said
    assert "name: Heat lance, was Heat lance for seized bolts" in said
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_json_tells_each_change_with_its_vehicles(two: Path) -> None:
    found = answer(two, "old", "new")
    changes = [change for job in found["jobs"] for change in job["changes"]]
    assert {(one["what"], one["change"], one["role"]) for one in changes} == {("line", "changes", "unit-oil-remainder")}
    for one in changes:
        assert (one["old"]["amount"], one["new"]["amount"]) == ("0.5", "0.75")
        assert one["hangs_on"] == ["gearbox"]
        assert one["when"] == [{"gearbox": ["Tarnholt light 6 early", "Tarnholt light 6 late"]}]
    assert [(one["what"], one["field"], one["new"]) for one in found["declared"]] == [
        ("item", "name", "Heat lance")]
    # the other way round it is the other way round
    back = answer(two, "new", "old")
    assert {(one["old"]["amount"], one["new"]["amount"]) for job in back["jobs"] for one in job["changes"]} == {
        ("0.75", "0.5")}


def test_a_compiled_edition_may_stand_for_a_folder(two: Path) -> None:
    compiled = json.loads(run(two, "catalogue", "compile", "--catalogue", "old", "--json").out)
    shutil.copy(compiled["path"], two / "kept.edition")
    by_file, by_folder = answer(two, "kept.edition", "new"), answer(two, "old", "new")
    assert by_file == {**by_folder, "old": "kept"}


@pytest.mark.parametrize(("words", "code", "said"), [
    (("old",), 2, "Missing argument 'NEW'"),
    (("old", "nowhere"), 3, "There is no catalogue in nowhere"),
    (("old", "broken"), 3, "expected a decimal"),
    (("old/items.csv", "new"), 3, "old/items.csv is no compiled catalogue that this kitbuilder reads. Name the"),
])
def test_what_cannot_be_compared_is_told(two: Path, words: tuple[str, ...], code: int, said: str) -> None:
    shutil.copytree(two / "old", two / "broken")
    edit(two / "broken" / FLUIDS, HALF, HALF.replace("0.5", "half"))
    ran = run(two, "catalogue", "compare", *words)
    assert (ran.code, ran.out) == (code, "")
    assert said in ran.said
