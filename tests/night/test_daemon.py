"""The daemon: when it runs, one run at a time, what it makes up for, and how it stops. Real processes and signals."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from kitbuilder.night.daemon import at_its_hour, newest_due
from kitbuilder.night.lock import only_one
from kitbuilder.store import runs
from tests.cli.running import KITBUILDER, run
from tests.night.shop import Shop
from tests.plugins.installed import install

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_S = 30


def site(zone: str):  # type: ignore[no-untyped-def]
    """A site in a zone."""
    import tomllib

    from kitbuilder.calendar.reading import read_sites
    from tests.night.shop import SITE

    return read_sites("", tomllib.loads(SITE.format(name="marl", zone=zone))["sites"])["marl"]


@pytest.mark.parametrize(("zone", "start", "offsets"), [
    # clocks go forward on 29 March, back on 25 October; Lord Howe moves by half an hour
    ("Europe/London", datetime(2026, 3, 27, 12, tzinfo=UTC), [0, 1, 1]),
    ("Europe/London", datetime(2026, 10, 23, 12, tzinfo=UTC), [1, 0, 0]),
    ("Europe/Berlin", datetime(2026, 3, 27, 12, tzinfo=UTC), [1, 2, 2]),
    ("Australia/Lord_Howe", datetime(2026, 4, 3, 12, tzinfo=UTC), [11, 10.5, 10.5]),
    ("America/New_York", datetime(2026, 10, 30, 12, tzinfo=UTC), [-4, -5, -5]),
])
def test_fires_at_four_by_the_sites_clock_over_a_change(zone: str, start: datetime, offsets: list[float]) -> None:
    trigger, last, found = at_its_hour(site(zone)), None, []
    for _ in offsets:
        last = trigger.get_next_fire_time(last, start if last is None else last)
        found.append(last)
    assert [(one.hour, one.minute) for one in found] == [(4, 0)] * len(offsets)
    assert [one.utcoffset() / timedelta(hours=1) for one in found] == offsets
    days = [one.date() for one in found]
    assert days == [days[0] + timedelta(days=number) for number in range(len(days))]


@pytest.mark.parametrize(("now", "day", "due"), [
    ("2026-03-11T03:59:59+00:00", date(2026, 3, 10), "2026-03-10T04:00:00+00:00"),
    ("2026-03-11T04:00:00+00:00", date(2026, 3, 11), "2026-03-11T04:00:00+00:00"),
    ("2026-03-29T02:59:00+00:00", date(2026, 3, 28), "2026-03-28T04:00:00+00:00"),
    ("2026-03-29T03:00:00+00:00", date(2026, 3, 29), "2026-03-29T03:00:00+00:00"),
    ("2026-10-25T03:59:00+00:00", date(2026, 10, 24), "2026-10-24T03:00:00+00:00"),
])
def test_which_run_is_the_newest_due(now: str, day: date, due: str) -> None:
    assert newest_due(site("Europe/London"), datetime.fromisoformat(now)) == (day, datetime.fromisoformat(due))


class Served:
    """A daemon as a process; what it says goes to a file."""

    def __init__(self, command: list[str], folder: Path, *path: str) -> None:
        self.log = folder / "daemon.log"
        with open(self.log, "wb") as log:
            self.process = subprocess.Popen(
                command, cwd=folder, stdout=log, stderr=log, start_new_session=True,
                env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *path])})

    @property
    def said(self) -> str:
        """All that it has said."""
        return self.log.read_text("utf-8")

    def until(self, so: Callable[[], bool], what: str) -> None:
        """Wait until something is so."""
        end = time.monotonic() + PATIENCE_S
        while not so():
            assert self.process.poll() is None and time.monotonic() < end, f"never {what}:\n{self.said}"
            time.sleep(0.02)

    def says(self, text: str, times: int = 1) -> None:
        """Wait until it has said something."""
        self.until(lambda: self.said.count(text) >= times, f"said {text!r}")

    def stop(self, how: signal.Signals = signal.SIGTERM) -> int:
        """Tell it to stop; its exit code."""
        self.process.send_signal(how)
        return self.process.wait(PATIENCE_S)


@pytest.fixture
def serve() -> Iterator[Callable[..., Served]]:
    """Start daemons; those that still go on are ended."""
    started: list[Served] = []

    def start(command: list[str], folder: Path, *path: str) -> Served:
        started.append(Served(command, folder, *path))
        return started[-1]

    yield start
    for one in started:
        one.process.kill()
        one.process.wait()


def driver(folder: Path, seconds: float, *hows: str) -> list[str]:
    """The daemon whose runs are told by files."""
    return [sys.executable, "-m", "tests.night.daemon_driver", str(folder), str(seconds), *hows]


def test_makes_up_for_each_site_once_and_says_when_it_is_next(tmp_path: Path, serve: Callable[..., Served]) -> None:
    daemon = serve(driver(tmp_path, 0, "ok"), tmp_path)
    daemon.says("next at", 2)
    daemon.until((tmp_path / "ended 2").exists, "ran both")
    assert {(tmp_path / f"ended {number}").read_text("utf-8") for number in (1, 2)} == {"marl", "tarn"}
    assert daemon.stop() == 0
    assert daemon.said.endswith("stopped\n")
    # all is done: started again, it has nothing to make up for
    again = serve(driver(tmp_path, 0, "ok"), tmp_path)
    again.says("next at", 2)
    assert again.stop() == 0
    assert not (tmp_path / "begun 3").exists()


def test_runs_each_time_it_is_due_one_at_a_time(tmp_path: Path, serve: Callable[..., Served]) -> None:
    """The driver's runs assert that no other goes on."""
    daemon = serve(driver(tmp_path, 1, "ok"), tmp_path)
    daemon.until((tmp_path / "ended 6").exists, "ran thrice for each site")
    assert daemon.stop() == 0
    assert "fault" not in daemon.said


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT])
def test_a_run_that_goes_on_is_finished_first(
        tmp_path: Path, serve: Callable[..., Served], how: signal.Signals) -> None:
    daemon = serve(driver(tmp_path, 0, "waits"), tmp_path)
    daemon.until((tmp_path / "begun 1").exists, "began")
    daemon.process.send_signal(how)
    daemon.says("a run that goes on is finished first")
    assert daemon.process.poll() is None
    (tmp_path / "go").touch()
    assert daemon.process.wait(PATIENCE_S) == 0
    assert (tmp_path / "ended 1").exists()
    # the other site's was waiting for its turn: it isn't begun any more
    assert not (tmp_path / "begun 2").exists()


