"""Two sessions over one lot, statement by statement, in many of their orders, drawn from all: each ends as if one had
come after the other."""

import itertools
import random
import threading

import pytest

from kitbuilder.errors import KitbuilderError
from kitbuilder.store import holds
from kitbuilder.store.audit import audit
from kitbuilder.store.database import Store, open_store
from kitbuilder.store.ledger import ledger
from kitbuilder.store.prepared import Hand
from tests.store.shelf import LATER, NOW, SITE, balance, book, promise, receive

#: Seconds after which a statement that was let run, and isn't done, is taken to wait for the other session.
WAITS_S = 0.02


class Turn:
    """Where a session stops before each statement until it is its turn."""

    def __init__(self):
        self._go, self._here = threading.Semaphore(0), threading.Event()
        self.done = self._free = False

    def stop(self):
        self._here.set()
        if not self._free:
            self._go.acquire()

    def step(self):
        """Let it run one statement, and say whether it did; not if it is done, or waits in one for the other."""
        if self.done or not self._here.wait(WAITS_S):
            return False
        self._here.clear()
        self._go.release()
        self._here.wait(WAITS_S)
        return True

    def free(self):
        self._free = True
        self._go.release(1000)


class Stepped(Store):
    """A store that stops before each statement, the beginning and the commit."""

    turn = None

    def _at_hand(self, work):
        self.turn.stop()

        def stopping(hand):
            done = work(Hand(Cursor(hand.cursor, self.turn), hand.dialect))
            self.turn.stop()
            return done

        return super()._at_hand(stopping)


class Cursor:
    """A driver's cursor that stops before each statement."""

    def __init__(self, cursor, turn):
        self._cursor, self._turn = cursor, turn

    def execute(self, *told):
        self._turn.stop()
        return self._cursor.execute(*told)

    def __getattr__(self, name):
        return getattr(self._cursor, name)


def hold(who, *wanted, release=()):
    """Hold so much of the lot and of another item for a booking, each under a key of its own."""
    return lambda store, case: [(one.key.partition("|")[2], one.quantity) for one in holds.hold(
        store, SITE, [promise(quantity, f"{case}|{key}", who, item=f"{item}-{case}") for key, item, quantity in wanted],
        f"clerk {who}", LATER, release=[case_hold(store, case)] if release else ())]


def step(state):
    return lambda store, case: holds.step(store, [case_hold(store, case)], state, "Ada", LATER)


def case_hold(store, case):
    """The hold that a case begins with."""
    with store.reading() as session:
        return session.connection().exec_driver_sql(
            f"SELECT id FROM hold WHERE promise = '{case}|first' AND part = 0").scalar()


#: Of XX there are 5, of which 1 is held ("first"), of YY 5.
CASES = {
    "both want what is there once": (hold(1, ("a", "XX", 3000)), hold(2, ("b", "XX", 3000))),
    "both want two things, in either order": (
        hold(1, ("a", "XX", 3000), ("b", "YY", 3000)), hold(2, ("c", "YY", 3000), ("d", "XX", 1000))),
    "both ask for the same": (hold(1, ("a", "XX", 3000)), hold(1, ("a", "XX", 3000))),
    "one lets go what the other needs": (step("released"), hold(2, ("b", "XX", 5000))),
    "one picks what the other lets go": (step("picking"), step("released")),
    "one moves a hold to another need": (
        hold(1, ("a", "XX", 5000), release=(1,)), hold(2, ("b", "XX", 4000))),
}


def ended(store, act, case, turn=None):
    """What an act came to, as something that can be compared."""
    try:
        return act(store, case)
    except KitbuilderError as error:
        return type(error).__name__
    finally:
        if turn is not None:
            turn.done = True
            turn._here.set()


def state(store, case):
    """What the store says of a case."""
    mine = {key: value for key, value in balance(store).items() if key[0].endswith(f"-{case}")}
    held = sorted((one.key.partition("|")[2], one.booking, one.quantity, one.state) for one in holds.holds(store)
                  if one.key.startswith(f"{case}|"))
    rows = sorted((one.action, one.on_hand, one.held, one.booking or 0) for one in ledger(store)
                  if one.item.endswith(f"-{case}"))
    return [(key[0].partition("-")[0], value) for key, value in sorted(mine.items())], held, rows


def prepare(store, case):
    for item in ("XX", "YY"):
        receive(store, 5000, item=f"{item}-{case}")
    holds.hold(store, SITE, [promise(1000, f"{case}|first", 1, item=f"XX-{case}")], "Ada", NOW)


def orders():
    """Every order of seven steps of each of two sessions."""
    for chosen in itertools.combinations(range(14), 7):
        yield "".join("AB"[place in chosen] for place in range(14))


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("most", [5, pytest.param(150, marks=pytest.mark.long)])
def test_two_sessions_in_any_order_end_as_one_after_the_other(store, file, name, most):
    one, other = CASES[name]
    book(store)
    book(store, "2")
    stores = [open_store(file, synchronous="NORMAL") for _ in "AB"]
    for each in stores:
        each.__class__ = Stepped
    serial = []
    for number, acts in enumerate(((one, other), (other, one))):
        prepare(store, f"s{number}")
        results = [ended(store, act, f"s{number}") for act in acts]
        serial.append((results if number == 0 else results[::-1], state(store, f"s{number}")))
    idle, number = set(), 0
    every = list(orders())
    random.Random(7).shuffle(every)
    for order in every:
        # a step that can't be taken changes nothing: the order without it is another of these
        if number == most or any(order[:length] in idle for length in range(1, 15)):
            continue
        number += 1
        case = f"c{number}"
        prepare(store, case)
        turns = [Turn(), Turn()]
        results = [None, None]

        def run(place, act, case=case, turns=turns, results=results):
            stores[place].turn = turns[place]
            results[place] = ended(stores[place], act, case, turns[place])

        threads = [threading.Thread(target=run, args=(place, act)) for place, act in enumerate((one, other))]
        for thread in threads:
            thread.start()
        for length, who in enumerate(order, start=1):
            if not turns["AB".index(who)].step():
                idle.add(order[:length])
        for turn in turns:
            turn.free()
        for thread in threads:
            thread.join(30)
            assert not thread.is_alive(), order
        assert (results, state(store, case)) in serial, order
    print(f"{name}: {number} orders")
    assert audit(store) == []
    for each in stores:
        each.close()
