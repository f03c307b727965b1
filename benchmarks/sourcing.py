"""Measures sourcing against CP-SAT: the same needs and supplies, both to the same proven optimum of all levels.

    .venv-test/bin/python benchmarks/sourcing.py [--lines 50 500 5000] [--rounds 3] [--seconds 120] [--alone 50000]

Both begin with needs and supplies, so building their models counts; they run in turn, and each level of the optimum is
asserted equal. CP-SAT runs at the setting that was measured best, one worker with `linearization_level=2`, level by
level with the last answer as a hint. What isn't proven within the seconds is told as such, once, and not run again.
Sizes that are given to `--alone` are planned without the peer: how long that takes, and how far it is from proof.
"""

import argparse
import time

import msgspec
import peer_cp_sat
from sourcing_cases import night
from timing import ratio, told

from kitbuilder.stock.plan import plan


def measure(lines: int, *, scarce: bool, rounds: int, seconds: float) -> None:
    """One size and kind of night, told in a line."""
    name = f"{lines:>6} lines, {'scarce' if scarce else 'normal'} night"
    ours, peers = [], []
    for number in range(rounds):
        needs, supplies, now = night(lines, scarce=scarce, seed=number + 1)
        start = time.perf_counter()
        made = plan(needs, supplies, now, seconds=seconds)
        ours.append(time.perf_counter() - start)
        start = time.perf_counter()
        answer = peer_cp_sat.solve(needs, supplies, now, seconds)
        peers.append(time.perf_counter() - start)
        levels = list(msgspec.structs.astuple(made.value))
        proven = levels if made.gap is None else levels[:made.value.__struct_fields__.index(made.gap.field)]
        both = min(len(answer.levels), len(proven))
        assert answer.levels[:both] == proven[:both], (answer.levels, levels)
        if made.gap is not None:
            print(f"{name}: {told(ours)}, proven are {len(proven)} of {len(levels)} levels, {made.gap}; "
                  f"CP-SAT proved {len(answer.levels)} in {seconds:.0f} s", flush=True)
            return
        if not answer.proven:
            print(f"{name}: {told(ours)}, proven; CP-SAT not in {seconds:.0f} s, proven and the same are "
                  f"{len(answer.levels)} of {len(levels)} levels: more than {seconds / ours[-1]:.1f} x", flush=True)
            return
    print(f"{name}: {told(ours)}, CP-SAT {told(peers)}: {ratio(peers, ours)}", flush=True)


def alone(lines: int, *, scarce: bool, seconds: float) -> None:
    """A size that is planned without the peer, told in a line."""
    needs, supplies, now = night(lines, scarce=scarce)
    start, processor = time.perf_counter(), time.process_time()
    made = plan(needs, supplies, now, seconds=seconds)
    print(f"{lines:>6} lines, {'scarce' if scarce else 'normal'} night: {time.perf_counter() - start:.1f} s of "
          f"{seconds:.0f}, {time.process_time() - processor:.1f} s of a processor, {made.gap or 'proven'}", flush=True)


def main() -> None:
    """Run all sizes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lines", type=int, nargs="*", default=[50, 500, 5000])
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=120)
    parser.add_argument("--alone", type=int, nargs="*", default=[])
    given = parser.parse_args()
    for lines in given.alone:
        for scarce in (False, True):
            alone(lines, scarce=scarce, seconds=given.seconds)
    for lines in given.lines:
        for scarce in (False, True):
            measure(lines, scarce=scarce, rounds=given.rounds, seconds=given.seconds)


if __name__ == "__main__":
    main()
