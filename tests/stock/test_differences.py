"""Stock of record elsewhere: what was fetched from it, against what it says is left."""

import json
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kitbuilder.model.offer import Arrival, Offer, Quote
from kitbuilder.model.stock_elsewhere import Difference, Fetched
from kitbuilder.stock.differences import Count, count_before, count_of, differences, keep_count, read_counts
from tests.plugins.installed import kitbuilder

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
UNITS = {"RI-1": "each", "OI-1": "L", "WA-1": "each", "GR-1": "g"}
BEFORE = Count(NOW - timedelta(days=1), {"RI-1": 10_000, "OI-1": 20_500_000, "WA-1": 400_000})


def offer(item: str, unit: str, pool: int | None) -> Offer:
    return Offer(item=item, unit=unit, pool=pool, arrivals=(Arrival(slot="now", sureness="on the shelf"),))


def test_what_was_fetched_and_issued_there_is_no_difference():
    now = Count(NOW, {"RI-1": 8000, "OI-1": 19_000_000, "WA-1": 400_000})
    assert differences(BEFORE, now, [
        Fetched("RI-1", "each", 1000), Fetched("RI-1", "each", 1000), Fetched("OI-1", "mL", 1_500_000)], UNITS) == ()


def test_each_difference_is_told_with_how_it_comes_about():
    now = Count(NOW, {"RI-1": 10_000, "OI-1": 18_999_500, "WA-1": 400_000})
    assert differences(BEFORE, now, [Fetched("RI-1", "each", 2000), Fetched("OI-1", "L", 1500)], UNITS) == (
        Difference("OI-1", "L", "20.5", "1.5", "19", "18.9995", "-0.0005"),
        Difference("RI-1", "each", "10", "2", "8", "10", "2"))


def test_what_was_not_counted_both_times_is_not_compared():
    quote = Quote(as_of=NOW, currency="EUR", slots=(), unreadable={"WA-1": "wiped"}, offers=(
        offer("OI-1", "mL", 500_500), offer("OI-1", "L", 2000), offer("GR-1", "g", None)))
    now = count_of(quote, UNITS, NOW)
    # the source has no ring: that is counted, as none
    assert now == Count(NOW, {"RI-1": 0, "OI-1": 2_500_500})
    assert [one.item for one in differences(BEFORE, now, [], UNITS)] == ["OI-1", "RI-1"]


def test_a_day_is_compared_with_the_first_count_of_the_newest_day_before(tmp_path):
    file = tmp_path / "documents/stock.json"
    assert count_before(read_counts(file), NOW) is None
    for hours in (0, 1, 24, 30, 31):
        keep_count(file, read_counts(file), Count(NOW + timedelta(hours=hours), {"RI-1": hours}))
    counts = read_counts(file)
    assert [one.amounts["RI-1"] for one in counts] == [0, 24]
    assert count_before(counts, NOW + timedelta(hours=31)) == counts[0]
    assert count_before(counts, NOW + timedelta(hours=48)) == counts[1]
    file.write_text("{")
    assert read_counts(file) == []


SETTINGS = """
catalogue = "catalogue"
store = "workshop.db"
now = {now}
[sites.here]
zone = "Europe/London"
shifts = {{ monday = ["07:00 to 16:00"] }}
[sources.main-stock]
plugin = "sql-stock"
url = "sqlite:///main.db"
query = "SELECT no AS item, qty AS quantity FROM stock WHERE no IN :items"
"""


@pytest.fixture
def shop(tmp_path: Path, workshop: Path) -> Path:
    import shutil

    shutil.copytree(workshop / "catalogue", tmp_path / "catalogue")
    (tmp_path / ".kitbuilder-demo").write_text("")
    with sqlite3.connect(tmp_path / "main.db") as connection:
        connection.execute("CREATE TABLE stock (no TEXT, qty NUMERIC)")
        connection.executemany("INSERT INTO stock VALUES (?, ?)", [("TH-10110", 2), ("TH-10140", 400)])
    return tmp_path


def told(shop: Path, day: int, *words: str) -> tuple[int, str]:
    settings = (shop / "kitbuilder.toml")
    settings.write_text(SETTINGS.format(now=f"2026-03-{day}T15:00:00+00:00"), "utf-8")
    answer = kitbuilder(shop, "sources", "differences", "main-stock", *words)
    assert answer.stderr == ""
    return answer.returncode, answer.stdout


def test_the_command_counts_and_the_next_day_tells(shop):
    code, text = told(shop, 10)
    assert code == 0
    assert "From tomorrow on, differences can be told." in " ".join(text.split())
    assert told(shop, 11) == (0, "No difference: main-stock has what it had at 2026-03-10 15:00 UTC, less what was\n"
                                 "fetched from it since.\n")
    with sqlite3.connect(shop / "main.db") as connection:
        connection.execute("UPDATE stock SET qty = 399 WHERE no = 'TH-10140'")
    code, text = told(shop, 12)
    assert (code, text) == (1, (
        "main-stock: 1 difference since 2026-03-11 15:00 UTC\n"
        "  - TH-10140: had 400, fetched 0, so 400 expected; has 399, 1 each less: sold or\n"
        "    used by others?\n"))
    code, text = told(shop, 12, "--json")
    answer = json.loads(text)
    assert (code, answer["format"], answer["since"]) == (
        1, "kitbuilder.source-differences/1", "2026-03-11T15:00:00Z")
    assert answer["differences"] == [{"item": "TH-10140", "unit": "each", "before": "400", "fetched": "0",
                                      "expected": "400", "now": "399", "more": "-1"}]


def test_a_source_that_fails_tells_no_difference(shop):
    told(shop, 10)
    (shop / "main.db").unlink()
    answer = kitbuilder(shop, "sources", "differences", "main-stock")
    assert (answer.returncode, answer.stdout) == (4, "")
    assert "there is no database file main.db" in " ".join(answer.stderr.split())
