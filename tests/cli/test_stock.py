"""`kitbuilder stock` as processes in a small workshop: what it does, what it says, how it ends."""

import json
import sqlite3
import subprocess
from datetime import UTC, datetime

import pytest

from kitbuilder.model.booking import DiaryEntry
from kitbuilder.model.shelf import Promise
from kitbuilder.settings import DEMO_MARK
from kitbuilder.store import bookings, holds
from kitbuilder.store.database import open_store
from tests.cli.running import run
from tests.store.shelf import dump

RING, RING_NAME = "RI-60114", "Sealing ring, copper, 14.2 x 18 x 1.5"
OIL, OIL_CODE = "LU-40110", "2077000421928"
NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
SITE = """
[sites.{0}]
zone = "Europe/London"
[sites.{0}.shifts]
monday = ["06:00 to 14:00"]
"""


@pytest.fixture
def folder(tmp_path, workshop):
    """A workshop with one site, the demo's catalogue and an empty store; its clock stands still."""
    (tmp_path / DEMO_MARK).write_text("")
    settle(tmp_path, workshop)
    return tmp_path


def settle(folder, workshop, sites=("Marl",), store='store = "shelf.db"'):
    (folder / "kitbuilder.toml").write_text(
        f"catalogue = {str(workshop / 'catalogue')!r}\n{store}\nnow = 2026-03-10T15:00:00+00:00\n"
        + "".join(SITE.format(site) for site in sites))


def stock(folder, *words, **environment):
    return run(folder, "stock", *words, **environment)


def lots(folder, *words):
    answer = json.loads(stock(folder, "list", "--json", *words).out)
    assert (answer["format"], answer["warnings"]) == ("kitbuilder.stock/1", [])
    return answer["lots"]


def done(ran):
    """What a command that changes something did, in words; it ended well."""
    assert (ran.code, ran.err) == (0, "")
    return " ".join(ran.out.split())


def refused(ran, code, *said):
    """It ended so, said all of this in one paragraph of at most 80 columns, and nothing else."""
    assert (ran.code, ran.out) == (code, "")
    for text in said:
        assert text in ran.said
    assert "Traceback" not in ran.err and "\n\n" not in ran.err
    assert max(map(len, ran.err.splitlines())) <= 80


def test_goods_in_are_listed_with_lot_bin_amounts_and_use_by(folder):
    assert done(stock(folder, "receive", RING, "50", "--bin", "A-01-2-3", "--lot", "L7", "--use-by", "2027-06-30")) == (
        f"Received 50 each of {RING} ({RING_NAME}) in A-01-2-3.")
    assert done(stock(folder, "receive", OIL, "12.5", "--bin", "T-1")).startswith(f"Received 12.5 L of {OIL} (")
    assert lots(folder) == [
        {"item": OIL, "lot": "", "bin": "T-1", "on_hand": "12.5", "held": "0", "unit": "L", "use_by": None,
         "site": "Marl", "quarantine": "", "set_aside": []},
        {"item": RING, "lot": "L7", "bin": "A-01-2-3", "on_hand": "50", "held": "0", "unit": "each",
         "use_by": "2027-06-30", "site": "Marl", "quarantine": "", "set_aside": []}]
    assert [one["item"] for one in lots(folder, RING)] == [RING]
    text = stock(folder, "list").out
    assert text.splitlines()[0].split() == ["item", "bin", "there", "promised", "lot,", "use", "by"]
    assert "L7, 2027-06-30" in text and "12.5 L" in text


def test_a_code_on_the_label_works_as_the_item_s_name(folder):
    assert f"of {OIL} (" in done(stock(folder, "receive", OIL_CODE, "20", "--bin", "T-1"))
    assert [one["item"] for one in lots(folder, OIL_CODE)] == [OIL]
    assert f"Counted 19 L of {OIL} (" in done(stock(folder, "count", OIL_CODE, "19", "--bin", "T-1"))
    done(stock(folder, "move", OIL_CODE, "4", "--from", "T-1", "--to", "T-2"))
    assert [(one["bin"], one["on_hand"]) for one in lots(folder)] == [("T-1", "15"), ("T-2", "4")]


def test_json_says_what_was_done(folder):
    ran = stock(folder, "receive", RING, "50", "--bin", "A-01", "--json")
    assert json.loads(ran.out) == {
        "format": "kitbuilder.done/1", "warnings": [], "text": f"Received 50 each of {RING} ({RING_NAME}) in A-01.",
        "number": None}


