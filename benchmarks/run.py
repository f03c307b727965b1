"""Measures what the design promises, as ratios against named peers, all in one run.

    .venv-test/bin/python benchmarks/run.py [--runs N] [--only start-up,lines,scale,…] [--sizes 1000,…]

Processes are timed in turn (peer, ours, peer, ours, …), so that a machine whose speed drifts treats both alike;
the median of the pairwise ratios is quoted, with the least and the greatest. `scale` makes catalogues of up to
1,000,000 fits and takes some minutes; `--sizes 1000,10000` makes it short.
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
#: Each a script of its own beside this one.
PARTS = ("lines", "scale", "holds", "night", "quotes", "sourcing")
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
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=21)
    parser.add_argument("--start-up-only", action="store_true", help="the same as --only start-up")
    parser.add_argument("--only", default=",".join(("start-up", *PARTS)), help="the parts to run, with commas")
    parser.add_argument("--sizes", help="sizes of the catalogues of `scale`, with commas")
    told = parser.parse_args()
    parts = ["start-up"] if told.start_up_only else told.only.split(",")
    if unknown := set(parts) - {"start-up", *PARTS}:
        parser.error(f"no part is named {' or '.join(sorted(unknown))}; there are start-up, {', '.join(PARTS)}")
    if "start-up" in parts:
        start_up(told.runs)
    for part in parts:
        if part != "start-up":
            sizes = ["--sizes", told.sizes] if part == "scale" and told.sizes else []
            print(flush=True)
            subprocess.run([PYTHON, str(Path(__file__).with_name(f"{part}.py")), *sizes], check=True)


def start_up(runs: int) -> None:
    """`kitbuilder kit` as a process, and the demo."""
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


if __name__ == "__main__":
    main()
