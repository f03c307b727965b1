"""What counts say of a chance, against published values; and luck, against every way it could have come."""

from collections import Counter
from itertools import combinations, product

import pytest

from kitbuilder.bringing_in.chance import luck, wilson

#: Wilson's 95 % interval as R's binom package gives it (binom.confint, method "wilson"), by way of the tests of
#: statsmodels (stats/tests/test_proportion.py).
WILSON = [
    (4, 20, 0.08065766, 0.41601743),
    (0, 30, 0.0, 0.11351339),
]


@pytest.mark.parametrize("used, jobs, least, most", WILSON)
def test_wilsons_interval(used: int, jobs: int, least: float, most: float) -> None:
    assert wilson(used, jobs) == pytest.approx((least, most), abs=5e-9)


def test_wilsons_interval_is_scipys() -> None:
    stats = pytest.importorskip("scipy.stats")
    for used, jobs in ((0, 1), (1, 1), (3, 7), (12, 60), (59, 60), (437, 980)):
        theirs = stats.binomtest(used, jobs).proportion_ci(method="wilson")
        assert wilson(used, jobs) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


@pytest.mark.parametrize("cells, used", [((3, 3), 3), ((2, 2, 4), 4), ((1, 2, 3, 2), 3), ((5, 3), 2), ((4, 1, 1), 2)])
def test_luck_is_the_share_of_deals_that_a_rule_fits(cells: tuple[int, ...], used: int) -> None:
    """Deals so many uses to the jobs in every way there is, and counts those in which each cell is all or nothing."""
    cell_of = [cell for cell, size in enumerate(cells) for _ in range(size)]
    deals = list(combinations(range(len(cell_of)), used))
    fits = sum(all(count in (0, cells[cell]) for cell, count in Counter(cell_of[job] for job in deal).items())
               for deal in deals)
    assert luck(cells, (used, len(cell_of) - used), 1) == pytest.approx(fits / len(deals))


def test_luck_with_three_labels() -> None:
    cells, counts = (2, 1, 3, 1), (2, 2, 3)
    cell_of = [cell for cell, size in enumerate(cells) for _ in range(size)]
    deals = [deal for deal in product(range(3), repeat=7) if tuple(deal.count(label) for label in range(3)) == counts]
    fits = sum(all(len({label for at, label in zip(cell_of, deal, strict=True) if at == cell}) == 1
                   for cell in range(len(cells))) for deal in deals)
    assert luck(cells, counts, 1) == pytest.approx(fits / len(deals))


def test_every_rule_that_was_tried_makes_luck_likelier() -> None:
    assert luck((3, 3), (3, 3), 2) == pytest.approx(2 * luck((3, 3), (3, 3), 1))
    assert luck((5, 5), (5, 5), 1, wrong=1) > luck((5, 5), (5, 5), 1)
