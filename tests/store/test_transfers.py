"""Transfers against a model in plain dicts: nothing is promised twice, lost or doubled on its way between sites.

What happens is drawn from a seed, which says all of a failure.
"""

import os
import random
import subprocess
import sys
from collections import Counter
from datetime import UTC, date, datetime

import pytest

from kitbuilder.calendar.site import Site
from kitbuilder.errors import StoreRefuses
from kitbuilder.model.offer import Arrival, Offer, Quote, Slot
from kitbuilder.model.order import Goods
from kitbuilder.model.plan import Allocation, Supply
from kitbuilder.model.shelf import Promise
from kitbuilder.model.transfer import from_site, held_as, leaves_from, transfer_key
from kitbuilder.night.transfers import carriage
from kitbuilder.store import deliveries, holds, orders, settling, shelves, transfers
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from kitbuilder.store.holds import hold, hold_in
from tests.store.shelf import NOW, SITE, book, dump, receive

NORTH, LOTS, BOOKINGS = "north", ("L1", "L2"), (1, 2)
HERE = Site(SITE, "Europe/Berlin", ((),) * 7, (), (), (), "", "")
SLOT = Slot(name="noon", ready=datetime(2026, 3, 11, 12, tzinfo=UTC), cut_off=datetime(2026, 3, 11, 11, tzinfo=UTC))


def need(booking):
    return f"{booking}/role:XX-1"