def test_a_count_says_how_far_the_book_was_off(folder):
    stock(folder, "receive", RING, "50", "--bin", "A-01")
    for found, said in (("48", "2 each less than the book said"), ("48", "as the book said"),
                        ("60", "12 each more than the book said"), ("0", "60 each less than the book said")):
        assert done(stock(folder, "count", RING, found, "--bin", "A-01", "--why", "two were bent", "--by", "Ada")) == (
            f"Counted {found} each of {RING} ({RING_NAME}) in A-01, {said}.")
    with sqlite3.connect(folder / "shelf.db") as connection:
        assert connection.execute("SELECT who, why, on_hand FROM ledger WHERE action = 'count'").fetchall() == [
            ("Ada", "two were bent", change) for change in (-2000, 0, 12000, -60000)]


def test_a_move_says_from_where_to_where(folder):
    stock(folder, "receive", RING, "50", "--bin", "A-01", "--lot", "L7")
    assert done(stock(folder, "move", RING, "10", "--from", "A-01", "--to", "B-02", "--lot", "L7")) == (
        f"Moved 10 each of {RING} ({RING_NAME}) of lot L7 from A-01 to B-02.")
    assert [(one["bin"], one["on_hand"], one["lot"]) for one in lots(folder)] == [
        ("A-01", "40", "L7"), ("B-02", "10", "L7")]


def held(folder, *quantities):
    """Holds on lot L7 of the rings, one a booking; their ids."""
    store = open_store(folder / "shelf.db")
    found = []
    for number, quantity in enumerate(quantities, start=1):
        bookings.put(store, "desk", DiaryEntry(id=str(number), start=datetime(2026, 3, 11, 8), site="Marl", job="j"),
                     NOW, "Europe/London", NOW)
        found += holds.hold(store, "Marl", [Promise(f"k{number}", number, "n", RING, "L7", quantity)], "Ada", NOW)
    store.close()
    return [one.id for one in found]


def test_what_is_promised_shows_and_can_t_be_counted_or_moved_away(folder):
    stock(folder, "receive", RING, "50", "--bin", "A-01", "--lot", "L7")
    held(folder, 30_000)
    assert [(one["on_hand"], one["held"]) for one in lots(folder)] == [("50", "30")]
    refused(stock(folder, "count", RING, "29", "--bin", "A-01", "--lot", "L7"), 5,
            "29 each of RI-60114 counted in A-01, but 30 are promised and not picked yet.",
            "kitbuilder pick BOOKING --short")
    refused(stock(folder, "move", RING, "21", "--from", "A-01", "--to", "B-02", "--lot", "L7"), 5,
            "A-01 has 20 each of RI-60114 that isn't promised, not 21. Nothing was moved.")
    assert [(one["bin"], one["on_hand"], one["held"]) for one in lots(folder)] == [("A-01", "50", "30")]


def test_quarantine_says_whose_holds_are_let_go_and_who_has_it_in_a_tote(folder):
    stock(folder, "receive", RING, "50", "--bin", "A-01", "--lot", "L7")
    _, picked = held(folder, 30_000, 5_000)
    store = open_store(folder / "shelf.db")
    holds.step(store, [picked], "picking", "Ben", NOW)
    store.close()
    ran = stock(folder, "quarantine", RING, "--lot", "L7", "--why", "soft copper")
    assert (ran.code, " ".join(ran.out.split())) == (
        0, f"{RING} ({RING_NAME}) of lot L7 is in quarantine: soft copper. What was planned from it is let go "
           "(booking 1); run the night again.")
    assert ran.said == "warning: Some of it is being picked, or lies in a tote, for booking 2: put it aside."
    assert [(one["held"], one["quarantine"]) for one in lots(folder)] == [("5", "soft copper")]
    assert "QUARANTINE: soft copper" in stock(folder, "list").out
    assert done(stock(folder, "quarantine", RING, "--lot", "L7", "--lift")).endswith("of lot L7 is free again.")
    assert [one["quarantine"] for one in lots(folder)] == [""]


@pytest.mark.parametrize("words", [(), ("--why", " "), ("--lift", "--why", "bent")])
def test_quarantine_wants_a_reason_or_to_be_lifted(folder, words):
    stock(folder, "receive", RING, "50", "--bin", "A-01")
    refused(stock(folder, "quarantine", RING, *words), 2, "--why TEXT", "--lift")
    assert [one["quarantine"] for one in lots(folder)] == [""]


def test_what_is_received_past_its_use_by_is_taken_with_a_warning(folder):
    ran = stock(folder, "receive", RING, "5", "--bin", "A-01", "--use-by", "2026-03-09", "--json")
    assert ran.code == 0 and json.loads(ran.out)["warnings"] == [
        "Its use-by 2026-03-09 has passed; nothing will be planned from it."]
    assert "use-by 2026-03-09 has passed" in ran.said
    done(stock(folder, "receive", RING, "5", "--bin", "A-01", "--lot", "L8", "--use-by", "2026-03-10"))


