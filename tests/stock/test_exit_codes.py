"""`kit --source` and `sources` as processes: what is short, stale or failed, and how the command ends."""

import json
import shutil
from datetime import UTC, datetime, timedelta

import pytest

from kitbuilder import read_rows
from tests.plugins.installed import ROOT, install, kitbuilder

JOB = ("kit", "gearbox-oil-change", "--fact", "gearbox=Osmerby manual 9", "--fact", "place=workshop",
       "--fact", "axles=4x2", "--fact", "power-take-off=no")
SETTINGS = """
catalogue = "catalogue"
[sources.counter]
plugin = "price-file"
file = "prices.csv"
"""
SUPPLIER = '[sources.supplier]\nplugin = "price-file"\nfile = "{}"\nsupplier = true\n'
HEAD = "item,quantity,unit,ready,price,per,currency,as_of\n"


@pytest.fixture
def shop(tmp_path):
    """A workshop whose counter has plenty of everything in the demo catalogue."""
    shutil.copytree(ROOT / "demo_catalog", tmp_path / "catalogue")
    (tmp_path / "kitbuilder.toml").write_text(SETTINGS, "utf-8")
    stock(tmp_path)
    return tmp_path


def stock(shop, without=(), wrong=(), hours=0):
    """Write the counter's prices: nothing of some items, a wrong quantity for others, all told some hours ago."""
    told = (datetime.now(UTC) - timedelta(hours=hours)).isoformat()
    lines = [HEAD]
    for row in read_rows(shop / "catalogue/items.csv", ["number", "unit"]):
        number, unit = row.cells["number"], row.cells["unit"]
        if number not in without:
            quantity = "plenty" if number in wrong else "1000"
            lines.append(f"{number},{quantity},{unit},{told},1.50,1,EUR,{told}\n")
    (shop / "prices.csv").write_text("".join(lines), "utf-8")


def add(shop, text):
    with (shop / "kitbuilder.toml").open("a", encoding="utf-8") as file:
        file.write(text)


def asked(shop, *words, path=None):
    answer = kitbuilder(shop, *JOB, "--source", "--json", *words, path=path)
    assert answer.stdout, answer.stderr
    return answer, json.loads(answer.stdout)


def an_item(built):
    """An item that a line needs for certain, and that no other could stand in for."""
    return next(line["item"] for line in built["lines"]
                if line["certainty"] == "certain" and not line["finding"] and len(line["acceptable"]) == 1)


def test_with_plenty_of_everything_nothing_is_short_and_it_ends_with_0(shop):
    answer, built = asked(shop)
    assert (answer.returncode, built["warnings"], answer.stderr) == (0, [], "")
    assert {line["short"] for line in built["lines"]} == {"0"}
    rows = [row for line in built["lines"] for row in line["stock"]]
    keys = ("source", "state", "quantity", "price", "per", "currency")
    assert {tuple(row[key] for key in keys) for row in rows} == {("counter", "fresh", "1000", "1.50", "1", "EUR")}
    assert [row["item"] for line in built["lines"] for row in line["stock"]] == [
        item for line in built["lines"] for item in line["acceptable"]]


def test_a_certain_line_that_is_short_ends_with_1(shop):
    item = an_item(asked(shop)[1])
    stock(shop, without=[item])
    answer, built = asked(shop)
    assert answer.returncode == 1
    for line in built["lines"]:
        assert line["short"] == (line["amount"] if line["item"] == item else "0")
        assert all(row["item"] != item for row in line["stock"])


def test_a_failed_source_outranks_a_shortage_and_leaves_it_open_what_is_short(shop):
    item = an_item(asked(shop)[1])
    stock(shop, without=[item])
    add(shop, SUPPLIER.format("gone.csv"))
    answer, built = asked(shop)
    assert answer.returncode == 4
    assert {line["short"] for line in built["lines"]} == {None}
    for line in built["lines"]:
        failed = [row for row in line["stock"] if row["source"] == "supplier"]
        assert [row["item"] for row in failed] == line["acceptable"]
        for row in failed:
            assert row["state"] == "failed"
            assert row["error"] == "price-file of kitbuilder: gone.csv can't be read: No such file or directory"
            assert [row[key] for key in ("quantity", "ready", "price", "per", "currency")] == [None] * 5
        if line["item"] != item:
            # what the counter says stands
            assert {row["state"] for row in line["stock"] if row["source"] == "counter"} == {"fresh"}
    [warning] = built["warnings"]
    assert warning.startswith("The source supplier failed: price-file of kitbuilder: gone.csv can't be read")
    assert "The source supplier failed" in answer.stderr


def test_an_item_that_cannot_be_read_ends_with_4_and_leaves_the_other_lines_alone(shop):
    before = asked(shop)[1]
    item = an_item(before)
    others = [line["item"] for line in before["lines"] if line["item"] not in (None, item)]
    stock(shop, wrong=[item], without=others[:1])
    answer, built = asked(shop)
    assert answer.returncode == 4
    by_item = {line["item"]: line for line in built["lines"] if line["item"]}
    assert by_item[item]["short"] is None
    assert [row["state"] for row in by_item[item]["stock"]] == ["failed"]
    assert "expected under quantity" in by_item[item]["stock"][0]["error"]
    assert by_item[others[0]]["short"] == by_item[others[0]]["amount"]
    assert {line["short"] for line in built["lines"] if line["item"] not in (item, others[0])} == {"0"}


