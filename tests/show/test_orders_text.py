"""Orders, scanned deliveries and what goes back, as a clerk reads them: whole words, at most 80 columns."""

from datetime import UTC, date, datetime

import pytest

from kitbuilder.model.delivery_note import AgainstOrder, DeliveryNote, NoteFault, NoteRow, Scanned
from kitbuilder.model.order import (
    ORDER_STATES,
    ExchangeReturnRow,
    OrderChange,
    OrderedFor,
    OrderedLine,
    OrderRow,
    SupplierReturnRow,
)
from kitbuilder.show.delivered import scanned_text
from kitbuilder.show.orders import history_text, orders_text, owed_text, returns_text, sent_text, units_text
from kitbuilder.show.paper import Paper

NOON = datetime(2026, 7, 1, 11, tzinfo=UTC)  # 12:00 in London
LONG = "Clutch kit with cover, plate and release bearing for the manual gearbox with six speeds, of the later kind"
ITEMS: dict = {}


def order(state: str = "proposed", **more: object) -> OrderRow:
    return OrderRow(**{  # type: ignore[arg-type]
        "id": 4, "key": "marl|2026-07-01|web|noon", "site": "marl", "source": "web", "slot": "noon", "ready": NOON,
        "cut_off": NOON, "currency": "EUR", "fee": 950, "state": state, "proposed_at": NOON,
        "lines": (OrderedLine("OS-22120", "set", 1000, (), 52800, returnable=False),
                  OrderedLine("RI-60114", "each", 100000, ((50000, 2),), 420)),
        "wanted_for": (OrderedFor("OS-22120", 9, "9/clutch-kit:OS-22120", 1000),), **more})


def narrow(text: str) -> str:
    assert max(map(len, text.splitlines())) <= 80
    return text


@pytest.mark.parametrize("state", ORDER_STATES)
def test_every_state_fits_the_screen(state: str) -> None:
    one = order(state, said=LONG, decided_by="A. Person", supplier_number="A-4711", expected_at=NOON)
    text = narrow(orders_text([one], ITEMS, "Europe/London", Paper()))
    assert text.startswith(f"Order 4 at web: {state} (their number A-4711)\n")
    narrow("\n".join(Paper().wrap(sent_text(one, LONG, False))))


def test_a_proposal_says_until_when_why_it_waits_and_what_it_comes_to() -> None:
    assert orders_text([order(said="over 500.00 EUR; not returnable: OS-22120")], ITEMS, "Europe/London", Paper()) == (
        "Order 4 at web: proposed\n"
        "  for 2026-07-01 12:00, cut-off 2026-07-01 12:00\n"
        "  waits for a person: over 500.00 EUR; not returnable: OS-22120\n"
        "  - 1 set OS-22120: 528.00 EUR, CAN'T BE RETURNED\n"
        "  - 100 each (2 x 50) RI-60114: 4.20 EUR\n"
        "  - fee 9.50 EUR\n"
        "  total 541.70 EUR, for booking 9\n")


def test_what_was_confirmed_otherwise_later_and_came_stands_with_its_line() -> None:
    lines = (OrderedLine("OS-22120", "set", 1000, (), 52800, 1000, 54000, expected_at=NOON.replace(day=3)),
             OrderedLine("RI-60114", "each", 100000, (), 420, 50000))
    text = orders_text([order("part", lines=lines, decided_by="night", expected_at=NOON)], ITEMS, "Europe/London",
                       Paper(), came={"RI-60114": 50000})
    assert "  for 2026-07-01 12:00, approved by the night run\n" in text
    assert "OS-22120: 528.00 EUR; confirmed for 540.00 EUR; comes 2026-07-03 12:00\n" in text.replace("\n    ", " ")
    assert "4.20 EUR; 50 confirmed for 2.10 EUR; 50 came\n" in text
    assert "total 551.60 EUR" in text


