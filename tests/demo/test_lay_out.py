"""Laying out the demo workshop: where it may, and what lies there then."""

import shutil
import tomllib
from pathlib import Path

import pytest

from kitbuilder.demo.workshop import BESIDE, CATALOGUE, FAULT, FAULTY, demo_catalogue, lay_out
from kitbuilder.errors import WrongUse
from kitbuilder.settings import DEMO_MARK, FILE, read_settings


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("laid-out")
    lay_out(folder)
    return files(folder)


def test_into_an_empty_folder(laid_out: dict[str, bytes]) -> None:
    assert {name.partition("/")[0] for name in laid_out} >= {CATALOGUE, FAULTY, *BESIDE, FILE, DEMO_MARK}


def test_into_a_new_folder_below_a_new_folder(tmp_path: Path, laid_out: dict[str, bytes]) -> None:
    lay_out(tmp_path / "new" / "workshop")
    assert files(tmp_path / "new" / "workshop") == laid_out


def test_the_catalogue_is_the_demo_catalogue(tmp_path: Path) -> None:
    lay_out(tmp_path)
    whole = {name: data for name, data in files(demo_catalogue()).items() if name not in BESIDE}
    assert files(tmp_path / CATALOGUE).items() <= whole.items()
    assert {"catalogue.toml", "facts.toml", "roles.toml", "items.csv"} <= files(tmp_path / CATALOGUE).keys()


def test_the_faulty_catalogue_lacks_one_row(tmp_path: Path) -> None:
    lay_out(tmp_path)
    right, faulty = files(tmp_path / CATALOGUE), files(tmp_path / FAULTY)
    assert right.keys() == faulty.keys()
    assert [name for name in right if right[name] != faulty[name]] == [FAULT[0]]
    rows, left = right[FAULT[0]].splitlines(), faulty[FAULT[0]].splitlines()
    gone = [row for row in rows if row not in left]
    assert len(rows) == len(left) + 1
    assert gone[0].startswith(FAULT[1].encode())


def test_a_folder_with_something_else_in_it_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(WrongUse, match=r"not empty and not a demo's. Name a new or empty folder"):
        lay_out(tmp_path)
    assert files(tmp_path) == {"notes.txt": b"mine"}


def test_a_file_in_the_way_is_refused_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "demo").write_text("mine")
    with pytest.raises(WrongUse, match="demo is a file"):
        lay_out(tmp_path / "demo")
    assert (tmp_path / "demo").read_text() == "mine"


def test_an_earlier_demo_is_put_back_as_it_was(tmp_path: Path, laid_out: dict[str, bytes]) -> None:
    lay_out(tmp_path)
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / CATALOGUE / "fits" / "more.csv").write_text("role,item\n")
    (tmp_path / CATALOGUE / "items.csv").unlink()
    (tmp_path / "fleet.csv").write_text("spoilt")
    (tmp_path / FILE).write_text("spoilt")
    shutil.rmtree(tmp_path / FAULTY)
    lay_out(tmp_path)
    assert files(tmp_path) == {**laid_out, "notes.txt": b"mine"}


def test_the_settings_can_be_read_and_name_what_is_there(tmp_path: Path) -> None:
    lay_out(tmp_path)
    settings = read_settings(tmp_path / FILE)
    assert settings.catalogue == tmp_path / CATALOGUE
    assert settings.now is not None
    named = [one.keys["file"] for one in (*settings.sources, *settings.registers) if "file" in one.keys]
    assert len(named) >= 3
    assert [name for name in named if not (tmp_path / str(name)).is_file()] == []
    assert tomllib.loads((tmp_path / CATALOGUE / "catalogue.toml").read_text("utf-8"))["format"] == 1
