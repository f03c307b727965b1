"""Lines on condition at night: some go along to a job in the yard, others are set aside for the day's findings."""

import pytest

from tests.night.shop import Shop, row_of

ON_CONDITION = """
[on-condition]
place = "place"
away = ["yard"]
stopped = "600.00"
handling = "1.50"
hour = "60.00"
reserve = "0.50"
"""
FACTS = {"emissions": "Euro V"}


@pytest.fixture
def costed(shop: Shop) -> Shop:
    """The shop, with the costs of carrying, setting aside, waiting."""
    shop.settings_text += ON_CONDITION
    shop.settings()
    shop.receive("S-5", "20")
    shop.receive("W-1", "20")
    return shop


def test_what_goes_along_is_held_and_picked_like_what_is_certain(costed: Shop) -> None:
    """0.2 of 600.00 against 1.50: the pipe goes along."""
    costed.receive("P-1", "1")
    number = costed.book("seal-change", facts={**FACTS, "place": "yard"})
    report = costed.run()
    assert costed.held(number)[f"{number}/pipe:P-1 P-1"] == 1000
    assert row_of(report, number).state == "ready"
    paper = costed.documents()[f"2026-03-11/marl/pick-{number}.txt"].decode()
    assert "P-1" in paper
    assert "ON CONDITION, NOT HELD" not in paper
    before = costed.dump()
    costed.run()
    assert costed.dump() == before


def test_what_goes_along_is_ordered_where_the_shelf_has_none(costed: Shop) -> None:
    costed.supplier("P-1,4,each,2026-03-11T07:00:00+00:00,20.00,1")
    costed.book("seal-change", "2026-03-11T09:00", facts={**FACTS, "place": "yard"})
    costed.run()
    [order] = costed.orders()
    assert [(line.item, line.quantity) for line in order.lines] == [("P-1", 1000)]


def test_in_the_workshop_a_day_shares_what_is_set_aside(costed: Shop) -> None:
    """Three at 0.2: one is wanted with a chance of 0.488, two with 0.104, three with 0.008. Fetching costs 10.00 (ten
    minutes of a bay's hour), setting one aside 0.50: so two are."""
    costed.receive("P-1", "5", bin_name="B-7")
    numbers = [costed.book("seal-change", f"2026-03-11T{hour}:00", facts={**FACTS, "place": "workshop"})
               for hour in ("08", "09", "10")]
    report = costed.run()
    [one] = report.set_aside
    assert (one.item, one.amount, one.most, one.bookings, one.bins) == ("P-1", "2", "3", tuple(numbers), ("B-7",))
    assert (one.cost, one.left_out, one.more, one.proven) == ("1.08", "4.92", "0", True)
    assert not any("P-1" in key for key in costed.held())
    text = costed.documents()["2026-03-11/marl/report.txt"].decode()
    assert "2 of 3 each Pipe (P-1), in B-7" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_wait_for_the_supplier_counts_in_working_time_from_when_it_shows(costed: Shop) -> None:
    """The job starts at 16:00, the pipe is needed at 17:00; the supplier's next arrival is at 08:00 of the next day,
    the site closes at 18:00 and opens at 6:00: three working hours at 60.00, by a chance of 0.2."""
    costed.supplier("P-1,4,each,2026-03-12T08:00:00+00:00,20.00,1")
    costed.book("seal-change", "2026-03-11T16:00", facts={**FACTS, "place": "workshop"})
    [one] = costed.run().set_aside
    assert (one.amount, one.more, one.cost) == ("0", "1", "36.00")
    text = " ".join(costed.documents()["2026-03-11/marl/report.txt"].decode().split())
    assert "Pipe (P-1): the shelf has none to spare" in text
    assert "1 each would be worth having for booking 1; without, waiting is expected to cost 36.00 EUR" in text


def test_without_the_settings_nothing_is_said_and_nothing_goes_along(shop: Shop) -> None:
    shop.receive("S-5", "20")
    shop.receive("W-1", "20")
    shop.receive("P-1", "5")
    number = shop.book("seal-change", facts={**FACTS, "place": "yard"})
    report = shop.run()
    assert "set_aside" not in shop.documents()["2026-03-11/marl/report.json"].decode()
    assert not any("P-1" in key for key in shop.held(number))
    assert row_of(report, number).state == "ready"
