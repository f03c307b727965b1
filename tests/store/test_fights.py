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


def at_once(script, file, fighters, rounds):
    """What processes say that begin together."""
    started = [
        subprocess.Popen([sys.executable, "-c", script, str(file), str(me), str(rounds)], stdin=subprocess.PIPE,
                         stdout=subprocess.PIPE, env=ENVIRONMENT, text=True)
        for me in range(1, fighters + 1)]
    for process in started:
        assert process.stdout.readline() == "ready\n"
    for process in started:
        process.stdin.write("go\n")
        process.stdin.flush()
    return [json.loads(process.communicate(timeout=300)[0]) for process in started]


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
    said = at_once(FIGHT, file, fighters, rounds)
    for number in range(rounds):
        assert sum(number in won for won, _ in said) == lots
        assert sum(number in lost for _, lost in said) == fighters - lots
    assert set(balance(store).values()) == {(lots * 1000, lots * 1000)}
    assert {(one.booking, one.item) for one in holds.holds(store)} == {
        (me, f"XX-{number}") for me, (won, _) in enumerate(said, start=1) for number in won}
    assert len(ledger(store)) == rounds * (1 + lots) and audit(store) == []


#: Holds of few lots, one or two at a time in either order, and lets go, picks and issues what it has; says what it has
#: at the end, what it issued, how many rows of the ledger that made, and how often there was nothing left.
CHURN = """
import json, random, sys
from kitbuilder.store import holds
from kitbuilder.store.database import open_store
from tests.store.shelf import NOW, SITE, promise
store = open_store(sys.argv[1], synchronous="NORMAL")
me, rounds, chance = int(sys.argv[2]), int(sys.argv[3]), random.Random(sys.argv[2])
mine, issued, rows, lost = {}, {}, 0, 0
def let_go(number):
    holds.step(store, [number], "released", f"fighter {me}", NOW)
    del mine[number]
print("ready", flush=True)
sys.stdin.readline()
for turn in range(rounds):
    items = chance.sample(range(3), chance.choice([1, 2]))
    # now and then what it has is let go in the same transaction
    release = [min(mine)] if mine and chance.random() < 0.3 else []
    wanted = [promise(chance.choice([1000, 2000]), f"{me}|{turn}|{one}", me, item=f"XX-{one}") for one in items]
    try:
        made = holds.hold(store, SITE, wanted, f"fighter {me}", NOW, release=release)
    except holds.NotThere:
        lost += 1
        if mine:
            let_go(chance.choice(list(mine)))
            rows += 1
        continue
    rows += len(made) + len(release)
    for number in release:
        del mine[number]
    mine |= {one.id: [one.item, one.quantity] for one in made}
    if chance.random() < 0.2:
        number = chance.choice(list(mine))
        for state in ("picking", "picked", "issued"):
            holds.step(store, [number], state, f"fighter {me}", NOW)
        rows += 3
        issued[number] = mine.pop(number)
    while len(mine) > 3:
        let_go(min(mine))
        rows += 1
print(json.dumps([mine, issued, rows, lost]))
"""


@pytest.mark.parametrize("fighters,rounds", [(3, 30), pytest.param(8, 400, marks=pytest.mark.long)])
def test_processes_that_go_on_fighting_over_three_lots_have_what_they_were_told(store, file, fighters, rounds):
    for me in range(fighters):
        book(store, str(me))
    there = fighters * (1000 + rounds * 50)  # less than what will be asked for
    for number in range(3):
        receive(store, there, item=f"XX-{number}")
    said = at_once(CHURN, file, fighters, rounds)
    assert 0 < sum(lost for *_, lost in said) < fighters * rounds, "there was always enough, or never"
    assert {one.id: [one.item, one.quantity] for one in holds.holds(store) if one.state != "issued"} == {
        int(number): what for mine, *_ in said for number, what in mine.items()}
    for number in range(3):
        gone, held = (sum(quantity for told in said for item, quantity in told[which].values()
                          if item == f"XX-{number}") for which in (1, 0))
        assert balance(store)[f"XX-{number}", "L1", "A-01"] == (there - gone, held)
    assert len(ledger(store)) == 3 + sum(rows for _, _, rows, _ in said) and audit(store) == []


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