def test_the_audit_tells_what_was_tampered_with_and_exits_1(folder):
    stock(folder, "receive", RING, "50", "--bin", "A-01", "--lot", "L7")
    stock(folder, "count", RING, "48", "--bin", "A-01", "--lot", "L7")
    assert done(stock(folder, "audit")) == "Every balance is proved by the ledger."
    assert json.loads(stock(folder, "audit", "--json").out) == {
        "format": "kitbuilder.audit/1", "warnings": [], "faults": []}
    with sqlite3.connect(folder / "shelf.db") as connection:
        connection.execute("DELETE FROM ledger WHERE id = 1")
        connection.execute("UPDATE stock SET on_hand = on_hand + 1000")
    ran = stock(folder, "audit")
    assert (ran.code, ran.err) == (1, "")
    assert " ".join(ran.out.split()) == (
        f"{RING} lot L7 in A-01: the ledger lacks 1 of the rows before this one (ledger row 2) "
        f"{RING} lot L7 in A-01: 49 are there, but the ledger proves 48")
    ran = stock(folder, "audit", "--json")
    assert ran.code == 1 and len(json.loads(ran.out)["faults"]) == 2


def test_an_item_that_the_catalogue_has_no_more_can_still_be_listed_counted_and_moved(folder):
    stock(folder, "receive", RING, "50", "--bin", "A-01")
    with sqlite3.connect(folder / "shelf.db") as connection:
        connection.execute("UPDATE lot SET item = 'OLD-1'")
    assert [one["item"] for one in lots(folder, "OLD-1")] == ["OLD-1"]
    assert "Counted 3 each of OLD-1 (no longer in the catalogue)" in done(
        stock(folder, "count", "OLD-1", "3", "--bin", "A-01"))
    done(stock(folder, "move", "OLD-1", "1", "--from", "A-01", "--to", "B-01"))
    refused(stock(folder, "receive", "OLD-1", "1", "--bin", "A-01"), 2, "The catalogue has no item 'OLD-1'")


WRONG = [
    (("receive", "RI-60115x", "5", "--bin", "A"), "The catalogue has no item 'RI-60115x'. Did you mean 'RI-6011"),
    (("receive", RING, "0", "--bin", "A"), "'0' is no amount of each. Expected a decimal more than zero"),
    (("receive", RING, "1.5", "--bin", "A"), "'1.5' is no amount of each. Expected a whole number of each"),
    (("receive", OIL, "1,5", "--bin", "A"), "'1,5' is no amount of L. Expected a decimal point: 1.5"),
    (("receive", RING, "many", "--bin", "A"), "'many' is no amount of each"),
    (("receive", RING, "9" * 13, "--bin", "A"), "is no amount of each"),
    (("receive", RING, "5", "--bin", " "), "A bin needs a name, as A-01-2-3."),
    (("receive", RING, "5", "--bin", "A", "--use-by", "30.6.2027"), "--use-by '30.6.2027' is no day. Expected one"),
    (("receive", RING, "5", "--bin", "A", "--use-by", "2027-02-29"), "'2027-02-29' is no day"),
    (("receive", RING, "5", "--bin", "A", "--site", "Mral"), "There is no site 'Mral'. Did you mean 'Marl'?"),
    (("receive", RING, "5"), "--bin"),
    (("receive", RING), "AMOUNT"),
    (("list", "XX-99999999"), "The catalogue has no item 'XX-99999999'"),
    (("count", RING, "5", "--bin", "B"), f"Marl has no {RING} without a lot number in B. It has been in A (no lot)."),
    (("count", RING, "5", "--bin", "A", "--lot", "L9"), f"Marl has no {RING} of lot L9 in A. It has been in A (no"),
    (("count", OIL, "5", "--bin", "A"), f"Marl has no {OIL} without a lot number in A. It was never received there"),
    (("count", RING, ".", "--bin", "A"), "'.' is no amount of each"),
    (("count", RING, "0.0.0", "--bin", "A"), "'0.0.0' is no amount of each"),
    (("count", RING, "", "--bin", "A"), "'' is no amount of each"),
    (("move", RING, "1", "--from", "A", "--to", "A"), "It is in A already. Name another bin."),
    (("move", RING, "0", "--from", "A", "--to", "B"), "'0' is no amount of each"),
    (("move", RING, "1", "--from", "A", "--to", ""), "A bin needs a name"),
    (("move", RING, "1", "--from", "C", "--to", "B"), f"Marl has no {RING} without a lot number in C."),
    (("quarantine", OIL, "--why", "x"), f"Marl has no {OIL} without a lot number."),
    (("recieve", RING, "5", "--bin", "A"), "recieve"),
    (("receive", RING, "5", "--bni", "A"), "--bin"),
]


