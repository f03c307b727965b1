"""Two sessions over one lot, step by step, in every order there is: each ends as if one had come after the other."""

import itertools
import math
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import event

from kitbuilder.errors import KitbuilderError
from kitbuilder.model.shelf import Receipt
from kitbuilder.store import holds, postgres, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from tests.databases import is_postgresql
from tests.store.shelf import LATER, NOW, SITE, book, promise, raw
from tests.store.two_sessions import (
    ALONE,
    CHANGE,
    END,
    LOOK,
    TOGETHER,
    Game,
    commute,
    every_order,
    kind_of,
    never,
    stepped,
)


def hold(who, *wanted, release=False):
    """Hold so much of the lot and of another item for a booking, each under a key of its own."""
    return lambda case, first, store: [(one.key.partition("|")[2], one.quantity) for one in holds.hold(
        store, SITE, [promise(quantity, f"{case}|{key}", who, item=f"{item}-{case}") for key, item, quantity in wanted],
        f"clerk {who}", LATER, release=[first] if release else ())]


def step(*states):
    def act(case, first, store):
        for state in states:
            holds.step(store, [first], state, "Ada", LATER)
    return act


def count(quantity):
    return lambda case, first, store: shelves.count(
        store, SITE, f"XX-{case}", "L1", "A-01", quantity, "Cem", "why", LATER)


def set_aside(case, first, store):
    shelves.quarantine(store, SITE, f"XX-{case}", "L1", "bent", "Cem", LATER)


def short_pick(case, first, store):
    holds.short_pick(store, first, 500, "Ben", LATER)


#: Of XX there are 5, of which 1 is held ("first"), of WW, which comes before it, 5.
CASES = {
    "both want what is there once": (hold(1, ("a", "XX", 3000)), hold(2, ("b", "XX", 3000))),
    "both ask for the same": (hold(1, ("a", "XX", 3000)), hold(1, ("a", "XX", 3000))),
    "one lets go what the other needs": (step("released"), hold(2, ("b", "XX", 5000))),
    "one picks what the other lets go": (step("picking"), step("released")),
    "one moves a hold to another need": (
        hold(1, ("a", "XX", 5000), release=True), hold(2, ("b", "XX", 4000))),
    "both want two things, in either order": (
        hold(1, ("a", "XX", 3000), ("b", "WW", 3000)), hold(2, ("c", "WW", 3000), ("d", "XX", 1000))),
    # so that either could have what the other waits for
    "one lets go of one thing and takes the one that both want": (
        hold(1, ("a", "WW", 3000), release=True), hold(2, ("b", "WW", 1000), ("c", "XX", 4000))),
    "one counts what the other wants": (count(2000), hold(2, ("b", "XX", 3000))),
    "one sets aside what the other picks": (set_aside, step("picking")),
    "one finds too few of what the other lets go": (short_pick, step("released")),
}
#: The cases whose orders on a server are many even without those that come to the same, and those whose orders are few
#: enough to be walked one and all.
MANY = ("one moves a hold to another need", "both want two things, in either order",
        "one lets go of one thing and takes the one that both want")
FEW = ("both want what is there once", "both ask for the same", "one lets go what the other needs",
       "one picks what the other lets go")


def ended(act, store):
    """What an act came to, as something that can be compared."""
    try:
        return act(store)
    except KitbuilderError as error:
        return type(error).__name__


def called(name, connection, _):
    """Give a connection a name by which the server knows it."""
    connection.execute(f"SET application_name = '{name}'")
    connection.commit()


class Table:
    """Where cases are laid out, each with lots of its own, and what became of them is read."""

    def __init__(self, store, connection):
        self._store, self._connection, self._ready = store, connection, []
        self._numbers = itertools.count(1)

    def lay(self):
        """A new case, and the hold that it begins with."""
        if not self._ready:
            names = [f"c{next(self._numbers)}" for _ in range(25)]
            with self._store.writing() as session:
                for case, item in itertools.product(names, ("XX", "WW")):
                    shelves.receive_in(session, Receipt(site=SITE, item=f"{item}-{case}", bin="A-01", quantity=5000,
                                                        unit="each", lot="L1"), "Ada", "", NOW)
                holds.hold_in(session, SITE, [promise(1000, f"{case}|first", 1, item=f"XX-{case}") for case in names],
                              "Ada", NOW)
            self._ready = names[::-1]
        case = self._ready.pop()
        return case, self._rows(f"SELECT id FROM hold WHERE promise = '{case}|first'")[0][0]

    def found(self, case):
        """All that the store says of a case, without the numbers that rows got."""
        lots = f"lot IN (SELECT id FROM lot WHERE item IN ('XX-{case}', 'WW-{case}')) ORDER BY 1, 2, 3, 4"
        return tuple(tuple(self._rows(f"SELECT {what} AND {lots}")) for what in (
            "substr(item, 1, 2), on_hand, held, changes FROM stock s JOIN lot l ON l.id = s.lot WHERE true",
            f"replace(promise, '{case}', ''), booking, quantity, state FROM hold WHERE true",
            "action, on_hand, held, coalesce(booking, 0) FROM ledger WHERE true",
            "missing, who, 0, 0 FROM short_pick p JOIN hold h ON h.id = p.hold WHERE true"))

    def _rows(self, sql):
        return [tuple(row) for row in self._connection.execute(sql).fetchall()]


