"""Real processes that fight for the last lots: one wins, and the sums are right."""

import json
import os
import subprocess
import sys
import time

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import holds, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import BUSY_S, open_store
from kitbuilder.store.ledger import ledger
from tests.databases import begin_alone
from tests.store.shelf import NOW, SITE, balance, book, promise, raw, receive

ENVIRONMENT = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
#: Holds one of each item in turn, all that fight in the same order; says which it won.
FIGHT = """
import json, sys
from kitbuilder.store.database import open_store
from kitbuilder.store.holds import NotThere, hold
from tests.databases import begin_alone
from tests.store.shelf import NOW, SITE, promise
store = open_store(sys.argv[1], synchronous="NORMAL")
me, rounds = int(sys.argv[2]), int(sys.argv[3])
won, lost = [], []
print("ready", flush=True)
sys.stdin.readline()
for number in range(rounds):
    try:
        hold(store, SITE, [promise(1000, f"{me}|{number}", me, item=f"XX-{number}")], f"fighter {me}", NOW)
        won.append(number)
    except NotThere:
        lost.append(number)
print(json.dumps([won, lost]))
"""


def fight(file, fighters, rounds):
    started = [
        subprocess.Popen([sys.executable, "-c", FIGHT, str(file), str(me), str(rounds)], stdin=subprocess.PIPE,
                         stdout=subprocess.PIPE, env=ENVIRONMENT, text=True)
        for me in range(1, fighters + 1)]
    for process in started:
        assert process.stdout.readline() == "ready\n"
    for process in started:
        process.stdin.write("go\n")
        process.stdin.flush()
    return [json.loads(process.communicate(timeout=120)[0]) for process in started]


@pytest.mark.parametrize("fighters,rounds,lots", [(4, 60, 1), (3, 40, 2)])
def test_of_processes_that_fight_for_lots_just_as_many_win_as_there_are_lots(store, file, fighters, rounds, lots):
    check_fight(store, file, fighters, rounds, lots)


@pytest.mark.long
@pytest.mark.parametrize("fighters,rounds,lots", [(8, 1500, 1), (6, 1000, 3)])
def test_the_same_for_many_rounds(store, file, fighters, rounds, lots):
    check_fight(store, file, fighters, rounds, lots)


def check_fight(store, file, fighters, rounds, lots):
    for me in range(fighters):
        book(store, str(me))
    for number in range(rounds):
        receive(store, lots * 1000, item=f"XX-{number}")
    said = fight(file, fighters, rounds)
    for number in range(rounds):
        assert sum(number in won for won, _ in said) == lots
        assert sum(number in lost for _, lost in said) == fighters - lots
    assert set(balance(store).values()) == {(lots * 1000, lots * 1000)}
    assert {(one.booking, one.item) for one in holds.holds(store)} == {
        (me, f"XX-{number}") for me, (won, _) in enumerate(said, start=1) for number in won}
    assert len(ledger(store)) == rounds * (1 + lots) and audit(store) == []


SAME = """
import sys
from kitbuilder.store.database import open_store
from kitbuilder.store.holds import hold
from tests.databases import begin_alone
from tests.store.shelf import NOW, SITE, promise
store = open_store(sys.argv[1], synchronous="NORMAL")
print("ready", flush=True)
sys.stdin.readline()
for number in range(40):
    [one] = hold(store, SITE, [promise(1000, f"same {number}")], "x", NOW)
    print(one.id)
"""


def test_processes_that_ask_for_the_same_promise_at_once_share_it(store, file):
    book(store)
    receive(store, 40_000)
    started = [
        subprocess.Popen([sys.executable, "-c", SAME, str(file)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                         env=ENVIRONMENT, text=True) for _ in range(3)]
    for process in started:
        assert process.stdout.readline() == "ready\n"
    for process in started:
        process.stdin.write("go\n")
        process.stdin.flush()
    said = [process.communicate(timeout=60)[0].split() for process in started]
    # all were told of the same 40; a number may be left out where two met
    assert said == [said[0]] * 3 and len({*said[0]}) == 40
    assert [str(one.id) for one in holds.holds(store)] == sorted(said[0], key=int)
    assert balance(store) == {("XX-1", "L1", "A-01"): (40_000, 40_000)} and audit(store) == []


def test_who_waits_longer_than_they_may_for_another_s_lock_is_told_so_in_plain_words(store, file):
    book(store)
    receive(store)
    hurried = open_store(file, busy_s=0.3)
    with raw(file) as other:
        other.execute(begin_alone(file))
        for act in (lambda: holds.hold(hurried, SITE, [promise(1000)], "Ada", NOW), lambda: receive(hurried),
                    lambda: holds.step(hurried, [1], "picking", "Ada", NOW)):
            start = time.monotonic()
            with pytest.raises(StoreRefuses, match=r"The store is busy: another program has held it for 0\.3 s"):
                act()
            assert 0.25 < time.monotonic() - start < 3
        assert [one.on_hand for one in shelves.lots(hurried)] == [5000]  # who only reads doesn't wait
        other.execute("ROLLBACK")
    assert len(holds.holds(store)) == 0 and len(holds.hold(hurried, SITE, [promise(1000)], "Ada", NOW)) == 1
    hurried.close()
    assert BUSY_S == 10


def test_who_waits_less_than_that_gets_their_turn(store, file):
    book(store)
    receive(store)
    script = ("import sys, time\nfrom tests.databases import begin_alone, raw\n"
              "with raw(sys.argv[1]) as other:\n"
              "    other.execute(begin_alone(sys.argv[1]))\n"
              "    print('ready', flush=True); time.sleep(0.7); other.execute('COMMIT')")
    with subprocess.Popen([sys.executable, "-c", script, str(file)], stdout=subprocess.PIPE, text=True,
                          env=ENVIRONMENT) as other:
        assert other.stdout.readline() == "ready\n"
        start = time.monotonic()
        holds.hold(store, SITE, [promise(1000)], "Ada", NOW)
        assert time.monotonic() - start > 0.4
    assert balance(store) == {("XX-1", "L1", "A-01"): (5000, 1000)}
