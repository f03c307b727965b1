"""Measures what the design promises, as ratios against named peers, all in one run.

    .venv-test/bin/python benchmarks/run.py [--runs N] [--start-up-only]

Processes are timed in turn (peer, ours, peer, ours, …), so that a machine whose speed drifts treats both alike;
the median of the pairwise ratios is quoted, with the least and the greatest.
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PYTHON = sys.executable
KIT = [PYTHON, "-m", "kitbuilder.cli", "kit", "actuator-replace"]
KNOWN = ["--fact", "gearbox=Tarnholt light 6 late", "--fact", "emissions=Euro V", "--fact", "access=in the frame",
         "--fact", "place=workshop"]


def seconds(command: list[str], folder: Path, environment: dict[str, str]) -> float:
    """Wall time of a whole process."""
    start = time.perf_counter()
    subprocess.run(command, cwd=folder, env=environment, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def in_turn(peer: list[str], ours: list[str], folder: Path, environment: dict[str, str],
            runs: int) -> tuple[list[float], list[float]]:
    """Times of both commands, run in turn after one warm-up each."""
    seconds(peer, folder, environment)
    seconds(ours, folder, environment)
    peers, own = [], []
    for _ in range(runs):
        peers.append(seconds(peer, folder, environment))
        own.append(seconds(ours, folder, environment))
    return peers, own


def tell(what: str, peers: list[float], own: list[float], target: float) -> None:
    """One line: median of the pairwise ratios, its range, the medians in milliseconds, the target."""
    ratios = sorted(one / peer for peer, one in zip(peers, own, strict=True))
    print(f"{what:<44} {statistics.median(ratios):5.2f} x  ({ratios[0]:.2f} to {ratios[-1]:.2f}; "
          f"{statistics.median(own) * 1000:.0f} ms against {statistics.median(peers) * 1000:.0f} ms; "
          f"target {target:.1f} x)")


def main() -> None:
    """Run all measurements."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=21)
    parser.add_argument("--start-up-only", action="store_true", help="leave out holds and nights")
    told = parser.parse_args()
    runs, start_up_only = told.runs, told.start_up_only
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        environment = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
        environment |= {"XDG_CACHE_HOME": str(place / "cache")}
        demo = place / "demo"
        start = time.perf_counter()
        subprocess.run([PYTHON, "-m", "kitbuilder.cli", "demo", str(demo)], env=environment,
                       stdout=subprocess.DEVNULL, check=True)
        first = time.perf_counter() - start
        bare = [PYTHON, "-c", "import typer"]
        print("a process, edition warm, against `import typer` in a bare interpreter:")
        tell("  kit, nothing known", *in_turn(bare, KIT, demo, environment, runs), 2.0)
        tell("  kit, all known", *in_turn(bare, [*KIT, *KNOWN], demo, environment, runs), 2.0)
        own = [seconds([PYTHON, "-m", "kitbuilder.cli", "demo", str(demo)], demo, environment) for _ in range(3)]
        warm = statistics.median(own)
        print(f"the demo's story: {first:.1f} s with cold caches, {warm:.1f} s warm (about 10 s allowed)")
    if not start_up_only:
        for script in ("holds.py", "night.py"):
            subprocess.run([PYTHON, str(Path(__file__).with_name(script))], check=True)


if __name__ == "__main__":
    main()
