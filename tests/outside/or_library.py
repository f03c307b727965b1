"""Facility location problems with published optima: the simplest orders with fees.

Source: J. E. Beasley's OR-Library, file `cap71` in its own format (facilities and customers; capacity and fixed cost of
each facility; of each customer the demand and the cost of serving all of it from each facility), read in a public
repository's copy (lumasepa/MetaH, cap71.txt). The fixed costs of cap72, cap73 and cap74 are 12 500, 17 500 and 25 000
but for the one facility that costs nothing, all else is the same (from memory; only so are the optima met). Optima: the
library's `uncapopt`, in a public copy (klubidorka/SPLP, samples/uncapopt.txt).
"""

from decimal import Decimal
from pathlib import Path

#: Problem: its fixed cost, and the published optimum.
OPTIMA = {
    "cap71": (7_500, Decimal("932615.750")),
    "cap72": (12_500, Decimal("977799.400")),
    "cap73": (17_500, Decimal("1010641.450")),
    "cap74": (25_000, Decimal("1034976.975")),
}
#: In the file all costs are whole multiples of one part in so many.
PARTS = 10_000


def facilities_and_costs() -> tuple[list[int], list[list[int]]]:
    """The facilities' fixed costs and each customer's costs, in parts of PARTS."""
    words = (Path(__file__).parent / "or_library_cap71.txt").read_text("ascii").split()
    facilities, customers = int(words[0]), int(words[1])
    numbers = [Decimal(word) * PARTS for word in words[2:]]
    if len(numbers) != 2 * facilities + customers * (1 + facilities) or any(one % 1 for one in numbers):
        raise ValueError("the file is not whole")
    fixed = [int(one) for one in numbers[1:2 * facilities:2]]
    rest = numbers[2 * facilities:]
    return fixed, [
        [int(one) for one in rest[at + 1:at + 1 + facilities]] for at in range(0, len(rest), 1 + facilities)]