@pytest.fixture
def walk(store, file, monkeypatch):
    """Walk through all orders of a case; the orders, and how many ends there are."""
    book(store)
    book(store, "2")
    stores = [stepped(open_store(file, synchronous="NORMAL"), monkeypatch) for _ in "AB"]
    with raw(file) as connection:
        table = Table(store, connection)

        for name, one in zip("AB", stores, strict=True):
            if is_postgresql(file):
                one.engine.dispose()
                event.listen(one.engine, "connect", partial(called, name))

        def waits(place, other_is_inside):
            if not is_postgresql(file):
                return other_is_inside  # one transaction that writes at a time
            return connection.execute(
                "SELECT EXISTS (SELECT 1 FROM pg_stat_activity WHERE datname = current_database() "
                f"AND application_name = '{'AB'[place]}' AND cardinality(pg_blocking_pids(pid)) > 0)").fetchone()[0]

        def every(name, same):
            acts = CASES[name]
            serial = []
            for turn in (1, -1):
                case, first = table.lay()
                results = [ended(partial(act, case, first), store) for act in acts[::turn]]
                serial.append((results[::turn], table.found(case)))
            dealt, walked, ends = [""], [], []

            def play():
                dealt[0], first = table.lay()
                return Game(stores, [partial(ended, partial(act, dealt[0], first)) for act in acts], waits)

            for order, game in every_order(play, same):
                end = game.results, table.found(dealt[0])
                assert end in serial, order
                walked.append(order)
                ends.append(end)
            # each order once; either may be first
            assert len(set(walked)) == len(walked) and all(one in ends for one in serial)
            print(f"{name}: {len(walked)} orders")
            return walked

        yield every
    assert audit(store) == []
    for one in stores:
        one.close()


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.long) if name in MANY else name for name in CASES])
def test_two_sessions_in_every_order_end_as_one_after_the_other(walk, file, name):
    """In a file one waits for the other from its first step on; on a server only where they meet."""
    orders = walk(name, commute if is_postgresql(file) else never)
    assert len(orders) > 5
    # those in which they don't overlap at all, and others
    overlap = [order for order in orders if len(list(itertools.groupby(order))) > 2]
    assert len(orders) - len(overlap) == 2


@pytest.mark.long
@pytest.mark.parametrize("file", ["postgresql"], indirect=True)
@pytest.mark.parametrize("name", FEW)
def test_so_they_do_with_none_of_the_orders_left_out(walk, name):
    assert len(walk(name, never)) >= 50


class Toy:
    """Two sessions and one lock, which a change takes and the end gives back; a look sees what has ended."""

    def __init__(self, one, other):
        self._left, self._waits, self._holder = {"A": list(one), "B": list(other)}, "", ""
        self._ended, self.said = [], {"A": [], "B": []}

    def ready(self):
        return {who: steps[0] for who, steps in self._left.items() if steps and who != self._waits}

    def step(self, who):
        other = "B" if who == "A" else "A"
        kind = self._left[who][0]
        if kind == CHANGE and self._holder == other:
            self._waits = who
            return
        self._left[who].pop(0)
        if kind == CHANGE:
            self._holder = who
            self.said[who].append(("changed after", tuple(self._ended)))
        elif kind == LOOK:
            self.said[who].append(("saw", other in self._ended))
        elif kind == END:
            self._ended.append(who)
            self._holder = "" if self._holder == who else self._holder
            if self._waits == other:
                self._waits = ""
                self.step(other)

    def finish(self):
        assert not any(self._left.values()) or self.ready()


STEPS = st.lists(st.sampled_from([LOOK, CHANGE]), max_size=3).map(lambda middle: [TOGETHER, *middle, END])


@given(STEPS, STEPS)
def test_no_end_is_lost_with_the_orders_that_come_to_the_same(one, other):
    def ends(same):
        return [repr(game.said) for _, game in every_order(lambda: Toy(one, other), same)]

    whole, part = ends(never), ends(commute)
    assert set(part) == set(whole) and len(part) <= len(whole)
    if CHANGE not in one and CHANGE not in other:
        # nobody waits: as many orders as ways to lay one row into the other
        assert len(whole) == math.comb(len(one) + len(other), len(one))


def alike(order, one, other):
    """The first, by the alphabet, of the orders that come of it by turns of steps that can't feel each other."""
    found, to_do = {order}, [order]
    while to_do:
        now = to_do.pop()
        for place in range(len(now) - 1):
            if now[place] != now[place + 1]:
                steps = {"A": one[now[:place + 2].count("A") - 1], "B": other[now[:place + 2].count("B") - 1]}
                turned = now[:place] + now[place + 1] + now[place] + now[place + 2:]
                if commute(steps["A"], steps["B"]) and turned not in found:
                    found.add(turned)
                    to_do.append(turned)
    return min(found)


class Free(Toy):
    """As the toy, where nobody waits for the lock."""

    def step(self, who):
        self._left[who].pop(0)


@settings(max_examples=20)
@given(STEPS, STEPS)
def test_of_the_orders_that_come_to_the_same_just_one_is_played(one, other):
    every = [order for order, _ in every_order(lambda: Free(one, other), never)]
    played = [order for order, _ in every_order(lambda: Free(one, other), commute)]
    assert sorted(alike(order, one, other) for order in played) == sorted(
        {alike(order, one, other) for order in every})


def test_statements_are_known_for_what_they_do():
    assert [kind_of(sql) for sql in (
        "SELECT a FROM b", "SELECT a FROM b FOR UPDATE OF b", "INSERT INTO b SELECT 1", "UPDATE b SET a = 1",
        "DELETE FROM b", postgres.ALONE, "BEGIN IMMEDIATE")] == [LOOK, CHANGE, CHANGE, CHANGE, CHANGE, ALONE, ALONE]
