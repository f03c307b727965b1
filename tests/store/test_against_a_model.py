"""The shelf and its holds against a model in plain dicts that knows no SQL."""

import shutil
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from kitbuilder.errors import KitbuilderError, StoreRefuses, WrongUse
from kitbuilder.model.shelf import Aside
from kitbuilder.store import holds, reserves, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from kitbuilder.store.holds import NotThere
from kitbuilder.store.ledger import ledger
from tests.databases import laid, server
from tests.store.shelf import NOW, SITE, book, promise, receive

LOTS, BINS, KEYS = ("L1", "L2"), ("A-01", "A-02", "B-01"), ("k1", "k2", "k3", "k4")
LOT, BIN = st.sampled_from(LOTS), st.sampled_from(BINS)
AMOUNT = st.integers(1, 6).map(lambda number: number * 500)
DAYS = st.sampled_from((date(2026, 3, 11), date(2026, 3, 12)))
PROMISES = st.lists(
    st.tuples(st.sampled_from(KEYS), LOT, AMOUNT), min_size=1, max_size=3, unique_by=lambda one: one[0])
NEXT = {"planned": {"picking", "released"}, "picking": {"picked", "planned", "released"},
        "picked": {"issued", "released"}, "issued": set(), "released": set()}
LIVE = ("planned", "picking", "picked")