@pytest.mark.parametrize("how", ["fails", "raises"])
def test_a_failing_run_doesnt_end_it_and_is_tried_again(tmp_path: Path, serve: Callable[..., Served], how: str) -> None:
    daemon = serve(driver(tmp_path, 0, how, how, "ok"), tmp_path)
    daemon.until((tmp_path / "ended 4").exists, "ran both in the end")
    assert daemon.said.count("tried again at") == 2
    assert ("a fault of kitbuilder: RuntimeError: out of the blue" in daemon.said) is (how == "raises")
    assert daemon.stop() == 0


def test_serves_a_workshop_really(tmp_path: Path, serve: Callable[..., Served]) -> None:
    shop = Shop(tmp_path / "shop")
    shop.receive("W-1", "2")
    shop.diary("a,,0,,2026-03-10T16:00,marl,yard-wipe,,authorised,normal,")
    daemon = serve([*KITBUILDER, "night", "serve"], shop.folder)
    daemon.says("marl: done, 1 bookings")
    last = runs.last_done(shop.store, "marl")
    assert last is not None and last.day == date(2026, 3, 10)
    assert "marl: next at" in daemon.said and "T04:00:00" in daemon.said
    second = run(shop.folder, "night", "serve")
    assert (second.code, second.said) == (
        5, f"Another daemon serves this workshop already (process {daemon.process.pid}).")
    assert daemon.stop() == 0
    assert daemon.said.rstrip().endswith("stopped")
    again = serve([*KITBUILDER, "night", "serve"], shop.folder)
    again.says("next at")
    assert again.stop() == 0
    assert "running" not in again.said
    # one that is killed leaves no lock behind
    killed = serve([*KITBUILDER, "night", "serve"], shop.folder)
    killed.says("next at")
    killed.process.kill()
    killed.process.wait()
    after = serve([*KITBUILDER, "night", "serve"], shop.folder)
    after.says("next at")
    assert after.stop() == 0
    shop.store.close()


