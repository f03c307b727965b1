"""Price files of any shape through a mapping, workbooks, and a file that is watched: also while somebody writes it."""

import json
import os
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import kitbuilder_price_file
import pytest
import xlsxwriter
from kitbuilder_price_file import watching

from kitbuilder import BadData, Context, Price, Quote, QuoteRequest, Wanted
from kitbuilder.plugins import Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.quoting import ask_sources, told_of

NOW = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)
WANTED = (Wanted("P-1", "each"), Wanted("O-1", "L"), Wanted("007", "each"))
MAPPING = """
decimal = ","
thousands = "."
[columns]
item = "Artikel"
quantity = "Bestand"
unit = "Einheit"
ready = "Da ab"
price = "Preis"
per = "je"
as_of = "Stand"
[constants]
currency = "EUR"
[values.unit]
"Stk" = "each"
"Liter" = "L"
"""
HEAD = ["Artikel", "Bezeichnung", "Bestand", "Einheit", "Da ab", "Preis", "je", "Stand"]
ROWS = [["P-1", "Würfel; groß", "1.200", "Stk", "2026-03-11T08:00", "4,20", "100", "2026-03-10T09:30"],
        ["O-1", "Öl", "20,5", "Liter", "2026-03-11T08:00", "1.019,40", "1", "2026-03-10T09:30"],
        ["007", "Ring", "3", "Stk", "2026-03-11T08:00", "", "", "2026-03-10T09:30"]]


def source(folder: Path, file: str, cache: Path | None = None, **settings: object) -> kitbuilder_price_file.PriceFile:
    return kitbuilder_price_file.PriceFile(
        Context("counter", {"file": file, **settings}, folder, "EUR", cache=cache))


def quoted(folder: Path, file: str, cache: Path | None = None, **settings: object) -> Quote:
    return source(folder, file, cache, **settings).quote(QuoteRequest(WANTED, NOW))


def sound(quote: Quote) -> None:
    """The rows above, and nothing else."""
    assert quote.unreadable == {}
    assert [(offer.item, offer.unit, offer.pool, offer.arrivals[0].prices) for offer in quote.offers] == [
        ("P-1", "each", 1_200_000, (Price(minor=420, per=100_000),)),
        ("O-1", "L", 20_500, (Price(minor=101_940, per=1000),)), ("007", "each", 3000, ())]
    # Berlin is an hour ahead in March
    assert quote.as_of == datetime(2026, 3, 10, 8, 30, tzinfo=UTC)
    assert [slot.ready for slot in quote.slots] == [datetime(2026, 3, 11, 7, tzinfo=UTC)]


@pytest.mark.parametrize("delimiter", [";", "|", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "cp1252", "utf-16"])
@pytest.mark.parametrize("quote", ['"', "'"])
def test_a_sheet_of_any_dialect_is_read_through_a_mapping(tmp_path, delimiter, encoding, quote):
    lines = [delimiter.join(f"{quote}{cell}{quote}" for cell in row) for row in (HEAD, *ROWS)]
    (tmp_path / "list.csv").write_bytes("\r\n".join([*lines, ""]).encode(encoding))
    told = f"encoding = '{encoding}'\ndelimiter = {json.dumps(delimiter)}\nquote = {json.dumps(quote)}\n"
    (tmp_path / "map.toml").write_text(told + MAPPING, "utf-8")
    sound(quoted(tmp_path, "list.csv", mapping="map.toml", zone="Europe/Berlin"))


def test_what_the_mapping_does_not_say_of_the_dialect_is_found_out(tmp_path):
    text = "\n".join(";".join(f'"{cell}"' for cell in row) for row in (HEAD, *ROWS)) + "\n"
    (tmp_path / "list.csv").write_text(text, "utf-8")
    (tmp_path / "map.toml").write_text(MAPPING, "utf-8")
    sound(quoted(tmp_path, "list.csv", mapping="map.toml", zone="Europe/Berlin"))


def workbook(file: Path, rows: list[list[object]]) -> None:
    with xlsxwriter.Workbook(file) as book:
        sheet = book.add_worksheet("list")
        day = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        for at, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, datetime):
                    sheet.write_datetime(at, column, cell, day)
                else:
                    sheet.write(at, column, cell)


def test_a_workbook_is_read_with_its_own_numbers_and_times(tmp_path):
    ready, told = datetime(2026, 3, 11, 8), datetime(2026, 3, 10, 9, 30)
    workbook(tmp_path / "list.xlsx", [HEAD, [*ROWS[0][:2], 1200, "Stk", ready, 4.2, 100, told],
                                      [*ROWS[1][:2], 20.5, "Liter", ready, 1019.4, 1, told],
                                      [*ROWS[2][:2], 3, "Stk", ready, "", "", told]])
    (tmp_path / "map.toml").write_text(MAPPING, "utf-8")
    sound(quoted(tmp_path, "list.xlsx", mapping="map.toml", zone="Europe/Berlin"))