def test_a_history_stands_in_columns() -> None:
    text = narrow(history_text([OrderChange(NOON, "approved", "night", LONG)], "Europe/London", Paper()))
    assert text.startswith("\nWhat happened\n  2026-07-01 12:00  approved, night: Clutch kit")
    assert all(line.startswith(" " * 20) for line in text.splitlines()[3:])


def test_a_return_says_its_last_day_and_its_money_and_nothing_of_a_bin_it_has_left() -> None:
    told = {"id": 2, "site": "marl", "source": "web", "order": 4, "item": "OS-22120", "lot": "L7", "bin": "G-01",
            "quantity": 1000, "unit": "set", "why": "not used", "until": date(2026, 7, 15), "currency": "EUR",
            "fee": 7920, "credit": 44880, "said": "", "changed_at": NOON, "changed_by": "Ben"}
    proposed, refused = (SupplierReturnRow(state=state, **told) for state in ("proposed", "refused"))  # type: ignore[arg-type]
    assert narrow(returns_text([proposed, refused], ITEMS, Paper())) == (
        "Return 2 to web: proposed\n  1 set OS-22120, lot L7, in G-01: not used\n"
        "  order 4, taken back until 2026-07-15, fee 79.20 EUR, credit 448.80 EUR\n"
        "Return 2 to web: refused\n  1 set OS-22120, lot L7: not used\n"
        "  order 4, taken back until 2026-07-15, fee 79.20 EUR, no credit\n")


def test_an_old_unit_says_until_when_in_what_state_and_what_hangs_on_it() -> None:
    unit = ExchangeReturnRow(
        id=1, booking=9, item="TH-10110", quantity=1000, due=date(2026, 7, 1), currency="EUR", deposit=45000,
        wanted="drained, boxed", state="due", said="", changed_at=NOON, changed_by="T. Fitter")
    assert owed_text(unit, "Unit (TH-10110)") == (
        "Goes back: the old unit of Unit (TH-10110), by 2026-07-01, drained, boxed, for the deposit of 450.00 EUR.")
    assert "due, OVERDUE\n" in narrow(units_text([unit], ITEMS, date(2026, 7, 2), Paper()))
    assert "OVERDUE" not in units_text([unit], ITEMS, date(2026, 7, 1), Paper())


def test_a_scanned_delivery_says_of_each_row_how_it_stands() -> None:
    rows = tuple(NoteRow(f"IT-{number}", "L7" * 12, None, 4000, "each", (number,)) for number in (1, 2, 3, 4))
    against = tuple(AgainstOrder(4, row.item, "N (order 4)", "4", "each", takes, beyond, held, "ordered", back,
                                 row.scans) for row, takes, beyond, held, back in zip(
                        rows, ("ordered", "beyond", "wrong", "booked before"), ("1", "4", "0", "0"),
                        ({9: "2", 10: "1"}, {}, {}, {}), (7, 8, 9, None), strict=True))
    note = DeliveryNote(rows, (), ())
    text = narrow(scanned_text(Scanned("kitbuilder.scanned/1", (), note, "A-1", "4711", against), Paper()))
    flat = " ".join(text.split())
    assert text.startswith("Booked into A-1, for order 4, note 4711: 4 rows\n") and flat.endswith("Order 4 is ordered.")
    for said in ("1 each MORE THAN ORDERED, return 7 is proposed; held: 2 for booking 9, 1 for booking 10",
                 "4 each MORE THAN ORDERED, return 8 is proposed",
                 "NOT ORDERED, in quarantine as lot N (order 4), return 9 is proposed",
                 "booked in before with this note; nothing was done"):
        assert said in flat
    faulty = DeliveryNote(rows, (), (NoteFault(3, "x", LONG),))
    read = scanned_text(Scanned("kitbuilder.scanned/1", (), faulty, None, "", against[:3]), Paper())
    assert "to be held: 2 for booking 9" in " ".join(read.split()) and "return 7" not in read
    assert "1 line to look at; nothing was booked in\n  - line 3, x: Clutch kit" in narrow(read)
