"""Several sites as the counters of both see them: lists, decisions, goods-in, moves, `kit --source --site`."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import shelves
from tests.cli.running import run
from tests.night.shop import Shop

VANS = """\
[sources.vans]
plugin = "sister-site"
site = "north"
leaves = ["07:30", "16:00"]
takes_min = 60
zone = "Europe/London"
fee = "4.00"

[registers.fleet]"""
BY = ("--by", "A. Person")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """At marl a booking that needs a unit and a crane; the unit lies at north."""
    made = Shop(tmp_path / "shop", {"marl": "Europe/London", "north": "Europe/London"})
    made.settings(("[registers.fleet]", VANS))
    made.receive("U-1", "2", site="north", bin_name="N-3", lot="B7")
    made.book("unit-change", "2026-03-12T08:00")
    yield made
    made.store.close()


def test_from_the_plan_to_the_bin_here(shop: Shop) -> None:
    run(shop.folder, "night", "run", "--for", "2026-03-11")
    assert run(shop.folder, "order", "list", "--site", "marl").out == """\
Order 1 from north to marl, van of 2026-03-10 16:00: proposed
  for 2026-03-10 17:00, cut-off 2026-03-10 16:00
  - 1 each U-1 Unit
  - fee 4.00 EUR
  total 4.00 EUR, for booking 1
"""
    there = run(shop.folder, "order", "list", "--site", "north").out
    assert there == """\
No order is open.

TO LOAD for marl: vans, van of 2026-03-10 16:00
  order 1, planned, nobody has said yet that it goes, leaves 2026-03-10 16:00,
  there 2026-03-10 17:00
  N-3          1 each    U-1          Unit
               lot B7
"""
    paper = shop.folder / "documents" / "2026-03-11" / "north" / "to-load.txt"
    assert paper.read_text("utf-8") == there.partition("\n\n")[2]
    listed = json.loads(run(shop.folder, "order", "list", "--json").out)
    assert {key: listed["orders"][0][key] for key in ("site", "from_site", "source")} == {
        "site": "marl", "from_site": "north", "source": "vans"}
    assert listed["loads"] == [{
        "order": 1, "from_site": "north", "site": "marl", "source": "vans", "slot": "van of 2026-03-10 16:00",
        "state": "proposed", "leaves": "2026-03-10T16:00:00+00:00", "ready": "2026-03-10T17:00:00+00:00", "rows": [
            {"item": "U-1", "lot": "B7", "bin": "N-3", "amount": "1", "unit": "each", "use_by": None, "booking": 1}]}]
    [lot] = json.loads(run(shop.folder, "stock", "list", "--site", "north", "--json").out)["lots"]
    assert (lot["on_hand"], lot["held"]) == ("2", "1")
    assert "promised" in run(shop.folder, "stock", "move", "U-1", "2", "--lot", "B7", "--from", "N-3", "--to", "N-4",
                             "--site", "north").said

    done = run(shop.folder, "order", "approve", "1", *BY)
    assert (done.code, done.out) == (0, """\
