"""Another site's shelf: what is free there, in the vans that are still to leave."""

from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import kitbuilder_sister_site
import pytest

from kitbuilder import Context, DiaryEntry, Quote, QuoteRequest, SourceFailed, Wanted
from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.shelf import Coming, Promise, Receipt
from kitbuilder.store import bookings
from kitbuilder.store.database import Store, open_store
from kitbuilder.store.holds import hold
from kitbuilder.store.shelves import quarantine, receive
from kitbuilder.store.view import StoreShelf
from kitbuilder.testing import SourceCase, SourceChecks

#: A Tuesday, 15:00 in London.
NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
VAN = {"site": "north", "leaves": ["10:00", "15:30"], "takes_min": 90, "zone": "Europe/London", "vans": 3}
RING, OIL, GREASE = Wanted("RI-1", "each"), Wanted("OI-1", "L"), Wanted("GR-1", "g")
REQUEST = QuoteRequest((RING, OIL, GREASE), NOW)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "workshop.db")
    for site, item, quantity, unit, lot, bin_ in (
            ("north", "RI-1", 4000, "each", "", "A-1"), ("north", "RI-1", 2000, "each", "", "A-2"),
            ("north", "OI-1", 20_000, "L", "B-7", "T-1"), ("north", "OI-1", 9_000, "L", "B-8", "T-1"),
            ("south", "RI-1", 100_000, "each", "", "A-1")):
        receive(opened, Receipt(site=site, item=item, bin=bin_, quantity=quantity, unit=unit, lot=lot,
                                use_by=date(2027, 6, 30) if lot else None), "somebody", NOW)
    quarantine(opened, "north", "OI-1", "B-8", "leaking", "somebody", NOW)
    yield opened
    opened.close()


def quoted(shelf: StoreShelf | None, folder: Path, now: datetime = NOW, **settings: object) -> Quote:
    source = kitbuilder_sister_site.make(Context("north", {**VAN, **settings}, folder, "EUR", shelf=shelf))
    return source.quote(QuoteRequest(REQUEST.wanted, now))


def test_what_is_free_there_comes_with_the_next_vans(store, tmp_path):
    quote = quoted(StoreShelf(store, "south"), tmp_path, fee="4.50")
    assert [(one.item, one.lot, one.pool, one.use_by) for one in quote.offers] == [
        ("OI-1", "B-7", 20_000, date(2027, 6, 30)), ("RI-1", "", 6000, None)]
    assert [(slot.name, slot.cut_off, slot.ready, slot.fee) for slot in quote.slots] == [
        ("van of 2026-03-10 15:30", at(10, 15, 30), at(10, 17), 450),
        ("van of 2026-03-11 10:00", at(11, 10), at(11, 11, 30), 450),
        ("van of 2026-03-11 15:30", at(11, 15, 30), at(11, 17), 450)]
    for offer in quote.offers:
        assert [arrival.slot for arrival in offer.arrivals] == [slot.name for slot in quote.slots]


def test_what_is_promised_there_is_not_offered(store, tmp_path):
    entry = DiaryEntry(id="1", start=datetime(2026, 3, 11, 7, 30), site="north", job="work")
    number, _ = bookings.put(store, "desk", entry, NOW, "Europe/London", NOW)
    hold(store, "north", [Promise("k", number, "n", "RI-1", "", 5000)], "somebody", NOW)
    [offer] = [one for one in quoted(StoreShelf(store, "south"), tmp_path).offers if one.item == "RI-1"]
    assert offer.pool == 1000


def test_a_van_that_leaves_now_has_left_and_the_weekend_has_none(store, tmp_path):
    shelf = StoreShelf(store, "south")
    friday = quoted(shelf, tmp_path, at(13, 15, 30))
    assert [slot.name for slot in friday.slots] == [
        "van of 2026-03-16 10:00", "van of 2026-03-16 15:30", "van of 2026-03-17 10:00"]
    daily = quoted(shelf, tmp_path, at(13, 15, 30), days=["sunday"], leaves="10:00", vans=1)
    assert [slot.name for slot in daily.slots] == ["van of 2026-03-15 10:00"]


def test_vans_leave_by_the_clock_of_their_zone_also_when_it_changes(store, tmp_path):
    # clocks in London go forward at 01:00 UTC on 29 March 2026
    quote = quoted(
        StoreShelf(store, "south"), tmp_path, at(28, 12), days=["sunday", "monday"], leaves=["01:30", "10:00"])
    assert [slot.cut_off for slot in quote.slots] == [at(29, 1, 30), at(29, 9), at(30, 0, 30)]


def test_a_site_that_is_not_there_fails_and_does_not_read_as_empty(store, tmp_path):
    with pytest.raises(WrongUse, match="has no site 'nord'"):
        quoted(StoreShelf(store, "south"), tmp_path, site="nord")