def test_a_workbook_with_our_columns_needs_no_mapping(tmp_path):
    workbook(tmp_path / "list.xlsx", [
        ["item", "quantity", "unit", "ready", "as_of", "colour"],
        ["P-1", 4, "each", "2026-03-11T08:00:00Z", "2026-03-10T09:30:00Z", "red"]])
    [offer] = quoted(tmp_path, "list.xlsx").offers
    assert (offer.item, offer.pool) == ("P-1", 4000)


@pytest.mark.parametrize(("cell", "value", "words"), [
    (2, "1,200.5", "under quantity"), (2, "1.2", "under quantity"), (5, "4.20", "a price as a decimal"),
    (3, "Kiste", "a unit that converts to each"), (4, "11.03.2026", "zone under ready"),
    (4, "2026-03-11", "zone under ready"), (7, "gestern", "under as_of")])
def test_a_cell_that_is_not_as_the_mapping_has_it_makes_its_item_unreadable(tmp_path, cell, value, words):
    rows = [list(ROWS[0]), *ROWS[1:]]
    rows[0][cell] = value
    (tmp_path / "list.csv").write_text("\n".join(";".join(f'"{one}"' for one in row) for row in (HEAD, *rows)), "utf-8")
    (tmp_path / "map.toml").write_text(MAPPING, "utf-8")
    quote = quoted(tmp_path, "list.csv", mapping="map.toml", zone="Europe/Berlin")
    assert list(quote.unreadable) == ["P-1"]
    assert quote.unreadable["P-1"].startswith("list.csv, line 2: expected ")
    assert words in quote.unreadable["P-1"]
    assert [offer.item for offer in quote.offers] == ["O-1", "007"]


@pytest.mark.parametrize(("mapping", "words"), [
    (MAPPING.replace("Artikel", "Artikl"), "there is no column 'Artikl', expected .* did you mean 'Artikel'"),
    (MAPPING.replace('item =', 'part ='), "there is no 'part' of ours"),
    (MAPPING.replace('as_of = "Stand"\n', ""), "nothing is as_of: name a column for it"),
    (MAPPING.replace('"Stand"', '"?"'), "leaves open: as_of"),
    ("columns = 7", "is no mapping"),
])
def test_a_mapping_that_does_not_fit_is_told(tmp_path, mapping, words):
    (tmp_path / "list.csv").write_text(";".join(HEAD) + "\n" + ";".join(["P-1", *ROWS[0][2:], "x"]) + "\n", "utf-8")
    (tmp_path / "map.toml").write_text(mapping, "utf-8")
    with pytest.raises(BadData, match=words):
        quoted(tmp_path, "list.csv", mapping="map.toml")


@pytest.mark.parametrize(("settings", "words"), [
    ({"zone": "Europe/Nowhere"}, "zone = "), ({"zone": 7}, "zone = "), ({"mapping": 7}, "mapping = "),
    ({"zone": "../../etc/passwd"}, "zone = ")])
def test_settings_it_cannot_use_are_refused(tmp_path, settings, words):
    with pytest.raises(ValueError, match=words):
        source(tmp_path, "list.csv", **settings)


# watching

PLAIN = "item,quantity,unit,ready,price,per,currency,as_of\n"


def plain(*quantities: int) -> str:
    at = "2026-03-10T14:00:00Z"
    return PLAIN + "".join(f"{one.item},{quantity},{one.unit},{at},,,EUR,{at}\n"
                           for one, quantity in zip(WANTED, quantities, strict=False))


def pools(quote: Quote) -> list[int | None]:
    return [offer.pool for offer in quote.offers]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "prices.csv"
    path.write_text(plain(1, 2, 3))
    os.utime(path, (1, 1))
    return path


def test_while_nothing_changes_it_is_not_read_again(tmp_path, file, monkeypatch):
    first = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    monkeypatch.setattr(watching, "_read", lambda path: pytest.fail("it was read"))
    assert quoted(tmp_path, "prices.csv", tmp_path / "kept") == first
    assert first.kept == ""


@pytest.mark.parametrize("change", ["size", "time", "inode"])
def test_what_changes_is_read_anew(tmp_path, file, change):
    quoted(tmp_path, "prices.csv", tmp_path / "kept")
    if change == "size":
        file.write_text(plain(1, 2, 33))
        os.utime(file, (1, 1))
    elif change == "time":
        file.write_text(plain(1, 2, 9))
        os.utime(file, (2, 2))
    else:
        other = tmp_path / "other"
        other.write_text(plain(1, 2, 9))
        os.utime(other, (1, 1))
        os.replace(other, file)
    quote = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    assert pools(quote) in ([1000, 2000, 33000], [1000, 2000, 9000])
    assert quote.kept == ""