class Vans:
    """One van a day from north; what it is to bring is planned again and again, decided on, sent, and booked in."""

    def __init__(self, store, seed):
        self.store, self.draw = store, random.Random(seed)
        self.there = dict.fromkeys(LOTS, 12_000)  # what lies at north
        self.here = dict.fromkeys(LOTS, 0)
        self.theirs = dict.fromkeys(LOTS, 0)  # held at north for its own booking
        self.plan = {}  # (booking, lot): planned to be brought
        self.going = {}  # order: {(booking, lot): still to come}
        self.arrived = {}  # (booking, lot): held here
        self.notes = 0
        self.did = Counter()
        for lot in LOTS:
            receive(store, 12_000, site=NORTH, lot=lot, use_by=date(2027, 1, int(lot[1])))
        for one in (*BOOKINGS, 3):
            book(store, str(one), site=NORTH if one == 3 else SITE)

    def go_on(self):
        """Do one thing of those that can be done."""
        can = [self.planned_anew, self.wanted_at_north]
        can += [self.decided, self.decided] if self.plan else [self.planned_anew]
        can += [self.booked_in, self.booked_in, self.rest_is_not_coming] if self.going else []
        what = self.draw.choice(can)
        what()
        self.did[what.__name__] += 1

    def free(self, lot):
        """At north, but for what is only planned to be brought."""
        gone = sum(amount for of in self.going.values() for (_, name), amount in of.items() if name == lot)
        return self.there[lot] - self.theirs[lot] - gone

    def proposed(self):
        return next((one for one in orders.orders(self.store, SITE, ("proposed",))), None)

    def planned_anew(self):
        wanted = {(self.draw.choice(BOOKINGS), self.draw.choice(LOTS)): self.draw.randint(1, 4) * 1000
                  for _ in range(self.draw.randint(0, 3))}
        self.bring(wanted)

    def bring(self, wanted):
        """Plan that so much is brought."""
        pools = {lot: self.free(lot) for lot in LOTS}
        offers = tuple(Offer(item="XX-1", unit="each", pool=pool, lot=lot,
                             arrivals=(Arrival(slot="noon", sureness="confirmed"),)) for lot, pool in pools.items())
        supply = Supply("van", True, Quote(as_of=NOW, currency="EUR", slots=(SLOT,), offers=offers, site=NORTH), True)
        taken = [Allocation(need(booking), "van", "XX-1", lot, "noon", amount)
                 for (booking, lot), amount in sorted(wanted.items())]
        plan = carriage(HERE, taken, {need(one): one for one in BOOKINGS}, [supply],
                        transfers.carried_to(self.store, SITE), [], NOW)
        fits = all(sum(amount for (_, name), amount in wanted.items() if name == lot) <= pools[lot] for lot in LOTS)
        try:
            with self.store.writing() as session:
                hold_in(session, SITE, [], "night", NOW, plan.release)
                for site, promise in plan.promises:
                    hold_in(session, site, [promise], "night", NOW)
                orders.propose_in(session, SITE, plan.orders)
        except StoreRefuses:
            assert not fits
        else:
            assert fits
            self.plan = wanted

    def wanted_at_north(self):
        lot, amount = self.draw.choice(LOTS), self.draw.randint(1, 4) * 1000
        if self.theirs[lot]:
            held = [one.id for one in holds.holds(self.store, 3) if one.lot == lot]
            holds.step(self.store, held, "released", "Ada", NOW)
            self.theirs[lot] = 0
            return
        planned = sum(quantity for (_, name), quantity in self.plan.items() if name == lot)
        fits = amount <= self.free(lot) - planned
        try:
            hold(self.store, NORTH, [Promise(f"own {lot}", 3, need(3), "XX-1", lot, amount)], "Ada", NOW)
        except StoreRefuses:
            assert not fits
        else:
            assert fits
            self.theirs[lot] = amount

    def decided(self):
        state = self.draw.choice(["approved", "approved", "ordered", "ordered", "cancelled"])
        number = self.proposed().id
        orders.decide(self.store, number, state, "Ben", NOW)
        if state != "cancelled":
            self.going[number] = self.plan
        self.plan = {}

    def booked_in(self):
        number = self.draw.choice(sorted(self.going))
        of = self.going[number]
        lot = self.draw.choice(sorted({name for (_, name), quantity in of.items() if quantity}))
        left = {booking: quantity for (booking, name), quantity in of.items() if name == lot}
        amount = self.draw.choice([sum(left.values()), self.draw.randint(1, 4) * 1000])
        self.notes += 1
        goods = Goods(note=f"n{self.notes}", item="XX-1", quantity=amount, unit="each", bin="B-01", lot=lot)
        try:
            came = deliveries.receive(self.store, number, goods, "Cem", NOW)
        except StoreRefuses:
            assert amount > sum(left.values())
            return
        assert amount <= sum(left.values())
        assert sum(came.held.values()) == amount
        for booking, quantity in came.held.items():
            self.going[number][booking, lot] -= quantity
            self.arrived[booking, lot] = self.arrived.get((booking, lot), 0) + quantity
        self.there[lot] -= amount
        self.here[lot] += amount
        if not any(self.going[number].values()):
            assert came.state == "received"
            del self.going[number]

    def rest_is_not_coming(self):
        number = self.draw.choice(sorted(self.going))
        row = orders.get(self.store, number)
        some = any(change.text.startswith("note") for change in orders.history(self.store, number))
        if row.state == "ordered" and some:
            settling.drop_rest(self.store, number, "Ben", NOW)
            self.did["the rest"] += 1
        else:
            orders.decide(self.store, number, "cancelled", "Ben", NOW)
        del self.going[number]

    def is_as_the_model_says(self):
        assert audit(self.store) == []
        lots = {(one.site, one.lot): one for one in shelves.lots(self.store)}
        for lot in LOTS:
            planned = sum(amount for (_, name), amount in self.plan.items() if name == lot)
            assert lots[NORTH, lot].on_hand == self.there[lot]
            assert lots[NORTH, lot].on_hand - lots[NORTH, lot].held == self.free(lot) - planned
            if (SITE, lot) in lots:
                assert lots[SITE, lot].on_hand == self.here[lot]
                assert lots[SITE, lot].use_by == lots[NORTH, lot].use_by
            else:
                assert not self.here[lot]
        loads = {load.order: load for load in transfers.loads_at(self.store, NORTH)}
        expected = dict(self.going)
        if self.plan:
            expected[self.proposed().id] = self.plan
        for number, of in expected.items():
            on_it = {}
            for row in loads.pop(number).rows:
                on_it[row.booking, row.lot] = on_it.get((row.booking, row.lot), 0) + row.quantity
            assert on_it == {at: amount for at, amount in of.items() if amount}
            to_come = {one.booking: one.quantity for one in orders.get(self.store, number).wanted_for}
            assert to_come == {booking: total for booking in BOOKINGS if (
                total := sum(amount for (whose, _), amount in of.items() if whose == booking))}
        assert loads == {}
        held = {}
        for row in holds.holds(self.store, site=SITE):
            held[row.booking, row.lot] = held.get((row.booking, row.lot), 0) + row.quantity
        assert held == {at: amount for at, amount in self.arrived.items() if amount}


