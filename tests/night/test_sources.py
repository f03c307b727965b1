"""Sources, registers and diaries that fail, hang, lie or are old: named, and never taken for empty."""

import threading
from collections.abc import Iterator
from datetime import date, timedelta

import msgspec
import pytest

from kitbuilder import (
    Arrival,
    Context,
    DiaryEntry,
    DiaryKind,
    Entry,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    RegisterKind,
    Slot,
    SourceKind,
)
from kitbuilder.model.shelf import Promise
from kitbuilder.plugins import Plugins, load_plugins
from kitbuilder.store import holds
from kitbuilder.store.database import open_store
from kitbuilder.store.holds import NotThere
from tests.night.shop import NOW, Shop, row_of

EURO_5 = {"emissions": "Euro V"}
SEAL_AT_7 = "S-5,2,each,2026-03-11T07:00:00+00:00,3.10,1"


def with_kind(kind: SourceKind | RegisterKind | DiaryKind) -> Plugins:
    """The bundled plug-ins, and one kind more (or instead)."""
    found = load_plugins()
    group = {SourceKind: "sources", RegisterKind: "registers", DiaryKind: "diaries"}[type(kind)]
    return msgspec.structs.replace(found, **{group: {**getattr(found, group), kind.name: (kind, "tests")}})


class Broken:
    """A source, register and diary that fails each in its own way."""

    does = frozenset({"quote"})

    def __init__(self, how: str, hold: threading.Event) -> None:
        self.how, self.hold = how, hold
        self.asked = 0

    def quote(self, request: QuoteRequest) -> Quote:
        """No quote."""
        return self._fail()  # type: ignore[return-value]

    def find(self, registration: str) -> list[Entry]:
        """No vehicle."""
        return self._fail()  # type: ignore[return-value]

    def registrations(self) -> list[str]:
        """None."""
        return []

    def entries(self) -> list[DiaryEntry]:
        """No booking."""
        return self._fail()  # type: ignore[return-value]

    def _fail(self) -> object:
        self.asked += 1
        if self.how == "hangs":
            self.hold.wait(30)
        if self.how == "lies":
            return ["rubbish"]
        raise RuntimeError("no line")


@pytest.fixture
def hold() -> Iterator[threading.Event]:
    """What a hanging plug-in waits for; it is let go in the end."""
    event = threading.Event()
    yield event
    event.set()


def quick(shop: Shop, group: str, kind: str) -> None:
    """Let something of the settings be of the kind `broken`, with a short deadline."""
    shop.settings((f'[{group}]\nplugin = "{kind}"', f'[{group}]\ndeadline_s = 0.5\nplugin = "broken"'))


@pytest.mark.parametrize("how", ["raises", "hangs", "lies"])
def test_a_supplier_that_fails_is_named_and_the_rest_goes_on(shop: Shop, hold: threading.Event, how: str) -> None:
    shop.receive("W-1", "2")
    shop.settings(('file = "supplier.csv"\nsupplier = true\n', ""))
    quick(shop, "sources.supplier", "price-file")
    number = shop.book("seal-change", facts=EURO_5)
    report = shop.run(plugins=with_kind(SourceKind("broken", "one", lambda _: Broken(how, hold))))
    assert shop.held(number) == {f"{number}/wipes:W-1 W-1": 2000}
    [warning] = report.warnings
    assert warning.startswith("The source supplier failed: ") and warning.endswith("What it has is not known.")
    assert report.attention[0] == warning
    assert row_of(report, number).state == "not ready"


def test_what_was_proposed_at_a_supplier_that_fails_stands(shop: Shop) -> None:
    shop.receive("W-1", "2")
    shop.supplier(SEAL_AT_7)
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    proposed = shop.orders()
    assert len(proposed) == 1
    (shop.folder / "supplier.csv").unlink()
    report = shop.run()
    assert shop.orders() == proposed
    assert len(report.warnings) == 1


def test_a_shelf_that_fails_is_not_an_empty_one(shop: Shop, hold: threading.Event) -> None:
    """Nothing is let go, and nothing is ordered instead of what lies there."""
    shop.receive("W-1", "2")
    shop.receive("S-5", "2")
    shop.supplier(SEAL_AT_7)
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    held = shop.held()
    assert len(held) == 2
    report = shop.run(plugins=with_kind(SourceKind("shelf", "one", lambda _: Broken("raises", hold), own=True)))
    assert (shop.held(), shop.orders()) == (held, [])
    assert row_of(report, number).state == "ready"
    assert "The source shelf failed" in report.attention[0]


def test_a_shelf_whose_plugin_is_gone_lets_nothing_go(shop: Shop) -> None:
    shop.receive("W-1", "2")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    found = load_plugins()
    without = msgspec.structs.replace(found, sources={k: v for k, v in found.sources.items() if k != "shelf"})
    report = shop.run(plugins=without)
    assert shop.held(number) == {f"{number}/wipes:W-1 W-1": 2000}
    assert "The source shelf failed" in report.warnings[0]