def test_an_old_answer_is_stale_with_its_age_and_still_counts(shop):
    stock(shop, hours=30)
    answer, built = asked(shop)
    assert answer.returncode == 0
    rows = [row for line in built["lines"] for row in line["stock"]]
    assert {row["state"] for row in rows} == {"stale"}
    assert {line["short"] for line in built["lines"]} == {"0"}
    assert all(30 * 3600 <= row["age_s"] < 31 * 3600 for row in rows)
    add(shop, "stale_after_h = 48\n")
    assert {row["state"] for line in asked(shop)[1]["lines"] for row in line["stock"]} == {"fresh"}


STRANGER = """
import time
from kitbuilder import SourceKind, hookimpl

class Board:
    does = frozenset(["quote"])

    def quote(self, request):
        print("let me look")
        {body}

@hookimpl
def stock_sources():
    return [SourceKind("chalk", "", lambda context: Board())]
"""


@pytest.mark.parametrize(("body", "words"), [
    ("time.sleep(600)", "no answer within 0.3 s"), ("raise SystemExit(0)", "SystemExit: 0"),
    ("return None", "it answered NoneType, expected a Quote"), ("return {}", "it answered dict, expected a Quote"),
])
def test_a_strangers_source_that_misbehaves_is_named_and_the_command_ends(shop, body, words):
    site = shop / "site"
    site.mkdir()
    install(site, "chalk_board", STRANGER.format(body=body))
    add(shop, '[sources.board]\nplugin = "chalk"\ndeadline_s = 0.3\n')
    answer, built = asked(shop, path=site)
    assert answer.returncode == 4
    assert built["warnings"] == [f"The source board failed: chalk of chalk-board: {words}"]
    assert {line["short"] for line in built["lines"]} == {None}
    assert {row["state"] for line in built["lines"] for row in line["stock"] if row["source"] == "counter"} == {"fresh"}
    assert "let me look" in answer.stderr


def test_a_plugin_that_fails_to_load_takes_no_other_source_with_it(shop):
    site = shop / "site"
    site.mkdir()
    install(site, "a_broken", "raise RuntimeError('no board')")
    answer, _ = asked(shop, path=site)
    assert (answer.returncode, answer.stderr) == (0, "")


def test_without_a_source_in_the_settings_it_is_told_how_to_have_one(shop):
    (shop / "kitbuilder.toml").write_text('catalogue = "catalogue"\n', "utf-8")
    answer = kitbuilder(shop, *JOB, "--source", "--json")
    assert (answer.returncode, answer.stdout) == (2, "")
    assert "[sources.NAME]" in answer.stderr


def test_sources_shows_how_each_answers_and_ends_with_4_if_one_fails(shop):
    answer = kitbuilder(shop, "sources", "--json")
    assert (answer.returncode, answer.stderr) == (0, "")
    [counter] = json.loads(answer.stdout)["sources"]
    assert (counter.pop("age_s") < 60, counter.pop("took_ms") < 5000) == (True, True)
    assert counter.pop("answered") >= counter.pop("as_of")
    assert counter.pop("slowest_ms") < 5000
    assert counter == {
        "lately": 1, "failed_lately": 0,
        "source": "counter", "plugin": "price-file", "does": ["quote"], "state": "fresh", "error": None, "kept": "",
        "answered_ago_s": 0, "failures": 0, "rests_until": None}
    add(shop, SUPPLIER.format("gone.csv"))
    add(shop, '[sources.board]\nplugin = "price-fil"\n[sources.odd]\nplugin = "price-file"\n')
    answer = kitbuilder(shop, "sources", "--json")
    assert answer.returncode == 4
    rows = {row["source"]: row for row in json.loads(answer.stdout)["sources"]}
    assert rows["counter"]["state"] == "fresh"
    assert [rows[name]["state"] for name in ("supplier", "board", "odd")] == ["failed"] * 3
    assert "gone.csv" in rows["supplier"]["error"]
    assert "did you mean 'price-file'?" in rows["board"]["error"]
    assert rows["odd"]["error"] == (
        'price-file of kitbuilder: in [sources.odd] it expected file = "…", the CSV file with the prices')
    text = kitbuilder(shop, "sources")
    assert text.returncode == 4
    assert "supplier (price-file, can quote): failed: price-file of kitbuilder:" in " ".join(text.stdout.split())


CURRENCY = """
from kitbuilder import Quote, SourceKind, hookimpl

class Bank:
    does = frozenset(["quote"])

    def __init__(self, context):
        self.context = context

    def quote(self, request):
        raise RuntimeError("asked in " + self.context.currency)

@hookimpl
def stock_sources():
    return [SourceKind("bank", "", Bank)]
"""


def test_sources_are_asked_in_the_catalogues_currency_or_it_is_told_that_it_is_not_known(shop):
    site = shop / "site"
    site.mkdir()
    install(site, "bank", CURRENCY)
    (shop / "kitbuilder.toml").write_text('catalogue = "catalogue"\n[sources.bank]\nplugin = "bank"\n', "utf-8")
    catalogue = shop / "catalogue/catalogue.toml"
    catalogue.write_text(catalogue.read_text("utf-8").replace('"EUR"', '"SEK"'), "utf-8")
    answer = json.loads(kitbuilder(shop, "sources", "--json", path=site).stdout)
    assert (answer["warnings"], answer["sources"][0]["error"]) == ([], "bank of bank: RuntimeError: asked in SEK")
    catalogue.write_text("name = ", "utf-8")
    answer = json.loads(kitbuilder(shop, "sources", "--json", path=site).stdout)
    assert "its currency isn't known" in answer["warnings"][0]
    assert answer["sources"][0]["error"] == "bank of bank: RuntimeError: asked in EUR"