def test_a_run_of_the_afternoon_before_isnt_the_nights(tmp_path: Path, serve: Callable[..., Served]) -> None:
    """Somebody ran tomorrow's at 15:00; at 04:00 things have changed, and it runs again."""
    shop = Shop(tmp_path / "shop")
    shop.run(date(2026, 3, 11))
    shop.settings(("now = 2026-03-10T15:00:00+00:00", "now = 2026-03-11T04:05:00+00:00"))
    daemon = serve([*KITBUILDER, "night", "serve"], shop.folder)
    daemon.says("marl: done")
    last = runs.last_done(shop.store, "marl", date(2026, 3, 11))
    assert last is not None and last.now == datetime(2026, 3, 11, 4, 5, tzinfo=UTC)
    assert daemon.stop() == 0
    shop.store.close()


def test_one_that_was_broken_off_before_is_ended_and_then_the_nights_is_made(
        tmp_path: Path, serve: Callable[..., Served]) -> None:
    shop = Shop(tmp_path / "shop")

    class PowerCut(Exception):
        pass

    def cut(name: str) -> None:
        raise PowerCut

    with pytest.raises(PowerCut):
        shop.run(date(2026, 3, 11), after=cut)
    shop.settings(("now = 2026-03-10T15:00:00+00:00", "now = 2026-03-11T04:05:00+00:00"))
    daemon = serve([*KITBUILDER, "night", "serve"], shop.folder)
    daemon.says("marl: done", 2)
    last = runs.last_done(shop.store, "marl", date(2026, 3, 11))
    assert last is not None and (last.id, last.now) == (2, datetime(2026, 3, 11, 4, 5, tzinfo=UTC))
    assert daemon.stop() == 0
    shop.store.close()


def test_a_run_that_is_refused_doesnt_end_the_real_one_either(tmp_path: Path, serve: Callable[..., Served]) -> None:
    shop = Shop(tmp_path / "shop")
    with only_one(shop.folder / ".kitbuilder-run.lock", "Another run"):
        daemon = serve([*KITBUILDER, "night", "serve"], shop.folder)
        daemon.says("marl: failed: Another run goes on in this workshop already (process")
        daemon.says("marl: tried again at")
        assert daemon.process.poll() is None
        assert daemon.stop() == 0
    assert runs.last_done(shop.store, "marl") is None
    shop.store.close()


SLOW = """
import time
from kitbuilder import Quote, SourceKind, hookimpl

class Slow:
    does = frozenset({"quote"})

    def __init__(self, folder):
        self.folder = folder

    def quote(self, request):
        (self.folder / "asked").touch()
        while not (self.folder / "go").exists():
            time.sleep(0.02)
        return Quote(as_of=request.now, currency="EUR", slots=(), offers=())

@hookimpl
def stock_sources():
    return [SourceKind("slow", "takes its time", lambda context: Slow(context.folder))]
"""


def test_a_real_run_that_goes_on_is_finished_and_noted_as_done(tmp_path: Path, serve: Callable[..., Served]) -> None:
    shop = Shop(tmp_path / "shop")
    install(tmp_path, "kitbuilder_slow_of_the_tests", SLOW)
    shop.settings(("[registers.fleet]", '[sources.slow]\nplugin = "slow"\ndeadline_s = 60\n\n[registers.fleet]'))
    daemon = serve([*KITBUILDER, "night", "serve"], shop.folder, str(tmp_path))
    daemon.until((shop.folder / "asked").exists, "asked the slow source")
    daemon.process.send_signal(signal.SIGTERM)
    daemon.says("stopping")
    assert runs.last_done(shop.store, "marl") is None
    (shop.folder / "go").touch()
    assert daemon.process.wait(PATIENCE_S) == 0
    assert runs.last_done(shop.store, "marl") is not None
    assert "marl: done, 0 bookings, 0 things for a person" in daemon.said
    shop.store.close()
