"""Two sites of one store do their nights at once, over what lies at one of them: on each of the databases."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store import bookings, deliveries, shelves, transfers
from tests.databases import KINDS
from tests.night.shop import NOW, Shop, row_of

ROOT = Path(__file__).resolve().parents[2]
EURO_5 = {"emissions": "Euro V"}
SITES = {"marl": "Europe/London", "north": "Europe/London"}
NORTH = """\
[sources.north]
plugin = "sister-site"
site = "north"
leaves = ["07:30", "16:00"]
takes_min = 60
zone = "Europe/London"

[registers.fleet]"""


class Pair:
    """Two machines, one a site, that share a store. Of five seals at north each site's booking wants four."""

    def __init__(self, folder: Path, store: Path | str) -> None:
        self.marl, self.north = (Shop(folder / name, SITES, store) for name in ("marl", "north"))
        for shop in (self.marl, self.north):
            shop.settings(("[registers.fleet]", NORTH))
        for site in SITES:
            self.marl.receive("W-1", "20", site=site)
        self.marl.receive("S-5", "5", site="north", lot="L7")
        self.here, self.there = (self.marl.book("seal-change", facts=EURO_5, site=site) for site in SITES)
        for number in (self.here, self.there):
            self.marl.edit(number, "amount", "seal", filler="S-5", amount=4000, unit="each")

    def close(self) -> None:
        for shop in (self.marl, self.north):
            shop.store.close()

    def taken(self) -> tuple[int, int]:
        """How many seals are held for the booking at marl, by the van, and how many for the one at north."""
        brought = sum(one.hold.quantity for one in transfers.carried_to(self.marl.store, "marl"))
        return brought, self.marl.held(self.there).get(f"{self.there}/seal:S-5 S-5", 0)

    def sound(self) -> None:
        """Nothing is promised twice, and what is promised is what the transfer says."""
        self.marl.sound()
        [lot] = shelves.lots(self.marl.store, "north", ["S-5"])
        brought, own = self.taken()
        assert lot.held == brought + own <= lot.on_hand == 5000
        assert sum(line.quantity for order in self.marl.orders() for line in order.lines) == brought


@pytest.fixture(params=KINDS)
def pair(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Pair]:
    """The two machines."""
    server = request.getfixturevalue("postgres") if request.param == "postgresql" else None
    address = server.fresh() if server else tmp_path / "shared.db"
    made = Pair(tmp_path, address)
    yield made
    made.close()
    if server:
        server.drop(address)


@pytest.mark.parametrize("step", ["read", "build", "compare", "source", "hold", "documents"])
def test_the_other_sites_night_comes_in_between(pair: Pair, step: str) -> None:
    def other(done: str) -> None:
        if done == step:
            pair.north.run(site="north")

    report = pair.marl.run(after=other)
    pair.sound()
    # whoever holds first has its four, and the other what is left: its plan is made again
    first = (4000, 1000) if step in ("hold", "documents") else (1000, 4000)
    assert pair.taken() == first
    assert row_of(report, pair.here).state == "not ready"
    pair.marl.run()
    pair.north.run(site="north")
    assert pair.taken() == first
    pair.sound()


def test_the_other_way_round(pair: Pair) -> None:
    def other(done: str) -> None:
        if done == "source":
            pair.marl.run()

    pair.north.run(site="north", after=other)
    assert pair.taken() == (4000, 1000)
    pair.sound()


def test_what_was_brought_leaves_one_store_whole_on_each_database(pair: Pair) -> None:
    pair.marl.run()
    [order] = pair.marl.orders()
    pair.north.decide(order.id, "ordered")
    [came] = deliveries.receive_all(pair.marl.store, order.id, "B-2", "C. Person", NOW)
    assert (came.held, came.state) == ({pair.here: 4000}, "received")
    assert [(one.site, one.lot, one.on_hand, one.held) for one in shelves.lots(pair.marl.store, None, ["S-5"])] == [
        ("marl", "L7", 4000, 4000), ("north", "L7", 1000, 0)]
    pair.marl.sound()
    assert row_of(pair.marl.run(), pair.here).state == "ready"
    pair.marl.sound()


def drive(shop: Shop, site: str, rounds: int) -> "subprocess.Popen[bytes]":
    return subprocess.Popen([sys.executable, "-m", "tests.night.site_driver", str(shop.folder), site, str(rounds)],
                            cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})


def at_once(pair: Pair, rounds: int) -> set[tuple[int, int]]:
    """Both nights in processes of their own, again and again, each time over the whole lot; how they ended."""
    processes = [drive(pair.marl, "marl", rounds), drive(pair.north, "north", rounds)]
    shops = (pair.marl, pair.north)
    ends = set()
    for number in range(rounds):
        for shop in shops:
            (shop.folder / f"go {number}").touch()
        until = time.monotonic() + 120
        while not all((shop.folder / f"done {number}").exists() for shop in shops):
            assert time.monotonic() < until
            assert all(one.poll() in (None, 0) for one in processes)
            time.sleep(0.005)
        assert [(shop.folder / f"done {number}").read_text() for shop in shops] == ["", ""]
        pair.sound()
        ends.add(pair.taken())
        # next time all of it is there again
        for booking in (pair.here, pair.there):
            bookings.change(pair.marl.store, booking, NOW, state="cancelled")
        pair.marl.run()
        pair.north.run(site="north")
        assert pair.taken() == (0, 0)
        for booking in (pair.here, pair.there):
            bookings.change(pair.marl.store, booking, NOW, state="authorised")
    assert [one.wait(30) for one in processes] == [0, 0]
    return ends


def test_two_processes_never_promise_it_twice(pair: Pair) -> None:
    assert at_once(pair, 3) <= {(4000, 1000), (1000, 4000)}


@pytest.mark.long
def test_two_processes_never_promise_it_twice_however_often(pair: Pair) -> None:
    assert at_once(pair, 60) <= {(4000, 1000), (1000, 4000)}


@pytest.mark.parametrize("point", ["before hold", "after hold", "before documents", "before report"])
def test_killed_it_ends_as_an_unbroken_night_would(tmp_path: Path, point: str) -> None:
    def one(name: str) -> Shop:
        shop = Shop(tmp_path / name, SITES)
        shop.settings(("[registers.fleet]", NORTH))
        shop.receive("W-1", "8")
        shop.receive("S-5", "5", site="north", lot="L7")
        shop.book("seal-change", facts=EURO_5)
        return shop

    def night(shop: Shop, at: str) -> int:
        return subprocess.run([sys.executable, "-m", "tests.night.driver", str(shop.folder), at], cwd=ROOT, timeout=60,
                              env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False).returncode

    whole, broken = one("whole"), one("broken")
    assert night(whole, "none") == 0
    assert night(broken, point) == -signal.SIGKILL
    broken.sound()
    held = transfers.carried_to(broken.store, "marl")
    assert bool(held) == (point != "before hold") == bool(broken.orders())
    assert night(broken, "none") == 0
    assert broken.dump(()) == whole.dump(())
    for shop in (whole, broken):
        shop.store.close()
