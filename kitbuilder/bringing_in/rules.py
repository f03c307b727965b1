"""Finds the fewest facts that decide what was used: exact over the jobs whose facts are known, and not by luck."""

import math
from collections import Counter
from collections.abc import Hashable, Iterator, Sequence
from itertools import combinations, pairwise
from typing import Final, TypeVar

import msgspec

from kitbuilder.bringing_in.chance import luck
from kitbuilder.bringing_in.past import PastJob
from kitbuilder.vehicle.facts import LISTED, Fact

#: A rule that luck would give this often isn't believed.
BELIEVED: Final = 0.01
#: One job in so many may speak against a rule: a line booked to the wrong job, or forgotten.
_WRONG_ONE_IN: Final = 25
#: But not many in one cell, or the rule lacks a fact there.
_WRONG_IN_CELL: Final = 12
#: So many facts may decide together.
_MOST_FACTS: Final = 3
#: So often may what is used change along a range.
_MOST_CUTS: Final = 3

Label = TypeVar("Label", bound=Hashable)
Cell = tuple[int, ...]
#: The last place before a change along a range, and the first behind it, of those that were seen.
Cut = tuple[int, int]


class Split(msgspec.Struct, frozen=True):
    """Facts by number, and for each what parts its values: None where each is a cell of its own, else the cuts along
    its range (cells 0, 1 …)."""

    facts: tuple[int, ...]
    cuts: tuple[tuple[Cut, ...] | None, ...]

    def cell(self, job: PastJob) -> Cell | None:
        """The cell that a job is in; None where a fact isn't known of it."""
        found = []
        for fact, cuts in zip(self.facts, self.cuts, strict=True):
            place = job.facts[fact]
            if place is None:
                return None
            found.append(place if cuts is None else sum(place > below for below, _ in cuts))
        return tuple(found)

    def value(self, at: int, cell: int, fact: Fact) -> str:
        """The values of one of the facts in a cell, as a condition."""
        cuts = self.cuts[at]
        if cuts is None:
            return fact.value(cell)
        first = fact.value(cuts[cell - 1][1]) if cell else ""
        last = fact.value(cuts[cell][0]) if cell < len(cuts) else ""
        if not first or not last:
            return f"from {first}" if first else f"up to {last}"
        return first if first == last else f"{first} to {last}"


class Ruling(msgspec.Struct, frozen=True):
    """A split that decides labels: the label of each cell, how many jobs are in it, the jobs that speak against it (by
    name), how likely it is by luck, and other splits that do as well."""

    split: Split
    labels: dict[Cell, object]
    sizes: dict[Cell, int]
    against: tuple[str, ...]
    by_luck: float
    rivals: tuple[Split, ...]

    @property
    def believed(self) -> bool:
        """Whether it is taken for more than luck."""
        return self.by_luck < BELIEVED


def decide_by_facts(jobs: Sequence[PastJob], labels: Sequence[Hashable], facts: Sequence[Fact]) -> Ruling | None:
    """The ruling with the fewest facts that decides a label for each job. Without one that is believed, the likeliest
    exact one; None where there is none, or nothing to decide."""
    if len(set(labels)) < 2:
        return None
    doubted: Ruling | None = None
    for size in range(1, _MOST_FACTS + 1):
        exact = _rulings(jobs, labels, facts, size, 0)
        believed = [one for one in exact if one.believed]
        if believed:
            return _first(believed, facts)
        doubted = min([*exact, *([doubted] if doubted else [])], key=lambda one: one.by_luck, default=None)
        wrong = len(jobs) // _WRONG_ONE_IN if size < _MOST_FACTS else 0
        nearly = [one for one in _rulings(jobs, labels, facts, size, wrong) if one.believed] if wrong else []
        if nearly:
            least = min(len(one.against) for one in nearly)
            return _first([one for one in nearly if len(one.against) == least], facts)
    return doubted


def _first(rulings: Sequence[Ruling], facts: Sequence[Fact]) -> Ruling:
    """Listed facts before ranges, few cells before many, then facts in their order; the others are its rivals."""
    def place(one: Ruling) -> tuple[int, int, tuple[int, ...]]:
        return sum(cuts is not None for cuts in one.split.cuts), len(one.labels), one.split.facts

    first, *others = sorted(rulings, key=place)
    return msgspec.structs.replace(first, rivals=tuple(one.split for one in others))