def test_an_item_that_a_source_cant_read_is_named(shop: Shop) -> None:
    shop.receive("W-1", "2")
    shop.supplier("S-5,some,each,2026-03-11T07:00:00+00:00,3.10,1")
    number = shop.book("seal-change", facts=EURO_5)
    report = shop.run()
    [warning] = report.warnings
    assert "The source supplier can't tell what it has of S-5 (supplier.csv, line 2" in warning
    assert row_of(report, number).state == "not ready"
    assert "not every source could be asked: it may be there all the same" in row_of(report, number).why


def test_a_stale_source_is_named_and_used(shop: Shop) -> None:
    shop.receive("W-1", "2")
    shop.supplier(SEAL_AT_7)
    shop.now = NOW + timedelta(days=2)
    shop.book("seal-change", "2026-03-13T08:00", facts=EURO_5)
    report = shop.run(date(2026, 3, 13))
    assert "The source supplier is stale, told 49 h ago." in report.attention
    assert report.warnings == ()
    # who decides on what came of it has to know of when the price is, on each paper
    [order] = shop.orders()
    assert order.said == "the price is of 2026-03-10 14:00"
    assert any("waits for a decision (the price is of 2026-03-10 14:00): kitbuilder order approve" in text
               for text in report.attention), report.attention
    papers = {name.rpartition("/")[2]: paper.decode() for name, paper in shop.documents().items()}
    assert "  waits for a person: the price is of 2026-03-10 14:00\n" in papers["orders.txt"]
    assert "The source supplier is stale, told 49 h ago." in papers["report.txt"]
    rows = shop.dump()
    shop.run(date(2026, 3, 13))
    assert shop.dump() == rows


def test_a_source_in_another_currency_is_refused_not_mixed_in(shop: Shop) -> None:
    class Pounds(Broken):
        def quote(self, request: QuoteRequest) -> Quote:
            return Quote(as_of=request.now, currency="GBP", slots=(Slot(name="s", ready=request.now),), offers=(
                Offer(item="S-5", unit="each", pool=None, arrivals=(
                    Arrival(slot="s", sureness="promised", prices=(Price(minor=100, per=1000),)),)),))

    shop.settings(("[registers.fleet]", '[sources.abroad]\nplugin = "broken"\n\n[registers.fleet]'))
    shop.receive("W-1", "2")
    shop.supplier(SEAL_AT_7)
    shop.book("seal-change", facts=EURO_5)
    report = shop.run(plugins=with_kind(SourceKind("broken", "one", lambda _: Pounds("", threading.Event()))))
    assert "its prices are in GBP, expected EUR" in report.warnings[0]
    assert [order.source for order in shop.orders()] == ["supplier"]


def test_two_lots_of_an_item_in_one_slot_add_up_at_the_dearer_price(shop: Shop) -> None:
    class Twice(Broken):
        def quote(self, request: QuoteRequest) -> Quote:
            slot = Slot(name="s", ready=NOW + timedelta(hours=16))
            return Quote(as_of=request.now, currency="EUR", slots=(slot,), offers=tuple(
                Offer(item="S-5", unit="each", pool=1000, lot=str(minor), arrivals=(
                    Arrival(slot="s", sureness="promised", prices=(Price(minor=minor, per=1000),)),))
                for minor in (310, 410)))

    shop.settings(("[registers.fleet]", '[sources.abroad]\nplugin = "broken"\n\n[registers.fleet]'))
    shop.receive("W-1", "2")
    shop.book("seal-change", facts=EURO_5)
    shop.run(plugins=with_kind(SourceKind("broken", "one", lambda _: Twice("", threading.Event()))))
    [order] = shop.orders()
    assert [(line.item, line.quantity, line.minor) for line in order.lines] == [("S-5", 2000, 820)]


def test_a_register_that_fails_is_asked_once_and_keeps_the_kits_of_the_run_before(shop: Shop,
                                                                                   hold: threading.Event) -> None:
    """Kits that are built from less would let go what is held for these vehicles."""
    shop.receive("W-1", "4")
    shop.receive("S-5", "2")
    shop.receive("S-6", "2")
    shop.diary("a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,",
               "b,,0,,2026-03-11T09:00,marl,seal-change,DEMO 6,authorised,normal,")
    shop.run()
    rows = shop.dump()
    quick(shop, "registers.fleet", "fleet-file")
    shop.settings(('file = "fleet.csv"\n', ""))
    broken = Broken("hangs", hold)
    report = shop.run(plugins=with_kind(RegisterKind("broken", "one", lambda _: broken)))
    assert shop.dump() == rows
    assert broken.asked == 1
    assert [row.state for row in report.bookings] == ["needs a person"] * 2
    assert len(report.warnings) == 1 and "The register fleet failed" in report.warnings[0]