@pytest.fixture(scope="module")
def stocked(tmp_path_factory, workshop):
    folder = tmp_path_factory.mktemp("stocked")
    (folder / DEMO_MARK).write_text("")
    settle(folder, workshop)
    done(stock(folder, "receive", RING, "50", "--bin", "A"))
    return folder


@pytest.mark.parametrize("words,said", WRONG, ids=[" ".join(words) for words, _ in WRONG])
def test_wrong_input_ends_in_a_helpful_paragraph_with_exit_2_and_changes_nothing(stocked, words, said):
    before = dump(stocked / "shelf.db")
    refused(stock(stocked, *words), 2, said)
    assert dump(stocked / "shelf.db") == before


def test_a_known_lot_with_another_use_by_is_refused_with_exit_5(folder):
    stock(folder, "receive", RING, "5", "--bin", "A", "--lot", "L7", "--use-by", "2027-06-30")
    refused(stock(folder, "receive", RING, "5", "--bin", "A", "--lot", "L7"), 5,
            f"Lot L7 of {RING} is known in each with use-by 2027-06-30. Receive it so, or under another lot number.")


def test_of_several_sites_one_is_to_be_named(folder, workshop):
    settle(folder, workshop, ("Marl", "Chalk"))
    refused(stock(folder, "receive", RING, "5", "--bin", "A"), 2, "Which site? Name it with --site: Marl, Chalk.")
    done(stock(folder, "receive", RING, "5", "--bin", "A", "--site", "Chalk"))
    assert [one["site"] for one in lots(folder, "--site", "Chalk")] == ["Chalk"]
    assert lots(folder, "--site", "Marl") == []
    assert "The shelf is empty." in stock(folder, "list", "--site", "Marl").out


def test_without_a_store_or_a_site_it_says_what_to_add(folder, workshop):
    settle(folder, workshop, store="")
    refused(stock(folder, "list"), 2, 'There is no store; add store = "workshop.db" to kitbuilder.toml.')
    settle(folder, workshop, ())
    refused(stock(folder, "list"), 2, "There is no site; add [sites.NAME] with zone and shifts")


def test_a_store_that_is_rubbish_ends_in_exit_5(folder):
    (folder / "shelf.db").write_bytes(b"rubbish " * 1000)
    for words in (("list",), ("audit",), ("receive", RING, "5", "--bin", "A")):
        refused(stock(folder, *words), 5, "damaged, or is no store of kitbuilder", "put a back-up in its place")


@pytest.mark.long
def test_a_store_that_is_busy_ends_in_exit_5_and_nothing_is_changed(folder):
    stock(folder, "receive", RING, "50", "--bin", "A")
    other = sqlite3.connect(folder / "shelf.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    assert [one["on_hand"] for one in lots(folder)] == ["50"]
    refused(stock(folder, "receive", RING, "5", "--bin", "A"), 5,
            "The store is busy: another program has held it for 10 s")
    other.execute("ROLLBACK")
    other.close()
    assert [one["on_hand"] for one in lots(folder)] == ["50"]


def test_a_store_that_may_only_be_read_ends_in_exit_5(folder):
    """A disk that became read-only: root may write to any file."""
    stock(folder, "receive", RING, "50", "--bin", "A")
    bind = ["mount", "--bind", "-o", "ro", str(folder), str(folder)]
    mounted = subprocess.run(bind, check=False, capture_output=True)
    if mounted.returncode:
        pytest.skip("only root can make a disk read-only")
    try:
        refused(stock(folder, "receive", RING, "5", "--bin", "A"), 5, "The store")
        ran = stock(folder, "receive", RING, "5", "--bin", "A")
        assert "can only be read" in ran.said or "can't be opened" in ran.said
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)
    assert [one["on_hand"] for one in lots(folder)] == ["50"]


def test_text_keeps_to_80_columns_with_long_names_too(folder):
    stock(folder, "receive", RING, "123456", "--bin", "AISLE-17-RACK-4-LEVEL-2-PLACE-9", "--lot", "L20260310-4711-0815",
          "--use-by", "2027-06-30")
    ran = stock(folder, "quarantine", RING, "--lot", "L20260310-4711-0815", "--why",
                "the whole box was found open beside the washing place, and what lay on top of it is green")
    listed = stock(folder, "list")
    for text in (ran.out, listed.out):
        assert max(map(len, text.splitlines())) <= 80
    assert "open beside the washing place, and what lay on top" in " ".join(listed.out.split())