class Shelf(RuleBasedStateMachine):
    """Each rule does the same to the store and to the dicts, or must be refused and change neither."""

    def place(self):
        """Where the store is."""
        self.folder = Path(tempfile.mkdtemp())
        return laid(self.folder / "workshop.db")

    def clear(self):
        """Throw the store away."""
        shutil.rmtree(self.folder)

    def __init__(self):
        super().__init__()
        self.store = open_store(self.place(), synchronous="NORMAL")
        self.on_hand = {}  # (lot, bin): amount
        self.holds = {}  # id: [key, lot, bin, amount, state]
        self.key_lot = {}
        self.quarantined = set()
        self.aside = {}  # (day, lot, bin): amount
        self.issued = 0
        self.received = 0
        self.counted = 0

    @initialize()
    def booked(self):
        book(self.store)

    def teardown(self):
        self.store.close()
        self.clear()

    def held(self, lot, bin_, states=LIVE):
        """What is promised to bookings in some states; what is set aside counts as planned."""
        aside = sum(
            amount for (_, *place), amount in self.aside.items() if place == [lot, bin_] and "planned" in states)
        return aside + sum(
            one[3] for one in self.holds.values() if (one[1], one[2]) == (lot, bin_) and one[4] in states)

    def free(self, lot):
        if lot in self.quarantined:
            return {}
        return {bin_: free for bin_ in BINS if (free := self.on_hand.get((lot, bin_), 0) - self.held(lot, bin_))}

    @rule(lot=LOT, bin_=BIN, amount=AMOUNT)
    def receive(self, lot, bin_, amount):
        receive(self.store, amount, bin=bin_, lot=lot)
        self.on_hand[lot, bin_] = self.on_hand.get((lot, bin_), 0) + amount
        self.received += amount

    @rule(lot=LOT, from_bin=BIN, to_bin=BIN, amount=AMOUNT)
    def move(self, lot, from_bin, to_bin, amount):
        there = self.on_hand.get((lot, from_bin))
        expected = (WrongUse if from_bin == to_bin or there is None
                    else StoreRefuses if there - self.held(lot, from_bin) < amount else None)
        if self.refused(expected, lambda: shelves.move(
                self.store, SITE, "XX-1", lot, from_bin, to_bin, amount, "Ada", NOW)):
            return
        self.on_hand[lot, from_bin] -= amount
        self.on_hand[lot, to_bin] = self.on_hand.get((lot, to_bin), 0) + amount

    @rule(lot=LOT, bin_=BIN, found=st.integers(0, 6).map(lambda number: number * 500))
    def count(self, lot, bin_, found):
        there = self.on_hand.get((lot, bin_))
        expected = (WrongUse if there is None
                    else StoreRefuses if found < self.promised(lot, bin_) else None)
        if self.refused(expected, lambda: shelves.count(
                self.store, SITE, "XX-1", lot, bin_, found, "Ada", "", NOW)):
            return
        if found < self.held(lot, bin_, ("planned", "picking")):
            self.aside = {place: amount for place, amount in self.aside.items() if place[1:] != (lot, bin_)}
        after = found + self.held(lot, bin_, ("picked",))
        self.counted += after - there
        self.on_hand[lot, bin_] = after

    def promised(self, lot, bin_):
        return sum(one[3] for one in self.holds.values() if (one[1], one[2]) == (lot, bin_)
                   and one[4] in ("planned", "picking"))

    @rule(day=DAYS, places=st.lists(st.tuples(LOT, BIN, AMOUNT), max_size=3, unique_by=lambda one: one[:2]))
    def set_aside(self, day, places):
        """As a run does: what was for the day is given back, and what is to be is set aside, all or nothing."""
        before = dict(self.aside)
        self.aside = {place: amount for place, amount in self.aside.items() if place[0] != day}
        expected = None
        for lot, bin_, amount in sorted(places):
            if amount > self.free(lot).get(bin_, 0):
                expected = NotThere
                break
            self.aside[day, lot, bin_] = amount

        def run():
            with self.store.writing() as session:
                reserves.give_back_in(
                    session, [one.id for one in reserves.reserves(self.store) if one.day == day], "night", "run", NOW)
                reserves.set_aside_in(session, SITE, [
                    Aside(day, "XX-1", lot, bin_, amount, (1,)) for lot, bin_, amount in places], "night", NOW)

        if self.refused(expected, run):
            self.aside = before

    @rule(day=st.one_of(st.none(), DAYS))
    def let_go(self, day):
        mine = [place for place in self.aside if day in (None, place[0])]
        if not self.refused(None if mine else WrongUse, lambda: reserves.let_go(
                self.store, SITE, "XX-1", day, "Dee", "why", NOW)):
            for place in mine:
                del self.aside[place]

    @rule(wanted=PROMISES, data=st.data())
    def hold(self, wanted, data):
        """All or none; every key stands for one lot as long as anything of it is held."""
        planned = [number for number, one in self.holds.items() if one[4] == "planned"]
        release = data.draw(st.lists(st.sampled_from(planned), unique=True, max_size=2)) if planned else []
        before = {number: list(one) for number, one in self.holds.items()}
        for number in release:
            self.holds[number][4] = "released"
        expected = None
        made = []
        for key, lot, amount in sorted(wanted, key=lambda one: (one[1], one[0])):
            live = [one for one in [*self.holds.values(), *made] if one[0] == key and one[4] != "released"]
            if any(one[1] != lot for one in live):
                expected = WrongUse
                break
            left = amount - sum(one[3] for one in live)
            free = {bin_: free - sum(one[3] for one in made if (one[1], one[2]) == (lot, bin_))
                    for bin_, free in self.free(lot).items()}
            if left > sum(free.values()):
                expected = NotThere
                break
            for bin_ in sorted(free):
                taken = min(left, free[bin_])
                if taken > 0:
                    made.append([key, lot, bin_, taken, "planned"])
                    left -= taken
        if self.refused(expected, lambda: holds.hold(
                self.store, SITE, [promise(amount, key, lot=lot) for key, lot, amount in wanted], "Ada", NOW, release)):
            self.holds = before
            return
        known = set(self.holds)
        new = sorted((one for one in holds.holds(self.store) if one.id not in known), key=lambda one: one.id)
        assert [[one.key, one.lot, one.bin, one.quantity, one.state] for one in new] == made
        self.holds |= {one.id: told for one, told in zip(new, made, strict=True)}

    @precondition(lambda self: self.holds)
    @rule(data=st.data(), state=st.sampled_from(("planned", "picking", "picked", "issued", "released")))
    def step(self, data, state):
        numbers = data.draw(st.lists(st.sampled_from(sorted(self.holds)), min_size=1, max_size=2, unique=True))
        possible = all(
            self.holds[number][4] == state
            or (state in NEXT[self.holds[number][4]]
                and (state in ("planned", "released") or self.holds[number][1] not in self.quarantined))
            for number in numbers)
        if self.refused(None if possible else StoreRefuses, lambda: holds.step(self.store, numbers, state, "Ben", NOW)):
            return
        for number in numbers:
            one = self.holds[number]
            if state == "issued" and one[4] != "issued":
                self.on_hand[one[1], one[2]] -= one[3]
                self.issued += one[3]
            one[4] = state

    @precondition(lambda self: self.holds)
    @rule(data=st.data(), found=st.integers(0, 6).map(lambda number: number * 500))
    def short_pick(self, data, found):
        number = data.draw(st.sampled_from(sorted(self.holds)))
        one = self.holds[number]
        expected = StoreRefuses if one[4] not in ("planned", "picking") else WrongUse if found >= one[3] else None
        if self.refused(expected, lambda: holds.short_pick(self.store, number, found, "Ben", NOW)):
            return
        if found:
            one[3] = found
        else:
            one[4] = "released"

    @rule(lot=LOT, why=st.sampled_from(["bent", ""]))
    def quarantine(self, lot, why):
        known = any(of == lot for of, _ in self.on_hand)
        if self.refused(None if known else WrongUse, lambda: shelves.quarantine(
                self.store, SITE, "XX-1", lot, why, "Cem", NOW)):
            return
        if why:
            self.quarantined.add(lot)
            for one in self.holds.values():
                if one[1] == lot and one[4] == "planned":
                    one[4] = "released"
            self.aside = {place: amount for place, amount in self.aside.items() if place[1] != lot}
        else:
            self.quarantined.discard(lot)

    def refused(self, expected, act):
        """Whether it was refused, which must be just when the model expects it, and so."""
        before = len(ledger(self.store))
        if expected is None:
            act()
            return False
        with pytest.raises(KitbuilderError) as error:
            act()
        assert type(error.value) is expected
        assert len(ledger(self.store)) == before
        return True

    @invariant()
    def the_store_says_what_the_dicts_say(self):
        there = {(one.lot, one.bin): (one.on_hand, one.held, one.free) for one in shelves.lots(self.store)}
        assert there == {
            (lot, bin_): (amount, self.held(lot, bin_),
                          0 if lot in self.quarantined else amount - self.held(lot, bin_))
            for (lot, bin_), amount in self.on_hand.items()}
        assert {one.id: [one.key, one.lot, one.bin, one.quantity, one.state] for one in holds.holds(self.store)} == {
            number: one for number, one in self.holds.items() if one[4] != "released"}
        assert {(one.day, one.lot, one.bin): one.quantity for one in reserves.reserves(self.store)} == self.aside

    @invariant()
    def nothing_is_lost_and_the_audit_is_clean(self):
        assert sum(self.on_hand.values()) == self.received + self.counted - self.issued
        assert audit(self.store) == []


class ShelfOnServer(Shelf):
    """The same on PostgreSQL."""

    def place(self):
        """A database of its own."""
        self.address = server().fresh()
        return self.address

    def clear(self):
        """Drop it."""
        server().drop(self.address)


TestShelf = Shelf.TestCase
TestShelf.settings = settings(max_examples=25, stateful_step_count=20, deadline=None)
TestShelfOnServer = ShelfOnServer.TestCase
TestShelfOnServer.settings = settings(max_examples=10, stateful_step_count=20, deadline=None)


@pytest.mark.long
class TestShelfLong(Shelf.TestCase):
    """The same, for much longer."""

    settings = settings(max_examples=400, stateful_step_count=60, deadline=None)


@pytest.mark.long
class TestShelfOnServerLong(ShelfOnServer.TestCase):
    """The same, for much longer."""

    settings = settings(max_examples=100, stateful_step_count=60, deadline=None)
