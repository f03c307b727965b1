"""Scanned codes on delivered goods as rows of goods in: nothing guessed, nothing counted twice."""

import builtins
import re
import sys
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.errors import BadData
from kitbuilder.model.delivery_note import DeliveryNote
from kitbuilder.stock.delivery_note import read_delivery_note
from tests.stock.items import item

DAY = date(2026, 3, 10)
#: A number with a right check digit (the worked example of gs1.org).
RING, OIL = "6291041500213", "73513537"
ITEMS = [item("RI-1", codes=(RING, "shelf-12")), item("OI-1", "L", (OIL,)), item("GR-1", "g", ("23456785",))]
FNC = "\x1d"
R, L, G = RING.zfill(14), OIL.zfill(14), "23456785".zfill(14)


def read(*scans: str) -> DeliveryNote:
    return read_delivery_note("\n".join(scans), ITEMS, DAY)


def rows(*scans: str) -> list[tuple[str, str, str | None, int]]:
    note = read(*scans)
    assert note.faults == ()
    return [(one.item, one.lot, one.use_by.isoformat() if one.use_by else None, one.quantity) for one in note.rows]


def fault(*scans: str) -> str:
    note = read(*scans)
    [one] = note.faults
    return one.text


def test_item_lot_day_and_count():
    assert rows(f"01{R}1727063010B-7{FNC}3712") == [("RI-1", "B-7", "2027-06-30", 12_000)]
    assert rows(f"02{R}3712{FNC}10B-7") == [("RI-1", "B-7", None, 12_000)]
    assert rows(f"01{R}305") == [("RI-1", "", None, 5000)]
    assert rows(f"(01){R}(15)270600(10)B-7") == [("RI-1", "B-7", "2027-06-30", 1000)]


def test_the_same_again_adds_up_and_lots_stay_apart():
    note = read(RING, "", f"01{R}10A{FNC}372", RING, f"01{R}10A{FNC}373", f"01{R}10B")
    assert [(row.lot, row.quantity, row.scans) for row in note.rows] == [
        ("", 2000, (1, 4)), ("A", 5000, (3, 5)), ("B", 1000, (6,))]


def test_what_is_measured_is_taken_by_its_net_amount():
    # 315n: litres with n decimals; 310n: kilograms
    assert rows(f"01{L}3153020000") == [("OI-1", "", None, 20_000)]
    assert rows(f"01{L}31500000203740") == [("OI-1", "", None, 800_000)]
    assert rows(f"01{L}3155000001") == [("OI-1", "", None, 1)], "of what is less than a thousandth, rounded up"
    assert rows(f"01{G}3103000400") == [("GR-1", "", None, 400_000)]
    assert "doesn't say how much is in one, and OI-1 is counted in L" in fault(OIL)
    assert "doesn't say how much is in one" in fault(f"01{L}3103000400")


def test_boxes_and_pallets_are_told_and_not_twice():
    box = "006141411234567890"  # a published example, without its two leading digits
    sscc = next(f"{box[:17]}{digit}" for digit in range(10) if not read(f"00{box[:17]}{digit}").faults)
    note = read(f"00{sscc}", f"00{sscc}", f"01{R}")
    assert note.containers == (sscc,)
    assert [one.text for one in note.faults] == [f"the box or pallet {sscc} was scanned already"]
    assert [one.item for one in note.rows] == ["RI-1"]


def test_a_serial_number_counts_once():
    note = read(f"01{R}21S1", f"01{R}21S2", f"01{R}21S1")
    assert [row.quantity for row in note.rows] == [2000]
    assert note.faults[0].scan == 3
    assert "serial number S1 was scanned already" in note.faults[0].text


@pytest.mark.parametrize(("scan", "words"), [
    ("9780471117094", "no item of the catalogue has the code 9780471117094: put it under codes"),
    (f"01{R[:-1]}4", "check digit of (01)"), (RING[:-1] + "4", "check digit is wrong"),
    ("hello", "these are no GS1 fields"), ("10B-7", "it names no item"), ("]A0123", "a code of the kind ]A0"),
    (f"01{R}17271340", "these are no GS1 fields"), (f"01{R}300", "it tells a count of 0"),
    (f"01{R}302{FNC}373", "(30) and (37) tell different counts"), (f"01{R}10A{FNC}10B", "(10) is told twice"),
])
def test_what_cannot_be_taken_is_told_by_its_line(scan, words):
    note = read(RING, scan)
    assert [one.scan for one in note.faults] == [2]
    assert words in note.faults[0].text
    assert [row.quantity for row in note.rows] == [1000]


def test_one_lot_with_two_days_is_for_a_person():
    assert fault(f"01{R}1727063010A", f"01{R}1727073110A") == (
        "scan 1 tells another day for RI-1, lot A: look at the labels")


def test_the_year_goes_by_the_day_that_is_passed_in():
    assert read_delivery_note(f"01{R}17760101", ITEMS, date(2026, 1, 1)).rows[0].use_by == date(2076, 1, 1)
    assert read_delivery_note(f"01{R}17760101", ITEMS, date(2025, 1, 1)).rows[0].use_by == date(1976, 1, 1)


def test_without_the_library_it_is_told_how_to_get_it(monkeypatch):
    real = builtins.__import__

    def none(name: str, *rest: object) -> object:
        if name == "biip":
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.delitem(sys.modules, "biip", raising=False)
    monkeypatch.setattr(builtins, "__import__", none)
    with pytest.raises(BadData, match=r"pip install 'kitbuilder\[codes\]'"):
        read(RING)


@given(st.text(alphabet="0123456789()ABab]Cd\x1d ", max_size=60) | st.text(max_size=30))
def test_any_text_is_a_row_or_a_fault(text):
    note = read_delivery_note(text, ITEMS, DAY)
    told = [scan for row in note.rows for scan in row.scans] + [one.scan for one in note.faults]
    lines = [line for line in re.split("\r\n|\r|\n", text) if line.strip()]
    assert len(told) + len(note.containers) + len(note.orders) + len(note.shipments) >= len(lines)
    assert all(row.quantity > 0 for row in note.rows)
