"""Measures a night: a whole run of 1,000 and of 10,000 bookings of the demo catalogue over three days.

    .venv-test/bin/python benchmarks/night.py [--bookings 1000 10000] [--runs N]

Bookings, what is known of their vehicles and what lies on the shelf are drawn from a seed. The shelf holds about half
of what is needed; the rest a supplier brings this morning or the next. Each size is run on a store of its own; a second
run must change nothing. Whether the plan is proven to be the best within its minute is told beside it.
"""

import argparse
import random
import statistics
import sys
import tempfile
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import msgspec

from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.wall import to_utc
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.demo.workshop import demo_catalogue
from kitbuilder.model.booking import DiaryEntry
from kitbuilder.model.shelf import Receipt
from kitbuilder.night.run import STEPS, run_night
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import read_settings
from kitbuilder.store import bookings
from kitbuilder.store.database import open_store
from kitbuilder.store.runs import last_done
from kitbuilder.store.shelves import receive

DAY = date(2026, 3, 11)
NOW = datetime(2026, 3, 11, 4, tzinfo=UTC)
SETTINGS = """\
store = "store.db"
[sources.shelf]
plugin = "shelf"
[sources.supplier]
plugin = "price-file"
deadline_s = 60
supplier = true
file = "supplier.csv"
[registers.fleet]
plugin = "fleet-file"
file = "fleet.csv"
[sites.here]
zone = "Europe/London"
[sites.here.shifts]
"""


def night(count: int, folder: Path) -> tuple[float, float, dict[str, float]]:
    """Seconds of a first run of so many bookings, of a second, and of the first one's steps."""
    draw = random.Random(count)  # the same bookings each time
    hours = "\n".join(f'{day} = ["00:00 to 24:00"]' for day in ("wednesday", "thursday", "friday"))
    (folder / "kitbuilder.toml").write_text(SETTINGS + hours + "\n", "utf-8")
    (folder / "fleet.csv").write_bytes((demo_catalogue() / "fleet.csv").read_bytes())
    fleet = [f"DEMO {number:03}" for number in range(1, 27)]
    settings = read_settings(folder / "kitbuilder.toml")
    edition = read_edition(demo_catalogue())
    store = open_store(folder / "store.db")
    [site] = read_sites("", settings.sites).values()
    jobs = [job for job, _, _ in edition.heading.jobs]
    with store.writing() as session:
        for number in range(count):
            start = datetime(2026, 3, 11) + timedelta(minutes=15 * draw.randrange(4 * 72))
            entry = DiaryEntry(
                id=str(number), start=start, site=site.name, job=draw.choice(jobs), registration=draw.choice(fleet),
                state="enquiry" if draw.random() < 0.1 else "authorised",
                priority="VOR" if draw.random() < 0.05 else "normal")
            bookings.put_in(session, "drawn", entry, to_utc(start, site.zone), site.zone, NOW)
    rows = ["item,quantity,unit,ready,price,per,currency,as_of"]
    for item in edition.items():
        lots = draw.randrange(1, 4)
        for lot in range(lots if draw.random() < 0.8 else 0):
            quantity = 1000 * max(1, draw.randrange(1, 3) * count // (40 * lots))
            receive(store, Receipt(site=site.name, item=item.number, bin=f"A-{lot}", quantity=quantity, unit=item.unit,
                                   lot=f"L{lot}", use_by=None), "benchmark", NOW)
        ready = f"2026-03-{draw.choice((11, 12))}T{draw.choice((6, 13)):02}:00:00+00:00"
        rows.append(f"{item.number},{10 * count},{item.unit},{ready},{draw.randrange(100, 9000) / 100:.2f},1,EUR,"
                    "2026-03-11T03:00:00+00:00")
    (folder / "supplier.csv").write_text("\n".join(rows) + "\n", "utf-8")
    plugins, taken = load_plugins(), [time.perf_counter()]
    around = Surroundings(settings, plugins, edition, store, site, folder / "documents", NOW, (site.name,),
                          lambda _: taken.append(time.perf_counter()))
    report = run_night(around, DAY)
    assert len(report.bookings) == count
    steps = {step: taken[number + 1] - taken[number] for number, step in enumerate(STEPS)}
    first = sum(steps.values())
    start_s = time.perf_counter()
    run_night(around._replace(after=lambda _: None), DAY)
    second = time.perf_counter() - start_s
    last = last_done(store, site.name)
    assert last is not None
    assert msgspec.json.decode(last.steps["hold"])["changed"] == 0, "a second run changed something"
    states: dict[str, int] = {}
    for row in report.bookings:
        states[row.state] = states.get(row.state, 0) + 1
    print(f"  {count:>6} bookings: {states}; {'proven' if report.proven else 'NOT proven'} best plan", file=sys.stderr)
    store.close()
    return first, second, steps


def main() -> None:
    """Run all sizes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bookings", type=int, nargs="+", default=[1000, 10_000])
    parser.add_argument("--runs", type=int, default=1)
    told = parser.parse_args()
    medians = []
    for count in told.bookings:
        firsts, seconds, all_steps = [], [], []
        for _ in range(told.runs):
            with tempfile.TemporaryDirectory() as folder:
                first, second, steps = night(count, Path(folder))
            firsts.append(first)
            seconds.append(second)
            all_steps.append(steps)
        medians.append(statistics.median(firsts))
        parts = ", ".join(f"{step} {statistics.median(one[step] for one in all_steps):.2f}" for step in STEPS)
        again = statistics.median(seconds)
        print(f"a night of {count:>6} bookings: {medians[-1]:7.2f} s ({parts}); again {again:7.2f} s")
    for count, median, small in zip(told.bookings[1:], medians[1:], medians, strict=False):
        print(f"{count} against {told.bookings[medians.index(small)]}: {median / small:.1f} x")


if __name__ == "__main__":
    main()
