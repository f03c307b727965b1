"""What a count says of a chance, and how likely a rule that fits is mere luck."""

import math
from collections.abc import Sequence
from typing import Final

#: The normal quantile of a two-sided 95 % interval.
_Z: Final = 1.959963984540054
#: So many states are counted exactly; beyond, a bound serves, which is never below.
_MOST_STATES: Final = 50_000


def wilson(used: int, jobs: int) -> tuple[float, float]:
    """The 95 % interval of a chance that showed `used` times in `jobs` (E. B. Wilson, Probable inference, the law of
    succession, and statistical inference, J. Am. Stat. Assoc. 22, 1927)."""
    share, square = used / jobs, _Z * _Z / jobs
    middle = share + square / 2
    half = _Z * math.sqrt(share * (1 - share) / jobs + square / (4 * jobs))
    return max(0.0, (middle - half) / (1 + square)), min(1.0, (middle + half) / (1 + square))


def luck(cells: Sequence[int], counts: Sequence[int], tried: int, wrong: int = 0) -> float:
    """How likely it is that some rule among `tried` of its kind splits the jobs as well, though nothing depends on
    anything: an exact permutation test (R. A. Fisher, The design of experiments, 1935), times the rules tried
    (Bonferroni).

    `cells` are how many jobs are in each cell of the rule, `counts` how many had each label; a rule gives each cell
    one label. With `wrong` jobs against the rule, a bound.
    """
    jobs = sum(counts)
    ways_all = math.lgamma(jobs + 1) - sum(math.lgamma(count + 1) for count in counts)
    bound = len(cells) * math.log(len(counts)) + math.log(tried)
    if wrong:
        bound += math.log(sum(math.comb(jobs, k) * len(counts) ** k for k in range(wrong + 1)))
        return min(1.0, math.exp(bound - ways_all))
    if math.prod(count + 1 for count in counts) * len(cells) <= _MOST_STATES:
        ways = _labelings(cells, counts)
        return min(1.0, math.exp(math.log(ways) + math.log(tried) - ways_all)) if ways else 0.0
    return min(1.0, math.exp(bound - ways_all))


def _labelings(cells: Sequence[int], counts: Sequence[int]) -> int:
    """In how many ways each cell can be given one label so that the labels have just these counts."""
    states = {tuple(counts): 1}
    for size in cells:
        following: dict[tuple[int, ...], int] = {}
        for left, ways in states.items():
            for label, room in enumerate(left):
                if room >= size:
                    after = (*left[:label], room - size, *left[label + 1:])
                    following[after] = following.get(after, 0) + ways
        states = following
    return states.get((0,) * len(counts), 0)
