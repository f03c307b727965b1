"""Catalogues of 1,000 to 1,000,000 fits: compiling, `kitbuilder kit` as a process, checking; time and memory of each.

    python benchmarks/scale.py [--sizes 1000,10000,100000,1000000] [--runs 11] [--no-check]

The catalogues come from catalogues.py (12 facts, some 200 fits a job type, up to 5,000 job types and 200,000 items, on
at most 40 sheets beside items.csv). Compiling is held against plain reading of the same CSV files with csv.reader, in
processes run in turn. The kits of all sizes are made in turn too, and told as ratios to the smallest. The check must
find the planted faults and no other problem. Memory is the most that any one process held, with its start.
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from catalogues import Planted, make

SIZES = (1_000, 10_000, 100_000, 1_000_000)

_CSV = """
import csv, pathlib, sys
rows = 0
for path in sorted(pathlib.Path(sys.argv[1]).rglob("*.csv")):
    with path.open(newline="", encoding="utf-8") as file:
        for row in csv.reader(file):
            rows += 1
"""
_COMPILE = """
import pathlib, sys
from kitbuilder.catalogue.cache import open_edition
open_edition(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
"""
_BULK = """
import pathlib, sys, time
sys.path.insert(0, sys.argv[3])
from catalogues import vehicles
from kitbuilder.catalogue.cache import open_edition
from kitbuilder.kit.lines import KitLines
edition = open_edition(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
jobs = [name for name, _, _ in edition.heading.jobs][:50]
known = vehicles(7, 100_000)
start = time.process_time()
lines = KitLines(edition)
for number, vehicle in enumerate(known):
    lines.job(jobs[number % len(jobs)]).lines(vehicle)
print(time.process_time() - start)
"""


class Ran(NamedTuple):
    """A process that ran: wall seconds, the most memory in MB that it or one it started held, exit code, answer."""

    seconds: float
    megabytes: float
    code: int
    said: bytes


def run(command: Sequence[str], environment: dict[str, str]) -> Ran:
    """Run a command to its end."""
    start = time.perf_counter()
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen(command, env=environment, stdout=said)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        seconds = time.perf_counter() - start
        said.seek(0)
        return Ran(seconds, used.ru_maxrss / 1024, process.returncode, said.read())


def good(ran: Ran, *codes: int) -> Ran:
    """The same, if it went well."""
    if ran.code not in codes:
        raise SystemExit(f"a measured command failed with {ran.code}")
    return ran


class Size(NamedTuple):
    """A catalogue on disk."""

    fits: int
    folder: Path
    planted: tuple[Planted, ...]
    job: str


def compiled(sizes: Sequence[Size], cache: Path, environment: dict[str, str], runs: int) -> None:
    """Compile each against plain reading; its edition is left in the cache."""
    print("compile, from files to an edition on disk, against csv.reader over the same:")
    print(f"  {'fits':>9}  {'compile':>9}  {'csv':>8}  {'ratio (range)':<22}  memory  edition")
    kept: set[Path] = set()
    for size in sizes:
        plain, own = [], []
        for _ in range(runs if size.fits <= 100_000 else 2):
            plain.append(good(run([sys.executable, "-c", _CSV, str(size.folder)], environment), 0))
            shutil.rmtree(cache / "folders", ignore_errors=True)
            for path in (cache / "editions").glob("*"):
                if path not in kept:
                    path.unlink()
            own.append(good(run([sys.executable, "-c", _COMPILE, str(size.folder), str(cache)], environment), 0))
        bare = statistics.median(run([sys.executable, "-c", ""], environment).seconds for _ in range(3))
        ratios = sorted((one.seconds - bare) / (other.seconds - bare) for one, other in zip(own, plain, strict=True))
        (new,) = set((cache / "editions").iterdir()) - kept
        kept.add(new)
        weight = new.stat().st_size / 1e6
        print(f"  {size.fits:>9,}  {statistics.median(one.seconds for one in own):>7.2f} s  "
              f"{statistics.median(one.seconds for one in plain):>6.2f} s  {statistics.median(ratios):>5.1f} x "
              f"({ratios[0]:.1f} to {ratios[-1]:.1f})    {max(one.megabytes for one in own):>5.0f} MB  {weight:.0f} MB")


def kits(sizes: Sequence[Size], environment: dict[str, str], runs: int) -> None:
    """`kitbuilder kit` as a process, with all sizes in turn."""
    commands = {size.fits: [sys.executable, "-m", "kitbuilder.cli", "kit", size.job, "--catalogue", str(size.folder),
                            "--json", *KNOWN] for size in sizes}
    found: dict[int, list[Ran]] = {size.fits: [] for size in sizes}
    for number in range(runs + 1):
        for fits, command in commands.items():
            ran = good(run(command, environment), 0, 1)
            if number:
                found[fits].append(ran)
    print("kitbuilder kit as a process, edition warm, against the smallest; target 1.1 x:")
    least = found[sizes[0].fits]
    for size in sizes:
        some = found[size.fits]
        ratios = sorted(one.seconds / other.seconds for one, other in zip(some, least, strict=True))
        lines = len(json.loads(some[0].said)["lines"])
        print(f"  {size.fits:>9,}  {statistics.median(one.seconds for one in some) * 1000:>5.0f} ms  "
              f"{statistics.median(ratios):>5.2f} x ({ratios[0]:.2f} to {ratios[-1]:.2f})  "
              f"{max(one.megabytes for one in some):>4.0f} MB  a kit of {lines} lines")


#: What is told of the vehicle: a typical enquiry, with a few facts left open.
KNOWN = ["--fact", "emissions=Euro V", "--fact", "registered=2011-05-04", "--fact", "gearbox=Holm 9", "--fact",
         "generation=second", "--fact", "axles=4x2", "--fact", "cab=sleeper", "--fact", "chassis=345678", "--fact",
         "retarder=none", "--fact", "place=workshop", "--fact", "access=in the frame"]


def checks(sizes: Sequence[Size], environment: dict[str, str]) -> None:
    """Check each; fail unless just what was planted is found."""
    print("catalogue check, a process a core; target 11 x from 100,000 to 1,000,000 fits:")
    before = 0.0
    for size in sizes:
        ran = good(run([sys.executable, "-m", "kitbuilder.cli", "catalogue", "check", "--catalogue", str(size.folder),
                        "--json"], environment), 1)
        told = json.loads(ran.said)["problems"]
        problems = {(one["job"], one["kind"], one["role"] or one["circuit"]) for one in told}
        if problems != set(size.planted):
            raise SystemExit(f"planted and found differ: {problems ^ set(size.planted)}")
        grown = f"{ran.seconds / before:>4.1f} x the last" if before else f"{'':<15}"
        print(f"  {size.fits:>9,}  {ran.seconds:>6.1f} s  {grown}  {ran.megabytes:>4.0f} MB a process; "
              f"found the {len(size.planted)} planted")
        before = ran.seconds


def bulk(size: Size, cache: Path, environment: dict[str, str]) -> None:
    """100,000 kits' lines in one process."""
    ran = good(run([sys.executable, "-c", _BULK, str(size.folder), str(cache), str(Path(__file__).parent)],
                   environment), 0)
    seconds = float(ran.said)
    print(f"100,000 kits' lines in bulk, 50 job types of {size.fits:,} fits, laid out first:\n"
          f"  {seconds:.1f} s of one core, {seconds * 10:.0f} µs a kit, {ran.megabytes:.0f} MB")


def main() -> None:
    """Measure all of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sizes", default=",".join(map(str, SIZES)))
    parser.add_argument("--runs", type=int, default=11)
    parser.add_argument("--no-check", action="store_true", help="leave out the check")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        environment |= {"XDG_CACHE_HOME": f"{place}/cache"}
        cache = Path(place) / "cache" / "kitbuilder"
        sizes = []
        for fits in sorted(int(text) for text in told.sizes.split(",")):
            folder = Path(place) / str(fits)
            planted = make(folder, fits)
            sizes.append(Size(fits, folder, planted, "actuator-001-inspect-and-adjust-03"))
        compiled(sizes, cache, environment, min(3, told.runs))
        for size in sizes:
            good(run([sys.executable, "-c", _COMPILE, str(size.folder), str(cache)], environment), 0)
        kits(sizes, environment, told.runs)
        bulk(sizes[-1], cache, environment)
        if not told.no_check:
            checks(sizes, environment)


if __name__ == "__main__":
    main()