def _rulings(jobs: Sequence[PastJob], labels: Sequence[Hashable], facts: Sequence[Fact], size: int,
             wrong: int) -> list[Ruling]:
    found = []
    tried = max(1, sum(1 for _ in combinations(range(len(facts)), size)))
    for numbers in combinations(range(len(facts)), size):
        split = _split(jobs, labels, facts, numbers)
        if split is not None:
            ruling = _ruling(jobs, labels, split, wrong, tried)
            if ruling is not None:
                found.append(ruling)
    return found


def _ruling(jobs: Sequence[PastJob], labels: Sequence[Hashable], split: Split, wrong: int, tried: int) -> Ruling | None:
    cells: dict[Cell, Counter[Hashable]] = {}
    where: list[tuple[Cell, PastJob, Hashable]] = []
    for job, label in zip(jobs, labels, strict=True):
        cell = split.cell(job)
        if cell is not None:
            cells.setdefault(cell, Counter())[label] += 1
            where.append((cell, job, label))
    # what is known of fewer than half of the jobs decides nothing
    if len(cells) < 2 or len(where) * 2 < len(jobs):
        return None
    chosen = {cell: max(seen, key=lambda label: (seen[label], str(label))) for cell, seen in sorted(cells.items())}
    against = tuple(job.name for cell, job, label in where if chosen[cell] != label)
    most = all(cells[cell].total() - cells[cell][label] <= cells[cell].total() // _WRONG_IN_CELL
               for cell, label in chosen.items())
    if len(against) > wrong or not most or len(set(chosen.values())) < 2:
        return None
    counts = Counter(label for _, _, label in where)
    # where along a range the cuts are wasn't known before either
    ways = math.prod(math.comb(len({job.facts[fact] for _, job, _ in where}) - 1, len(cuts))
                     for fact, cuts in zip(split.facts, split.cuts, strict=True) if cuts is not None)
    sizes = {cell: cells[cell].total() for cell in chosen}
    by_luck = luck(list(sizes.values()), list(counts.values()), tried * ways, len(against))
    return Ruling(split, dict(chosen), sizes, against, by_luck, ())


def _split(jobs: Sequence[PastJob], labels: Sequence[Hashable], facts: Sequence[Fact],
           numbers: Sequence[int]) -> Split | None:
    """How some facts part the jobs: listed ones by value, one range at most by the places where labels change."""
    ranges = [number for number in numbers if facts[number].kind != LISTED]
    if len(ranges) > 1:
        return None
    if not ranges:
        return Split(tuple(numbers), (None,) * len(numbers))
    cuts = _cuts(jobs, labels, ranges[0], [number for number in numbers if number != ranges[0]])
    return Split(tuple(numbers), tuple(cuts if number == ranges[0] else None for number in numbers)) if cuts else None


def _cuts(jobs: Sequence[PastJob], labels: Sequence[Hashable], fact: int,
          others: Sequence[int]) -> tuple[Cut, ...]:
    """The changes of labels along a range: a few where it decides alone, one that is the same whatever the other facts
    are where it doesn't; none if that can't be."""
    runs: dict[Cell, list[tuple[int, str]]] = {}
    for job, label in zip(jobs, labels, strict=True):
        place, rest = job.facts[fact], tuple(job.facts[other] for other in others)
        if place is not None and None not in rest:
            runs.setdefault(tuple(one for one in rest if one is not None), []).append((place, str(label)))
    if not others:
        found = tuple(_changes(sorted(runs[()]))) if runs else ()
        return found if len(found) <= _MOST_CUTS and all(below < above for below, above in found) else ()
    low, high = -1, 1 << 62
    for run in runs.values():
        for below, above in _changes(sorted(run)):
            low, high = max(low, below), min(high, above)
    if low < 0 or low >= high:
        return ()
    # neighbours that were seen, whatever their other facts
    seen = sorted({place for run in runs.values() for place, _ in run if low <= place <= high})
    return tuple([max(pairwise(seen), key=lambda pair: pair[1] - pair[0])] if len(seen) > 1 else [])


def _changes(run: Sequence[tuple[int, str]]) -> Iterator[Cut]:
    return ((one[0], other[0]) for one, other in pairwise(run) if one[1] != other[1])
