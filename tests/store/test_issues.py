"""What was taken from stock kept elsewhere: queued with its delivery, told once, and when it counts as fetched."""

import pytest

from kitbuilder.errors import NotSent, SourceFailed, StoreRefuses, WrongUse
from kitbuilder.hooks import SourceKind
from kitbuilder.model.order import Goods
from kitbuilder.model.stock_elsewhere import Fetched
from kitbuilder.plugins import Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.issuing import not_issued, tell
from kitbuilder.store import deliveries, issues, orders
from kitbuilder.store.fetched import fetched
from kitbuilder.store.outbox import sending
from tests.store.shelf import LATER, NOW, book
from tests.store.test_orders_and_runs import order, propose


@pytest.fixture(autouse=True)
def ordered(store):
    book(store)
    propose(store, order())
    orders.decide(store, 1, "ordered", "Ada", NOW)


def take(store, note="N-1", quantity=1000, item="XX-1", unit="each", tell_it=True, at=NOW):
    return deliveries.receive(
        store, 1, Goods(note=note, item=item, quantity=quantity, unit=unit, bin="B-1"), "Ada", at, tell=tell_it)


class There:
    """A source that is told: it does what the next of `moods` says, and keeps what it was told."""

    does = frozenset({"quote", "issue"})

    def __init__(self, *moods):
        self.moods, self.told = list(moods), []

    def issue(self, request):
        self.told.append(request)
        mood = self.moods.pop(0) if self.moods else None
        if callable(mood):
            mood()
        elif mood is not None:
            raise mood


def tells(store, tmp_path, there, only=(), elsewhere=True, deadline_s=5.0, name="supplier"):
    kinds = {"kind": (SourceKind("kind", "", lambda context: there, elsewhere=elsewhere), "tests")}
    settings = Settings(tmp_path, sources=(PluginSettings(name, "kind", deadline_s, 24.0, {}),))
    return tell(store, settings, Plugins((), kinds, {}), "EUR", "night", LATER, only)


def states(store):
    return [(one.state, one.said) for one in issues.issues(store, states=("waiting", "issuing", "unclear", "issued"))]


def test_only_what_is_to_be_told_is_queued_and_each_delivery_once(store):
    take(store, "N-1")
    take(store, "N-1")
    take(store, "N-2", tell_it=False)
    take(store, "N-3", 500, "OIL", "L")
    found = issues.issues(store)
    assert [(one.request.item, one.request.unit, one.request.quantity, one.request.reference, one.request.who,
             one.request.taken_at, one.state) for one in found] == [
        ("XX-1", "each", 1000, "order 1, note N-1", "Ada", NOW, "waiting"),
        ("OIL", "L", 500, "order 1, note N-3", "Ada", NOW, "waiting")]
    assert len({one.request.key for one in found}) == 2
    assert issues.issues(store, "elsewhere") == []


def test_a_delivery_that_is_refused_queues_nothing(store):
    with pytest.raises(StoreRefuses):
        take(store, item="XX-1", unit="L")
    assert issues.issues(store) == []


def test_what_is_told_is_told_once(store, tmp_path):
    take(store)
    there = There()
    assert tells(store, tmp_path, there) == []
    assert tells(store, tmp_path, there) == []
    [request] = there.told
    assert (request.item, request.quantity) == ("XX-1", 1000)
    assert states(store) == [("issued", "")]


def test_what_is_not_issued_for_certain_waits_and_is_told_again(store, tmp_path):
    take(store)
    there = There(NotSent("it is night there"))
    [left] = tells(store, tmp_path, there)
    assert not_issued(left) == (
        "1 each of XX-1 that Ada took for order 1, note N-1, isn't issued there (it is night there). The next run "
        "tries again; if you do it there by hand, say so: kitbuilder sources issued 1 --by NAME.")
    assert tells(store, tmp_path, there) == []
    assert len({one.key for one in there.told}) == 1


@pytest.mark.parametrize("mood", [SourceFailed("the line broke"), OSError("gone"), ValueError("odd")])
def test_what_may_have_come_through_is_unclear_and_told_again_under_its_key(store, tmp_path, mood):
    take(store)
    there = There(mood, NotSent("not now"))
    assert [one.state for one in tells(store, tmp_path, there)] == ["unclear"]
    # that it did nothing this time says nothing of the time before
    assert [one.state for one in tells(store, tmp_path, there)] == ["unclear"]
    assert tells(store, tmp_path, there) == []
    assert len({one.key for one in there.told}) == 1


def test_a_source_that_hangs_costs_its_deadline_once_and_leaves_the_rest_for_later(store, tmp_path):
    import threading
    import time

    hold = threading.Event()
    for note in ("N-1", "N-2", "N-3"):
        take(store, note)
    there = There(lambda: hold.wait(60))
    started = time.monotonic()
    left = tells(store, tmp_path, there, deadline_s=0.5)
    hold.set()
    assert time.monotonic() - started < 3
    assert [one.state for one in left] == ["unclear", "waiting", "waiting"]
    assert tells(store, tmp_path, there) == []


def test_what_was_being_told_when_the_teller_ended_is_told_again(store, tmp_path):
    take(store)
    assert issues.begin(store, 1, "night", NOW)
    assert not issues.begin(store, 1, "night", NOW)
    with pytest.raises(StoreRefuses, match="is being told just now"):
        issues.by_hand(store, 1, "Ada", NOW)
    there = There()
    assert tells(store, tmp_path, there) == []
    assert len(there.told) == 1


def test_two_do_not_tell_at_once(store, tmp_path):
    take(store)
    there = There()
    with sending(store), pytest.raises(StoreRefuses, match="another process"):
        tells(store, tmp_path, there)
    assert (there.told, states(store)) == ([], [("waiting", "")])


def test_only_some_orders_are_told_where_asked_so(store, tmp_path):
    take(store)
    there = There()
    assert tells(store, tmp_path, there, only=[2]) == []
    assert there.told == []
    assert tells(store, tmp_path, there, only=[1]) == []
    assert len(there.told) == 1


@pytest.mark.parametrize("changes", [{"name": "renamed"}, {"elsewhere": False}])
def test_a_source_that_is_none_of_that_sort_any_more_is_not_called(store, tmp_path, changes):
    take(store)
    there = There()
    [left] = tells(store, tmp_path, there, **changes)
    assert (there.told, left.state) == ([], "waiting")
    assert left.said == "the settings have no source of this name any more that can be told"


def test_a_named_person_can_say_that_it_is_done(store, tmp_path):
    take(store)
    issues.by_hand(store, 1, "Ada", LATER)
    there = There()
    assert tells(store, tmp_path, there) == []
    assert there.told == []
    assert states(store) == [("issued", "by hand, says Ada")]
    with pytest.raises(WrongUse, match="There is no issue 7"):
        issues.by_hand(store, 7, "Ada", LATER)


def test_what_is_told_counts_as_fetched_from_when_it_is_issued(store, tmp_path):
    take(store, "N-1", 1000, at=NOW)
    take(store, "N-2", 2000, tell_it=False, at=LATER)
    early, late = NOW.replace(hour=1), LATER.replace(hour=23)
    assert fetched(store, "supplier", early, late) == [Fetched("XX-1", "each", 2000)]
    tells(store, tmp_path, There())
    assert fetched(store, "supplier", NOW, LATER) == [Fetched("XX-1", "each", 1000), Fetched("XX-1", "each", 2000)]
    assert fetched(store, "supplier", LATER, late) == []
    assert fetched(store, "another", early, late) == []