@pytest.mark.parametrize("seed", range(6))
def test_whatever_happens_the_store_says_what_the_dicts_say(store, seed):
    vans = Vans(store, seed)
    for _ in range(40):
        vans.go_on()
        vans.is_as_the_model_says()


def test_the_seeds_do_all_there_is_to_do(store):
    vans = Vans(store, 1)
    for _ in range(120):
        vans.go_on()
    vans.is_as_the_model_says()
    assert set(vans.did) == {
        "planned_anew", "wanted_at_north", "decided", "booked_in", "rest_is_not_coming", "the rest"}


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 200))
def test_whatever_happens_for_long(store, seed):
    vans = Vans(store, seed)
    for _ in range(120):
        vans.go_on()
        vans.is_as_the_model_says()


#: Does one thing to copies of a store, each time in a process of its own that is killed before its N-th statement.
DO = """
import os, shutil, signal, sys
from kitbuilder.store import deliveries, orders
from kitbuilder.store.database import open_store
from tests.store.shelf import NOW
folder, what, every = sys.argv[1], sys.argv[2], int(sys.argv[3])
def work(file, fatal):
    seen = 0
    def trace(_):
        nonlocal seen
        seen += 1
        if seen == fatal:
            os.kill(os.getpid(), signal.SIGKILL)
    store = open_store(file)
    with store.engine.connect() as connection:
        connection.connection.driver_connection.set_trace_callback(trace)
    if what == "received":
        deliveries.receive_all(store, 1, "B-01", "Cem", NOW)
    else:
        orders.decide(store, 1, what, "Ben", NOW)
    return seen
shutil.copy(f"{folder}/workshop.db", f"{folder}/whole.db")
for fatal in range(work(f"{folder}/whole.db", 0), 0, -every):
    file = shutil.copy(f"{folder}/workshop.db", f"{folder}/{fatal}.db")
    child = os.fork()
    if not child:
        work(file, fatal)
        os._exit(0)
    assert os.WTERMSIG(os.waitpid(child, 0)[1]) == signal.SIGKILL
"""


@pytest.mark.parametrize("what", ["ordered", "cancelled", "received"])
@pytest.mark.parametrize("every", [7, pytest.param(1, marks=pytest.mark.long)])
def test_killed_before_any_statement_it_is_where_it_was_and_can_be_done_again(tmp_path, what, every):
    store = open_store(tmp_path / "workshop.db", synchronous="NORMAL")
    vans = Vans(store, 0)
    wanted = {(1, "L1"): 1000, (1, "L2"): 2000, (2, "L1"): 1000}
    vans.bring(wanted)
    if what == "received":
        orders.decide(store, 1, "ordered", "Ben", NOW)
    store.close()
    told = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    subprocess.run([sys.executable, "-c", DO, str(tmp_path), what, str(every)], env=told, check=True, timeout=120)
    before, after = (dump(tmp_path / name) for name in ("workshop.db", "whole.db"))
    killed = [file for file in tmp_path.glob("*.db") if file.stem.isdecimal()]
    assert before != after
    assert len(killed) >= 4
    for file in killed:
        again = open_store(file)
        assert audit(again) == []
        assert dump(file) == before
        if what == "received":
            deliveries.receive_all(again, 1, "B-01", "Cem", NOW)
        else:
            orders.decide(again, 1, what, "Ben", NOW)
        assert audit(again) == []
        again.close()
        assert dump(file) == after


@pytest.mark.parametrize("site", ["north", "van 1", "a|b", "50% north", "Süd"])
def test_an_order_says_from_which_site_it_comes_whatever_that_is_called(site):
    key = transfer_key("marl", date(2026, 3, 11), "vans", "van of noon", site)
    assert from_site(key) == site
    assert key.startswith(leaves_from(site))
    assert held_as(key, "1/a:B", "B", "L|7").endswith("|1/a:B|B|L|7")
    assert from_site("marl|2026-03-11|transfer|noon") == ""