def test_a_new_mapping_reads_it_anew(tmp_path):
    (tmp_path / "list.csv").write_text("\n".join(";".join(f'"{one}"' for one in row) for row in (HEAD, *ROWS)), "utf-8")
    (tmp_path / "map.toml").write_text(MAPPING, "utf-8")
    sound(quoted(tmp_path, "list.csv", tmp_path / "kept", mapping="map.toml", zone="Europe/Berlin"))
    (tmp_path / "map.toml").write_text(MAPPING + '[values.item]\n"P-1" = "O-1"\n"O-1" = "P-1"\n', "utf-8")
    assert quoted(tmp_path, "list.csv", tmp_path / "kept", mapping="map.toml", zone="Europe/Berlin").unreadable


def test_a_file_that_is_being_written_gives_its_last_good_answer_as_stale(tmp_path, file):
    first = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    whole = plain(5, 6, 7)
    # the second row isn't there yet: without the care its items would read as none
    half = whole[:whole.index("O-1")]
    file.write_text(half)
    timer = threading.Timer(watching.WATCH_S / 2, lambda: file.write_text(whole))
    timer.start()
    during = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    timer.join()
    assert (during.offers, during.kept) == (first.offers, "prices.csv is being written")
    after = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    assert (pools(after), after.kept) == ([5000, 6000, 7000], "")


def test_one_that_grew_shorter_and_stays_so_is_believed(tmp_path, file):
    quoted(tmp_path, "prices.csv", tmp_path / "kept")
    file.write_text(plain(1))
    quote = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    assert (pools(quote), quote.kept) == ([1000], "")


def test_one_that_cannot_be_read_any_more_gives_its_last_good_answer_and_says_why(tmp_path, file):
    first = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    file.write_text(plain(5, 6) + '007,"7')
    quote = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    assert quote.offers == first.offers
    assert quote.kept.startswith("as it is now it can't be read (prices.csv, line 4: ")
    file.unlink()
    with pytest.raises(BadData, match="No such file"):
        quoted(tmp_path, "prices.csv", tmp_path / "kept")


def test_without_a_good_answer_before_it_fails(tmp_path, file):
    file.write_text(PLAIN + '007,"7')
    with pytest.raises(BadData):
        quoted(tmp_path, "prices.csv", tmp_path / "kept")


def test_a_damaged_memory_is_none(tmp_path, file):
    first = quoted(tmp_path, "prices.csv", tmp_path / "kept")
    for kept in (tmp_path / "kept").iterdir():
        kept.write_bytes(b"\xc1")
    assert quoted(tmp_path, "prices.csv", tmp_path / "kept") == first


def test_readers_beside_a_writer_never_see_half_a_file(tmp_path, file):
    """A program that writes in place, row by row, for two seconds; each answer is a whole file's, old or new."""
    quoted(tmp_path, "prices.csv", tmp_path / "kept")
    stop = time.monotonic() + 2

    def write() -> None:
        number = 1
        while time.monotonic() < stop:
            number += 1
            with file.open("w") as out:
                for line in plain(number, number, number).splitlines(keepends=True):
                    out.write(line)
                    out.flush()
                    time.sleep(0.02)
            time.sleep(0.05)

    writer = threading.Thread(target=write)
    writer.start()
    found = []
    while time.monotonic() < stop:
        found.append(pools(quoted(tmp_path, "prices.csv", tmp_path / "kept")))
    writer.join()
    assert len(found) > 3
    assert [one for one in found if len(one) != 3 or (len(set(one)) != 1 and one != [1000, 2000, 3000])] == []


def test_the_core_shows_it_as_stale_and_says_so(tmp_path, file):
    kind = kitbuilder_price_file.stock_sources()[0]
    settings = Settings(tmp_path, sources=(PluginSettings("counter", "price-file", 5.0, 24.0, {"file": "prices.csv"}),))
    plugins = Plugins((), {"price-file": (kind, "kitbuilder")}, {})

    def ask() -> object:
        return ask_sources(settings, plugins, QuoteRequest(WANTED, NOW), "EUR", None, tmp_path / "cache")

    [answer] = ask()
    assert (answer.state, answer.age_s) == ("fresh", 3600)
    file.write_text("nonsense")
    [answer] = ask()
    assert (answer.state, answer.age_s) == ("stale", 3600)
    [told] = told_of([answer])
    assert told.startswith("The source counter gives its last good answer, told 60 min ago: as it is now it can't be "
                           "read (prices.csv")
    assert NOW - answer.quote.as_of == timedelta(hours=1)