Order 1 from north to marl is approved: it is to be loaded at north before
2026-03-10 16:00 (kitbuilder order list --site north). When it is on the van:
kitbuilder order sent 1 --by NAME
""")
    gate = run(shop.folder, "check", "1", "--gate")
    assert (gate.code, "1 each Unit (U-1) from north: promised for 2026-03-10 17:00" in " ".join(gate.out.split())) == (
        0, True)
    done = run(shop.folder, "order", "sent", "1", *BY)
    assert (done.code, done.out) == (0, "Order 1 from north to marl is on its way, expected 2026-03-10 17:00.\n")
    assert "ON ITS WAY for marl: vans" in run(shop.folder, "order", "list", "--site", "north").out
    # what is on the van is on no pick list, neither here nor there
    assert "Nothing to fetch" in run(shop.folder, "pick", "1").out

    early = run(shop.folder, "order", "received", "1")
    assert (early.code, early.said) == (5, (
        "What order 1 brings from north isn't booked in yet. Say where it is put: kitbuilder order received 1 --bin "
        "BIN, or stock receive for part of it."))
    done = run(shop.folder, "order", "received", "1", "--bin", "A-1", *BY)
    assert (done.code, done.out) == (0, "Order 1 from north to marl is received: all of it is in A-1, held for "
                                        "booking 1.\n")
    assert "A-1          1 each    U-1" in run(shop.folder, "pick", "1").out
    assert run(shop.folder, "order", "list", "--site", "north").out == "No order is open.\n"
    told = run(shop.folder, "order", "show", "1").out
    assert [line.split("  ")[2] for line in told.splitlines() if line.startswith("  2026")][:2] == [
        "approved, A. Person", "ordered, A. Person: on the van"]
    assert run(shop.folder, "stock", "audit").code == 0
    assert run(shop.folder, "check", "1", "--gate").out.startswith("Booking 1: START.")


def test_goods_in_by_the_delivery_note(shop: Shop) -> None:
    run(shop.folder, "night", "run", "--for", "2026-03-11", "--site", "marl")
    # loaded at once, without asking first
    assert run(shop.folder, "order", "sent", "1", *BY).code == 0
    done = run(shop.folder, "stock", "receive", "U-1", "1", "--bin", "A-1", "--order", "1", "--note", "N1")
    assert (done.code, done.out) == (
        0, "Received 1 each of U-1 (Unit) in A-1 for order 1, which is received. Held: 1 for\nbooking 1.\n")
    [here] = shelves.lots(shop.store, "marl", ["U-1"])
    assert (here.lot, here.bin, here.held) == ("B7", "A-1", 1000)


def test_cancelled_by_either_site(shop: Shop) -> None:
    run(shop.folder, "night", "run", "--for", "2026-03-11", "--site", "marl")
    run(shop.folder, "order", "sent", "1", *BY)
    done = run(shop.folder, "order", "cancel", "1", *BY)
    assert (done.code, done.out) == (
        0, "Order 1 from north to marl is cancelled. Nothing is held for it at north any\nmore. It is on the van: it "
           "goes back to its bin there.\n")
    [there] = shelves.lots(shop.store, "north", ["U-1"])
    assert (there.on_hand, there.held) == (2000, 0)


def test_a_bin_is_only_for_what_another_site_sends(shop: Shop) -> None:
    shop.settings((VANS, "[registers.fleet]"))
    shop.supplier("U-1,1,each,2026-03-11T12:00:00+00:00,900,1")
    run(shop.folder, "night", "run", "--for", "2026-03-11", "--site", "marl")
    refused = run(shop.folder, "order", "received", "1", "--bin", "A-1")
    assert (refused.code, refused.said) == (2, "Order 1 brings nothing from another site, so --bin is not for it.")


def test_a_van_is_loaded_by_hand(shop: Shop) -> None:
    done = run(shop.folder, "stock", "move", "U-1", "1", "--lot", "B7", "--from", "N-3", "--to", "B-1", "--site",
               "north", "--to-site", "marl")
    assert (done.code, done.out) == (0, "Moved 1 each of U-1 (Unit) of lot B7 from N-3 to B-1 at marl.\n")
    unknown = run(shop.folder, "stock", "move", "U-1", "1", "--lot", "B7", "--from", "N-3", "--to", "B-1", "--site",
                  "north", "--to-site", "marle")
    assert (unknown.code, unknown.said) == (2, "There is no site 'marle'. Did you mean 'marl'?")
    assert run(shop.folder, "stock", "audit").code == 0


def test_a_kit_is_sourced_for_a_site_or_from_all_shelves_as_one(shop: Shop) -> None:
    shop.receive("T-1", "1")
    job = ("kit", "unit-change", "--source", "--json")

    def stock(*more: str) -> dict[str, list[tuple[str, str | None, str | None, str | None]]]:
        told = json.loads(run(shop.folder, *job, *more).out)
        return {line["item"]: [(row["source"], row["quantity"], row["ready"], row["price"]) for row in line["stock"]]
                for line in told["lines"]}

    here = stock("--site", "marl")
    assert here["U-1"][:2] == [("vans", "2", "2026-03-10T17:00:00+00:00", None),
                               ("vans", "2", "2026-03-11T08:30:00+00:00", None)]
    assert here["T-1"] == [("shelf", "1", "2026-03-10T15:00:00+00:00", None)]
    there = stock("--site", "north")
    assert (there["U-1"], there["T-1"]) == ([("shelf", "2", "2026-03-10T15:00:00+00:00", None)], [])
    every = stock()
    assert every["U-1"] == [("shelf", "2", "2026-03-10T15:00:00+00:00", None)]
    assert every["T-1"] == [("shelf", "1", "2026-03-10T15:00:00+00:00", None)]
    assert "vans: 2 from Tue 10 Mar 17:00" in run(shop.folder, "kit", "unit-change", "--source", "--site", "marl").out
    unknown = run(shop.folder, *job, "--site", "nord")
    assert (unknown.code, unknown.said) == (2, "There is no site 'nord'. Did you mean 'north'?")
    assert run(shop.folder, "kit", "unit-change", "--site", "marl").code == 2


def test_a_site_at_which_nothing_lies_yet_is_empty_and_no_failure(tmp_path: Path) -> None:
    shop = Shop(tmp_path / "shop", {"marl": "Europe/London", "north": "Europe/London"})
    shop.settings(("[registers.fleet]", VANS))
    shop.receive("U-1", "1")
    shop.book("unit-change", "2026-03-12T08:00")
    assert run(shop.folder, "sources").code == 0
    done = run(shop.folder, "night", "run", "--for", "2026-03-11")
    assert "failed" not in done.out + done.err
    shop.store.close()
