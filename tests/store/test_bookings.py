"""Bookings as their diaries tell them, their kits, and the edits by hand."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.calendar.wall import to_utc
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.booking import EditRow, KitRow
from kitbuilder.store import bookings
from kitbuilder.store.database import open_store
from tests.databases import moment
from tests.store.shelf import LATER, NOW, SITE, book, dump, entry, raw

ZONE = "Europe/Berlin"


def put(store, entry, diary="diary", now=NOW):
    return bookings.put(store, diary, entry, to_utc(entry.start, ZONE), ZONE, now)


def test_a_booking_keeps_all_that_its_diary_told(store):
    told = entry("a", recurrence="2", revision=3, visit="V7", registration="DEMO 1", state="enquiry", priority="VOR",
                 bay="4", technician="Ada", facts={"emissions": "Euro V", "place": "workshop"})
    number, changed = put(store, told)
    one = bookings.get(store, number)
    assert changed and {name: getattr(one, name) for name in told.__struct_fields__ if name not in ("start",)} == {
        name: getattr(told, name) for name in told.__struct_fields__ if name not in ("start",)}
    assert (one.diary, one.number, one.missing, one.actual_start) == ("diary", number, False, None)


@pytest.mark.parametrize("wall,utc", [
    ("2026-03-11T08:00:00", "2026-03-11 07:00:00.000000"),
    ("2026-07-01T08:00:00", "2026-07-01 06:00:00.000000"),
    ("2026-10-25T02:30:00", "2026-10-25 00:30:00.000000")])  # twice on that day: the first is meant
def test_wall_time_zone_and_utc_are_stored(store, file, wall, utc):
    number, _ = put(store, entry(start=datetime.fromisoformat(wall)))
    with raw(file) as connection:
        [(kept, zone, start)] = connection.execute('SELECT start_wall, zone, "start" FROM booking').fetchall()
    assert (kept, zone, moment(start)) == (wall, ZONE, utc)
    one = bookings.get(store, number)
    assert one.start.tzinfo is UTC and one.start.astimezone(ZoneInfo(one.zone)).replace(tzinfo=None).isoformat() == wall


def test_the_same_entry_again_changes_nothing(store, file):
    number, _ = put(store, entry(visit="V"))
    before = dump(file)
    assert put(store, entry(visit="V"), now=LATER) == (number, False)
    assert dump(file) == before


def test_a_booking_is_its_diary_s_name_id_and_recurrence(store):
    numbers = {
        put(store, entry(id_, recurrence=recurrence), diary)[0]
        for diary in ("a", "b") for id_ in ("1", "2") for recurrence in ("", "1")}
    assert numbers == set(range(1, 9))
    assert put(store, entry("2", recurrence="1", job="clutch"), "b") == (8, True)


def test_an_older_revision_is_ignored_and_the_same_or_a_newer_one_is_taken(store):
    number, _ = put(store, entry(revision=5, job="five"))
    assert put(store, entry(revision=4, job="four")) == (number, False)
    assert bookings.get(store, number).job == "five"
    assert put(store, entry(revision=5, job="five again")) == (number, True)
    assert put(store, entry(revision=6, job="five again")) == (number, True)
    assert (bookings.get(store, number).job, bookings.get(store, number).revision) == ("five again", 6)


def test_what_was_changed_at_the_desk_stays_until_the_diary_itself_says_something_else(store):
    number, _ = put(store, entry(bay="1"))
    moved = datetime(2026, 3, 12, 9)
    bookings.change(store, number, LATER, state="cancelled")
    bookings.change(store, number, LATER, state="authorised", start=to_utc(moved, ZONE), start_wall=moved.isoformat())
    assert put(store, entry(bay="1")) == (number, False)
    assert put(store, entry(bay="2", revision=1)) == (number, True)
    one = bookings.get(store, number)
    assert (one.bay, one.start_wall, one.start) == ("2", moved.isoformat(), to_utc(moved, ZONE))
    put(store, entry(bay="2", revision=2, start=datetime(2026, 3, 11, 10)))
    one = bookings.get(store, number)
    assert (one.start_wall, one.start) == ("2026-03-11T10:00:00", datetime(2026, 3, 11, 9, tzinfo=UTC))


CHANGES = st.fixed_dictionaries({}, optional={
    "job": st.sampled_from("ab"), "bay": st.sampled_from("12"), "state": st.sampled_from(["enquiry", "authorised"]),
    "technician": st.sampled_from("xy")})


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.booleans(), st.integers(0, 3), CHANGES), max_size=8))
def test_diary_and_desk_against_a_plain_model(steps):
    store = open_store(":memory:")
    known, row = {}, {}
    newest = -1
    for at_desk, revision, told in [(False, 0, {}), *steps]:
        if at_desk:
            bookings.change(store, 1, NOW, **told)
            row |= told
            continue
        full = {"job": "a", "bay": "1", "state": "authorised", "technician": "x"} | told
        put(store, entry(revision=revision, **full))
        if revision >= newest:
            row |= {name: value for name, value in full.items() if known.get(name) != value}
            known, newest = full, revision
    one = bookings.get(store, 1)
    assert {name: getattr(one, name) for name in row} == row and one.revision == newest
    store.close()


def test_numbers_are_never_used_again_even_if_the_row_is_gone(store, file):
    numbers = [put(store, entry(str(id_)))[0] for id_ in range(3)]
    with raw(file) as connection:
        connection.execute("DELETE FROM booking")
    assert numbers == [1, 2, 3] and put(store, entry("again"))[0] == 4


def test_bookings_are_of_one_visit_only_if_one_diary_says_so(store, file):
    for diary, id_, visit in (("a", "1", "V"), ("a", "2", "V"), ("a", "3", "W"), ("b", "1", "V"), ("a", "4", "")):
        put(store, entry(id_, visit=visit), diary)
    with raw(file) as connection:
        assert connection.execute("SELECT visit FROM booking ORDER BY number").fetchall() == [
            (1,), (1,), (2,), (3,), (None,)]
    put(store, entry("1", visit="", revision=1), "a")
    assert [one.visit for one in bookings.every(store)] == ["", "V", "W", "V", ""]


def test_one_that_vanished_is_missing_not_cancelled_and_comes_back(store):
    number, _ = put(store, entry())
    for when in (NOW, LATER):
        with store.writing() as session:
            bookings.mark_missing_in(session, [number, 77], when)
    one = bookings.get(store, number)
    assert one.missing and one.state == "authorised"
    assert put(store, entry()) == (number, True)
    assert not bookings.get(store, number).missing


def test_an_entry_without_an_id_or_with_a_zone_is_refused(store):
    with pytest.raises(WrongUse, match="has no id"):
        put(store, entry(""))
    with pytest.raises(WrongUse, match="wall time at the site"):
        bookings.put(store, "d", entry(start=NOW), NOW, ZONE, NOW)
    assert bookings.every(store) == []


def test_bookings_come_by_start_then_number_within_a_window_of_a_site(store):
    for id_, day, site in (("a", 12, SITE), ("b", 11, SITE), ("c", 11, SITE), ("d", 11, "Elsewhere"), ("e", 13, SITE)):
        put(store, entry(id_, start=datetime(2026, 3, day, 8), site=site))
    assert [one.id for one in bookings.every(store)] == ["b", "c", "d", "a", "e"]
    since, until = to_utc(datetime(2026, 3, 11, 8), ZONE), to_utc(datetime(2026, 3, 12, 8), ZONE)
    assert [one.id for one in bookings.every(store, SITE, since, until)] == ["b", "c"]
    assert bookings.every(store, "Nowhere") == []


def test_a_cancelled_booking_changes_only_by_standing_again(store):
    number = book(store)
    assert bookings.change(store, number, LATER, state="cancelled").state == "cancelled"
    with pytest.raises(StoreRefuses, match=f"Booking {number} is cancelled"):
        bookings.change(store, number, LATER, bay="3")
    assert bookings.change(store, number, LATER, state="enquiry", bay="3").bay == "3"
    with pytest.raises(StoreRefuses, match="ck_booking_state"):
        bookings.change(store, number, LATER, state="maybe")
    for act in (lambda: bookings.get(store, 77), lambda: bookings.change(store, 77, LATER, bay="3")):
        with pytest.raises(WrongUse, match="There is no booking 77"):
            act()


def kit(number, content=b'{"lines": []}', fingerprint="f1", at=NOW):
    return KitRow(number, "e1", fingerprint, content, '[{"fact": "façade"}]'.encode(), at)


def test_a_kit_is_kept_whole_and_one_that_is_the_same_changes_nothing(store, file):
    number = book(store)
    assert bookings.kit_of(store, number) is None
    with store.writing() as session:
        assert bookings.put_kit(session, kit(number))
    before = dump(file)
    with store.writing() as session:
        assert not bookings.put_kit(session, kit(number, at=LATER))
    assert dump(file) == before and bookings.kit_of(store, number) == kit(number)
    with store.writing() as session:
        assert bookings.put_kit(session, kit(number, b"{}", "f2", LATER))
    assert bookings.kit_of(store, number) == kit(number, b"{}", "f2", LATER)


def edit(number, **told):
    return EditRow(**{"booking": number, "action": "strike", "role": "wipes", "filler": "WI-1", "who": "Ada",
                      "why": "customer's own", "at": NOW} | told)


def test_edits_keep_who_and_why_in_their_order_and_are_taken_back_not_deleted(store, file):
    number, other = book(store), book(store, "2")
    told = [edit(number), edit(number, action="amount", filler="OIL", amount=1500, unit="L"),
            edit(number, action="add", filler="", item="XX-1"), edit(other)]
    assert [bookings.add_edit(store, one) for one in told] == [1, 2, 3, 4]
    edits = bookings.edits_of(store, number)
    assert [(one.id, one.action, one.amount, one.item, one.who, one.why) for one in edits] == [
        (1, "strike", None, "", "Ada", "customer's own"), (2, "amount", 1500, "", "Ada", "customer's own"),
        (3, "add", None, "XX-1", "Ada", "customer's own")]
    bookings.undo_edit(store, number, 2, "Ben", LATER)
    assert [one.id for one in bookings.edits_of(store, number)] == [1, 3]
    with raw(file) as connection:
        who, when = connection.execute("SELECT undone_by, undone_at FROM edit WHERE id = 2").fetchone()
    assert (who, moment(when)) == ("Ben", "2026-03-10 16:00:00.000000")
    for wrong in (2, 4, 77):  # taken back already, another booking's, none
        with pytest.raises(WrongUse, match=f"Booking {number} has no edit {wrong} that stands. Its edits: 1, 3."):
            bookings.undo_edit(store, number, wrong, "Ben", LATER)
    with pytest.raises(WrongUse, match="There is no booking 77"):
        bookings.add_edit(store, edit(77))