def test_nothing_comes_to_the_site_itself_and_that_is_no_failure(store, tmp_path):
    # what lies there is offered by its own shelf; both sites read the same settings
    quote = quoted(StoreShelf(store, "north"), tmp_path)
    assert (quote.offers, quote.slots, quote.site) == ((), (), "")


def test_a_van_goes_only_to_the_sites_that_it_is_said_to_go_to(store, tmp_path):
    assert quoted(StoreShelf(store, "south"), tmp_path, to=["east"]).offers == ()
    assert len(quoted(StoreShelf(store, "south"), tmp_path, to=["east", "south"]).offers) == 2
    assert len(quoted(StoreShelf(store, "south"), tmp_path, to="south").offers) == 2


def test_it_says_of_which_site_of_the_store_its_offers_are(store, tmp_path):
    assert quoted(StoreShelf(store, "south"), tmp_path).site == "north"


def test_without_a_store_it_fails(tmp_path):
    with pytest.raises(SourceFailed, match="it needs a store"):
        quoted(None, tmp_path)


def test_where_the_own_shelf_is_all_sites_nothing_counts_twice(store, tmp_path):
    assert quoted(StoreShelf(store, None), tmp_path).offers == ()


def test_another_workshops_store_is_read_and_stays_as_it_is(store, tmp_path, monkeypatch):
    store.close()
    file = tmp_path / "workshop.db"
    before = file.read_bytes()
    (tmp_path / "north.url").write_text(f"sqlite:///{file}\n")
    monkeypatch.setenv("NORTH", str(file))
    expected = [(offer.item, offer.pool) for offer in quoted(None, tmp_path, store="workshop.db").offers]
    assert expected == [("OI-1", 20_000), ("RI-1", 6000)]
    # of another store nothing can be held from here, so it is no transfer
    assert quoted(None, tmp_path, store="workshop.db").site == ""
    for told in ({"store_file": "north.url"}, {"store_env": "NORTH"}):
        assert [(offer.item, offer.pool) for offer in quoted(None, tmp_path, **told).offers] == expected
    assert file.read_bytes() == before
    with pytest.raises(StoreRefuses, match="There is no store"):
        quoted(None, tmp_path, store="gone.db")
    assert not (tmp_path / "gone.db").exists()


def test_a_store_of_another_revision_is_not_changed(tmp_path):
    import sqlite3

    with sqlite3.connect(tmp_path / "old.db") as old:
        old.execute("CREATE TABLE alembic_version (version_num TEXT)")
        old.execute("INSERT INTO alembic_version VALUES ('0000')")
    with pytest.raises(StoreRefuses, match="is of revision 0000, this kitbuilder knows"):
        quoted(None, tmp_path, store="old.db")
    with sqlite3.connect(tmp_path / "old.db") as old:
        assert old.execute("SELECT version_num FROM alembic_version").fetchall() == [("0000",)]


@pytest.mark.parametrize(("change", "words"), [
    ({"site": ""}, "site = "), ({"leaves": "ten"}, "leaves = "), ({"leaves": []}, "leaves = "),
    ({"leaves": "10:00+01:00"}, "without a zone"), ({"takes_min": 0}, "takes_min = "),
    ({"takes_min": True}, "takes_min = "),
    ({"zone": "Mars"}, "zone = "), ({"days": ["Monday"]}, "days = "), ({"vans": 0}, "vans = "),
    ({"to": []}, "to = "), ({"to": [1]}, "to = "), ({"to": {"south": 1}}, "to = "),
    ({"fee": 4}, "fee = "), ({"fee": "4,50"}, "a decimal point: 4.50"),
    ({"store": "a", "store_env": "B"}, "one of store"),
    ({"van": 1}, "only site"),
])
def test_settings_it_cannot_use_are_refused(tmp_path, change, words):
    with pytest.raises(ValueError, match=words):
        kitbuilder_sister_site.make(Context("north", {**VAN, **change}, tmp_path, "EUR"))


class TestUnderTheChecks(SourceChecks):
    @pytest.fixture
    def case(self, store: Store, tmp_path: Path) -> SourceCase:
        store.close()
        file = tmp_path / "workshop.db"
        return SourceCase(
            kind=kitbuilder_sister_site.stock_sources()[0], settings={**VAN, "store": "workshop.db"}, folder=tmp_path,
            has={RING: "6", OIL: "20", GREASE: "0"}, told_at=NOW, breaks=file.unlink)


def test_what_was_ordered_from_there_and_has_not_come_is_not_offered_again(store, tmp_path, monkeypatch):
    asked = []

    def coming(self: StoreShelf, source: str) -> list[Coming]:
        asked.append(source)
        return [Coming("RI-1", "each", 5000), Coming("OI-1", "mL", 500_000)]

    monkeypatch.setattr(StoreShelf, "coming", coming)
    quote = quoted(StoreShelf(store, "south"), tmp_path)
    assert [(one.item, one.pool) for one in quote.offers] == [("OI-1", 19_500), ("RI-1", 1000)]
    assert asked == ["north"]
