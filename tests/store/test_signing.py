"""Signing for the tote: what was found is issued, and the old units are owed, in one transaction."""

from datetime import date, timedelta

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.catalogue import Exchange
from kitbuilder.store import holds, returns, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.signing import sign
from tests.store.shelf import LATER, NOW, SITE, book, dump, promise, receive

EXCHANGES = {"XX-1": Exchange("XX-1", deposit=48000, days=21, state=("drained", "boxed"))}


@pytest.fixture
def held(store):
    """Two exchange units that are picked, one more that is only planned, and a washer."""
    book(store)
    receive(store)
    receive(store, item="WW-1")
    for key, item, quantity in (("a", "XX-1", 2000), ("b", "WW-1", 1000), ("c", "XX-1", 1000)):
        [one] = holds.hold(store, SITE, [promise(quantity, key, item=item)], "Ada", NOW)
        for state in ("picking", "picked") if key == "a" else ():
            holds.step(store, [one.id], state, "Ada", NOW)
    yield store
    assert audit(store) == []


def states(store):
    return {one.id: one.state for one in holds.holds(store)}


def test_what_is_signed_for_is_issued_and_the_old_units_are_owed_at_once(held, file):
    owed = sign(held, [1, 2, 3], "Tess", LATER, EXCHANGES.get, "EUR")
    assert set(states(held).values()) == {"issued"}
    assert [(one.item, one.quantity, one.due, one.deposit, one.state, one.changed_by) for one in owed] == [
        ("XX-1", quantity, date(2026, 3, 31), quantity * 48, "due", "Tess") for quantity in (2000, 1000)]
    assert returns.units(held) == owed
    rows = dump(file)
    assert sign(held, [1, 2, 3], "Tess", LATER + timedelta(days=1), EXCHANGES.get, "EUR") == []
    assert returns.owe(held, EXCHANGES.get, "EUR", LATER) == 0, "the report has nothing to add"
    assert dump(file) == rows


def test_both_are_done_or_neither(held, file):
    def gone(_):
        raise ZeroDivisionError

    rows = dump(file)
    with pytest.raises(ZeroDivisionError):
        sign(held, [1, 2, 3], "Tess", LATER, gone, "EUR")
    assert dump(file) == rows
    shelves.quarantine(held, SITE, "WW-1", "L1", "rust", "Ada", NOW)
    rows = dump(file)
    with pytest.raises(StoreRefuses):
        sign(held, [1, 2, 3], "Tess", LATER, EXCHANGES.get, "EUR")
    assert dump(file) == rows and returns.units(held) == []


def test_what_was_issued_before_it_was_noted_is_made_good_by_the_report(held):
    for state in ("picking", "picked", "issued"):
        holds.step(held, [3], state, "Tess", NOW)
    assert returns.owe(held, EXCHANGES.get, "EUR", LATER) == 1
    assert [one.quantity for one in sign(held, [1, 2, 3], "Tess", LATER, EXCHANGES.get, "EUR")] == [2000]
    assert len(returns.units(held)) == 2
