"""What a diary tells becomes bookings; what it doesn't tell any more is missing, not cancelled."""

import pytest

from kitbuilder.night.diary import doubted
from kitbuilder.store import bookings
from tests.night.shop import Shop, row_of


def line(name: str, start: str = "2026-03-11T08:00", revision: int = 0, **told: str) -> str:
    """A row of the diary."""
    more = {"site": "marl", "job": "seal-change", "vehicle": "DEMO 5", "state": "authorised", "recurrence": "", **told}
    return (f"{name},{more['recurrence']},{revision},,{start},{more['site']},{more['job']},{more['vehicle']},"
            f"{more['state']},normal,")


def test_a_new_booking_gets_a_number_that_is_never_used_again(shop: Shop) -> None:
    shop.diary(line("a"), line("b"))
    shop.run()
    shop.diary(line("b"), line("c"))
    shop.run()
    assert [(one.number, one.id) for one in bookings.every(shop.store)] == [(1, "a"), (2, "b"), (3, "c")]


def test_a_higher_revision_counts_and_a_lower_one_doesnt(shop: Shop) -> None:
    shop.diary(line("a", revision=2))
    shop.run()
    shop.diary(line("a", "2026-03-11T10:00", revision=3))
    shop.run()
    assert shop.booking(1).start_wall == "2026-03-11T10:00:00"
    shop.diary(line("a", "2026-03-11T12:00", revision=1))
    report = shop.run()
    assert shop.booking(1).start_wall == "2026-03-11T10:00:00"
    assert report.attention == () or all("desk" not in text for text in report.attention)


def test_repeats_of_one_id_are_kept_apart(shop: Shop) -> None:
    shop.diary(line("a", recurrence="1"), line("a", recurrence="2"))
    assert len(shop.run().bookings) == 2


@pytest.mark.parametrize(("rows", "why"), [
    ([line("")], "expected something under id"),
    ([line("a"), line("a")], "it has the id 'a' twice"),
    ([line("a", "2026-03-11T08:00+00:00")], "without a zone"),
    ([line("a", "1026-03-11T08:00")], "from 2000 to 2199"),
    ([line("a", state="perhaps")], "enquiry, authorised, cancelled"),
])
def test_a_diary_that_can_not_be_right_is_refused_whole(shop: Shop, rows: list[str], why: str) -> None:
    shop.diary(*rows)
    report = shop.run()
    assert why in report.warnings[0]
    assert bookings.every(shop.store) == []


def test_one_that_vanished_is_missing_not_cancelled(shop: Shop) -> None:
    shop.receive("S-5", "4")
    shop.receive("W-1", "4")
    shop.diary(line("a"), line("b"))
    shop.run()
    held = shop.held()
    shop.diary(line("a"))
    report = shop.run()
    assert (shop.booking(2).missing, shop.booking(2).state) == (True, "authorised")
    assert row_of(report, 2).state == "needs a person"
    assert row_of(report, 2).why == ("it vanished from its diary: cancel it, or put it back there",)
    assert shop.held() == held
    shop.diary(line("a"), line("b"))
    assert row_of(shop.run(), 2).state == "ready"
    assert not shop.booking(2).missing


def test_one_that_is_past_may_go(shop: Shop) -> None:
    shop.diary(line("a", "2026-03-10T08:00"), line("b"))
    shop.run()
    shop.diary(line("b"))
    shop.run()
    assert not shop.booking(1).missing


def test_where_a_fifth_vanish_at_once_the_file_is_doubted(shop: Shop) -> None:
    names = [f"n{number}" for number in range(10)]
    shop.diary(*(line(name) for name in names))
    shop.run()
    shop.diary(*(line(name) for name in names[2:]))
    report = shop.run()
    assert not any(one.missing for one in bookings.every(shop.store))
    assert ("2 of 10 coming bookings vanished from the diary office at once. It is doubted, and they are kept; look at "
            "it.") in report.attention
    shop.diary(*(line(name) for name in names[1:]))
    shop.run()
    assert [one.id for one in bookings.every(shop.store) if one.missing] == ["n0"]


@pytest.mark.parametrize(("gone", "there", "is_doubted"), [
    (0, 0, False), (0, 20, False), (1, 1, False), (1, 2, False), (2, 2, True), (4, 4, True), (3, 4, False),
    (1, 5, True), (1, 6, False), (2, 10, True), (1, 10, False), (200, 1000, True), (199, 1000, False),
])
def test_a_fifth(gone: int, there: int, is_doubted: bool) -> None:
    assert doubted(gone, there) is is_doubted


def test_a_change_at_the_desk_stands_until_the_diary_says_something_else(shop: Shop) -> None:
    shop.diary(line("a"), line("b"))
    shop.run()
    bookings.change(shop.store, 1, shop.now, state="cancelled")
    report = shop.run()
    assert shop.booking(1).state == "cancelled"
    told = "Booking 1 is cancelled by the desk, but authorised in the diary office; put it right there."
    assert told in report.attention
    shop.diary(line("a", "2026-03-11T11:00"), line("b"))
    shop.run()
    assert (shop.booking(1).state, shop.booking(1).start_wall) == ("cancelled", "2026-03-11T11:00:00")
    shop.diary(line("a", "2026-03-11T11:00", state="cancelled"), line("b"))
    assert not any("desk" in text for text in shop.run().attention)


def test_a_site_that_the_settings_dont_have_is_told(shop: Shop) -> None:
    shop.diary(line("a", site="nowhere"), line("b"))
    report = shop.run()
    assert "The diary office has 1 booking for 'nowhere', which is no site of the settings." in report.attention
    assert [one.id for one in bookings.every(shop.store)] == ["b"]


def test_what_is_wrong_with_one_booking_leaves_the_rest_alone(shop: Shop) -> None:
    shop.receive("S-5", "4")
    shop.receive("W-1", "9")
    shop.diary(
        line("a"), line("b", job="seal-chang"), line("c", vehicle="DEMO 55"),
        line("d", vehicle="") + "Euro IX", line("e", vehicle="") + "Euro V")
    report = shop.run()
    assert [(row.booking, row.state) for row in report.bookings] == [
        (2, "needs a person"), (3, "needs a person"), (4, "needs a person"), (1, "ready"), (5, "ready")]
    assert "There is no job 'seal-chang'" in row_of(report, 2).why[0]
    assert "No register knows the registration 'DEMO 55'. Did you mean" in row_of(report, 3).why[0]
    assert "Euro IX" in row_of(report, 4).why[0]
