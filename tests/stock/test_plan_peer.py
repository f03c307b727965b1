"""Plans of sizes that no exhaustive search reaches, against a constraint solver's model that shares no code with them.

CP-SAT (ortools) proves each level of the objective before the next; nights with fees, minimums, packs, breaks and
several slots a day are drawn from a seed.
"""

from __future__ import annotations

import msgspec
import pytest

from benchmarks import peer_cp_sat
from benchmarks.sourcing_cases import night
from kitbuilder.stock.plan import plan


def all_levels_are_the_same(lines: int, *, scarce: bool, seed: int, seconds: float) -> None:
    needs, supplies, now = night(lines, scarce=scarce, seed=seed)
    made = plan(needs, supplies, now)
    answer = peer_cp_sat.solve(needs, supplies, now, seconds)
    assert made.proven
    assert answer.proven
    assert list(msgspec.structs.astuple(made.value)) == answer.levels


@pytest.mark.parametrize("seed", range(1, 4))
@pytest.mark.parametrize("scarce", [False, True])
def test_a_plan_of_thirty_lines_is_worth_what_the_peer_proves(scarce: bool, seed: int):
    all_levels_are_the_same(30, scarce=scarce, seed=seed, seconds=60)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(1, 6))
@pytest.mark.parametrize("lines, scarce", [(60, True), (200, False)])
def test_a_plan_of_a_night_is_worth_what_the_peer_proves_in_time(lines: int, scarce: bool, seed: int):
    """The peer may not come to the end, but whatever it proves is so."""
    needs, supplies, now = night(lines, scarce=scarce, seed=seed)
    made = plan(needs, supplies, now)
    answer = peer_cp_sat.solve(needs, supplies, now, 20)
    assert made.proven
    assert len(answer.levels) >= 8
    assert list(msgspec.structs.astuple(made.value))[:len(answer.levels)] == answer.levels