def test_a_vehicle_that_changed_while_its_register_fails_is_not_the_old_one(shop: Shop, hold: threading.Event) -> None:
    shop.receive("W-1", "2")
    shop.receive("S-5", "2")
    shop.diary("a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,")
    shop.run()
    assert shop.held()["1/seal:S-5 S-5"] == 2000
    shop.diary("a,,1,,2026-03-11T08:00,marl,seal-change,DEMO 6,authorised,normal,")
    quick(shop, "registers.fleet", "fleet-file")
    shop.settings(('file = "fleet.csv"\n', ""))
    shop.run(plugins=with_kind(RegisterKind("broken", "one", lambda _: Broken("raises", hold))))
    assert "1/seal:S-5 S-5" not in shop.held()


@pytest.mark.parametrize("how", ["raises", "hangs", "lies"])
def test_a_diary_that_fails_leaves_its_bookings_as_they_were(shop: Shop, hold: threading.Event, how: str) -> None:
    shop.diary("a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,")
    shop.run()
    rows = shop.dump()
    quick(shop, "diaries.office", "diary-file")
    report = shop.run(plugins=with_kind(DiaryKind("broken", "one", lambda _: Broken(how, hold))))
    assert shop.dump() == rows
    assert report.warnings[0].startswith("The diary office failed: ")
    assert report.warnings[0].endswith("Its bookings are as they were.")
    assert [row.booking for row in report.bookings] == [1]


class Snatched:
    """The own shelf, from which another process takes something each time after it was asked."""

    does = frozenset({"quote", "hold"})

    def __init__(self, context: Context, shop: Shop, times: list[int]) -> None:
        self._own = load_plugins().sources["shelf"][0].make(context)
        self._shop, self._times = shop, times

    def quote(self, request: QuoteRequest) -> Quote:
        """What is there, before it is taken."""
        answer = self._own.quote(request)
        if self._times[0] > 0:
            self._times[0] -= 1
            other = open_store(self._shop.folder / "workshop.db")
            need = f"2/other {self._times[0]}"
            found = holds.hold(other, "marl", [Promise(need, 2, need, "S-5", "", 1000)], "somebody", NOW)
            holds.step(other, [row.id for row in found], "picking", "somebody", NOW)
            other.close()
        return answer


@pytest.mark.parametrize("times", [1, 2])
def test_quotes_again_where_somebody_was_quicker(shop: Shop, times: int) -> None:
    shop.receive("S-5", "4")
    shop.receive("W-1", "2")
    first = shop.book("seal-change", facts=EURO_5)
    other = shop.book("yard-wipe", "2026-05-01T08:00")
    # four are there and needed, and each time somebody takes one of those that were said to be free
    left = [times]
    shop.edit(first, "add", "seal", item="S-5", amount=2000, unit="each")
    kind = SourceKind("shelf", "one", lambda context: Snatched(context, shop, left), own=True)
    report = shop.run(plugins=with_kind(kind))
    assert left == [0]
    assert sum(quantity for need, quantity in shop.held(first).items() if "S-5" in need) == 4000 - times * 1000
    assert sum(shop.held(other).values()) == times * 1000
    assert row_of(report, first).state == "not ready"
    shop.sound()


def test_a_source_that_hung_is_waited_for_once_in_a_run_however_often_it_quotes(shop: Shop) -> None:
    shop.receive("S-5", "4")
    shop.receive("W-1", "2")
    first = shop.book("seal-change", facts=EURO_5)
    shop.book("yard-wipe", "2026-05-01T08:00")
    shop.edit(first, "add", "seal", item="S-5", amount=2000, unit="each")
    left, hold, asked = [2], threading.Event(), []

    def hangs(context: Context) -> Broken:
        asked.append(context.name)
        return Broken("hangs", hold)

    plugins = with_kind(SourceKind("shelf", "one", lambda context: Snatched(context, shop, left), own=True))
    plugins = msgspec.structs.replace(
        plugins, sources={**plugins.sources, "hanging": (SourceKind("hanging", "one", hangs), "tests")})
    file = shop.folder / "kitbuilder.toml"
    file.write_text(f'{file.read_text("utf-8")}\n[sources.far]\nplugin = "hanging"\ndeadline_s = 0.5\n', "utf-8")
    try:
        report = shop.run(plugins=plugins)
    finally:
        hold.set()
    assert (left, asked) == ([0], ["far"])  # quoted three times
    assert "The source far failed: hanging of tests: no answer within 0.5 s. What it has is not known." in (
        report.attention)
    shop.sound()


def test_gives_up_after_three_times_and_holds_nothing_by_halves(shop: Shop) -> None:
    shop.receive("S-5", "4")
    shop.receive("W-1", "2")
    first = shop.book("seal-change", facts=EURO_5)
    shop.book("yard-wipe", "2026-05-01T08:00")
    shop.edit(first, "add", "seal", item="S-5", amount=2000, unit="each")
    left = [9]
    kind = SourceKind("shelf", "one", lambda context: Snatched(context, shop, left), own=True)
    with pytest.raises(NotThere, match="S-5"):
        shop.run(plugins=with_kind(kind))
    assert left == [6]
    assert not any("/seal" in need or "/wipes" in need for need in shop.held())
    report = shop.run()
    assert row_of(report, first).state == "not ready"
    assert shop.held(first)[f"{first}/wipes:W-1 W-1"] == 2000
    shop.sound()
