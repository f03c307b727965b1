"""Laying out the demo workshop: where it may, and what lies there then."""

import http.client
import shutil
import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kitbuilder.amount import show
from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.site import is_open
from kitbuilder.catalogue.rows import read_rows
from kitbuilder.demo.workshop import BESIDE, CATALOGUE, FAULT, FAULTY, SHELF, demo_catalogue, lay_out, supplier_of
from kitbuilder.errors import WrongUse
from kitbuilder.model.shelf import ShelfLot
from kitbuilder.settings import DEMO_MARK, FILE, read_settings
from kitbuilder.store.database import open_store
from kitbuilder.store.shelves import count, lots


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
    (tmp_path / "documents" / "2026-03-11").mkdir(parents=True)
    (tmp_path / "documents" / "2026-03-11" / "pick-7.txt").write_text("of yesterday")
    shutil.rmtree(tmp_path / FAULTY)
    lay_out(tmp_path)
    assert files(tmp_path) == {**laid_out, "notes.txt": b"mine"}


def shelf(folder: Path) -> list[ShelfLot]:
    store = open_store(folder / "workshop.db")
    try:
        return lots(store)
    finally:
        store.close()


def test_what_lies_on_the_shelf_is_booked_in(tmp_path: Path) -> None:
    lay_out(tmp_path)
    rows = [row.cells for row in read_rows(tmp_path / SHELF, ("item", "bin"))]
    assert len(rows) > 100
    assert {(lot.site, lot.item, lot.lot, lot.bin, show(lot.on_hand), lot.unit, str(lot.use_by or ""))
            for lot in shelf(tmp_path)} == {
        (row["site"], row["item"], row.get("lot", ""), row["bin"], row["quantity"], row["unit"], row.get("use_by", ""))
        for row in rows}
    assert [lot for lot in shelf(tmp_path) if lot.held] == []


def test_an_earlier_demos_store_is_made_anew(tmp_path: Path) -> None:
    lay_out(tmp_path)
    before = shelf(tmp_path)
    store = open_store(tmp_path / "workshop.db")
    first = before[0]
    count(store, first.site, first.item, first.lot, first.bin, 1_234_000, "a visitor", "", datetime.now(UTC))
    store.close()
    assert shelf(tmp_path) != before
    lay_out(tmp_path)
    assert shelf(tmp_path) == before


def test_the_site_is_open_the_next_day(tmp_path: Path) -> None:
    lay_out(tmp_path)
    settings = read_settings(tmp_path / FILE)
    [site] = read_sites(FILE, settings.sites).values()
    assert settings.now is not None
    assert is_open(site, settings.now.date()) and is_open(site, settings.now.date() + timedelta(days=1))
    assert {row.cells["site"] for row in read_rows(tmp_path / SHELF, ("site",))} == {site.name}


def asking(url: str) -> int:
    connection = http.client.HTTPConnection(url.removeprefix("http://"), timeout=10)
    try:
        connection.request("GET", "/quote")
        return connection.getresponse().status
    finally:
        connection.close()


def test_the_supplier_answers_where_the_settings_say_and_takes_another_port_if_that_is_taken(tmp_path: Path) -> None:
    for name in ("one", "other"):
        lay_out(tmp_path / name)

    def told(name: str) -> str:
        [url] = [one.keys["url"] for one in read_settings(tmp_path / name / FILE).sources if "url" in one.keys]
        return str(url)

    with supplier_of(tmp_path / "one") as one, supplier_of(tmp_path / "other") as other:
        assert (told("one"), told("other")) == (one.url, other.url)
        assert one.url != other.url
        # it is there, and says that questions are put otherwise
        assert (asking(one.url), asking(other.url)) == (405, 405)


def test_the_settings_can_be_read_and_name_what_is_there(tmp_path: Path) -> None:
    lay_out(tmp_path)
    settings = read_settings(tmp_path / FILE)
    assert settings.catalogue == tmp_path / CATALOGUE
    assert settings.now is not None
    plugins = (*settings.sources, *settings.registers, *settings.diaries)
    named = [one.keys["file"] for one in plugins if "file" in one.keys]
    assert len(named) == 3
    assert [name for name in named if not (tmp_path / str(name)).is_file()] == []
    assert tomllib.loads((tmp_path / CATALOGUE / "catalogue.toml").read_text("utf-8"))["format"] == 1
