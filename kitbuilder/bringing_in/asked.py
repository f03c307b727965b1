"""Gathers what a draft can't tell from past jobs, and puts it into questions."""

from collections import Counter
from collections.abc import Mapping, Sequence

from kitbuilder import amount
from kitbuilder.bringing_in.past import PastJob
from kitbuilder.bringing_in.rules import Cell, Ruling, Split
from kitbuilder.model.bringing_in import DraftedRole
from kitbuilder.model.catalogue import Item
from kitbuilder.vehicle.facts import LISTED, Fact

#: With fewer jobs than this of a kind of vehicle, what they used may be how it happened to be.
_FEW = 5
#: So many kinds of vehicles are named in one question.
_TOLD = 6
#: With fewer jobs in all than this, hardly anything can be told.
_FEW_IN_ALL = 10
#: A rule that luck would give more often than this isn't worth a question.
_WORTH_ASKING = 0.2


class Asked:
    """The questions so far."""

    def __init__(self, jobs: Sequence[PastJob], facts: Sequence[Fact]) -> None:
        self._jobs, self._facts = jobs, facts
        self._found: list[str] = []
        #: By the facts of a rule: what it decides, and its cells with few jobs.
        self._few: dict[tuple[int, ...], tuple[list[str], dict[str, int]]] = {}
        self._rivals: dict[tuple[str, str], list[str]] = {}
        self._by: dict[int, list[str]] = {}

    def forgotten(self, title: str, item: Item, without: Sequence[PastJob], jobs: int) -> None:
        """Nearly every job used an item."""
        self._found.append(f"{title}: {jobs - len(without)} of {jobs} jobs used {item.number}; not {_names(without)}. "
                           "Forgotten there, or not needed?")

    def amounts(self, title: str, item: Item, amounts: Mapping[int, int], taken: int) -> None:
        """Jobs used different amounts of an item."""
        told = ", ".join(f"{amount.show(milli)} ({times} times)" for milli, times in sorted(amounts.items())[:6])
        self._found.append(f"{title}: the amounts of {item.number} differ, in {item.unit}: {told}. "
                           f"{amount.show(taken)} goes along; is that right?")

    def finding(self, item: Item, used: int, jobs: int, least: float, most: float) -> None:
        """Some jobs used an item, and no fact says which."""
        self._found.append(f"{item.number} ({item.name}): {used} of {jobs} jobs used it (chance {least:.0%} to "
                           f"{most:.0%}), and no fact says which. On what finding does it hang?")

    def doubted(self, title: str, ruling: Ruling) -> None:
        """A rule fits, and may be luck."""
        if ruling.by_luck > _WORTH_ASKING:
            return
        self._found.append(f"{title}: the records fit {self._facts_of(ruling.split)}, but so few jobs fit something by "
                           f"luck (chance {ruling.by_luck:.2g}). Does it hang on that?")

    def decided(self, title: str, ruling: Ruling) -> None:
        """Facts decide what is used."""
        if ruling.against:
            names = ", ".join(ruling.against)
            self._found.append(f"{title}: {self._facts_of(ruling.split)} decides it but for the jobs {names}. Booked "
                               "wrongly, or does something else count?")
        mine = set(ruling.split.facts)
        rivals = [self._facts_of(one) for one in ruling.rivals if not mine <= set(one.facts)][:3]
        if rivals:
            self._rivals.setdefault((self._facts_of(ruling.split), " or ".join(rivals)), []).append(title)
        few = {self._cell(ruling.split, cell): size for cell, size in ruling.sizes.items() if size < _FEW}
        if few:
            titles, cells = self._few.setdefault(ruling.split.facts, ([], {}))
            titles.append(title)
            cells.update(few)
        self._note(title, ruling.split)

    def region(self, title: str, split: Split, labels: Mapping[Cell, object]) -> None:
        """With some values an item was never used."""
        never = " or ".join(self._cell(split, cell) for cell, used in labels.items() if not used)
        self._found.append(f"{title}: never used with {never}. Can it be needed there?")
        self._note(title, split)

    def _note(self, title: str, split: Split) -> None:
        for number, cuts in zip(split.facts, split.cuts, strict=True):
            self._by.setdefault(number, []).append(title)
            fact = self._facts[number]
            for below, above in cuts or ():
                if above - below > 1:
                    self._found.append(f"{title}: it changes with {fact.name} between {fact.value(below)} and "
                                       f"{fact.value(above)}; no job tells where.")

    def questions(self, roles: Sequence[DraftedRole]) -> tuple[str, ...]:
        """All questions, what concerns most first."""
        first = []
        if len(self._jobs) < _FEW_IN_ALL:
            only = "is only 1 past job" if len(self._jobs) == 1 else f"are only {len(self._jobs)} past jobs"
            first.append(f"There {only}: what other vehicles need can't be told from so few.")
        if roles:
            sorts = Counter(role.sort for role in roles)
            told = ", ".join(f"{number} {sort}" for sort, number in sorted(sorts.items()))
            first.append(f"What sort is each role? Guessed by name and unit: {told}.")
            first.append("At which stage is each role needed, and how many minutes has each stage? The draft has one "
                         "stage.")
        for number, titles in sorted(self._by.items()):
            fact = self._facts[number]
            unknown = sum(job.facts[number] is None for job in self._jobs)
            if unknown:
                first.append(f"{fact.name} isn't known of {unknown} of {len(self._jobs)} jobs, and decides "
                             f"{_some(titles)}.")
            if fact.kind == LISTED:
                seen = {job.facts[number] for job in self._jobs}
                never = [value for place, value in enumerate(fact.values) if place not in seen]
                if never:
                    first.append(f"No job with {fact.name} {' or '.join(never)}: what is needed there of "
                                 f"{_some(titles)}?")
        for _, (few, cells) in sorted(self._few.items()):
            kinds = [f"{words} ({size})" for words, size in sorted(cells.items())]
            more = f" and {len(kinds) - _TOLD} more" if len(kinds) > _TOLD else ""
            first.append(f"Few jobs tell of {_some(few)} with {', '.join(kinds[:_TOLD])}{more}: is it so there?")
        for (mine, others), places in self._rivals.items():
            first.append(f"{mine} {'decide' if ' and ' in mine else 'decides'} {_some(places)} in the draft; {others} "
                         "would do as well for every job there was. Which is it?")
        return tuple(dict.fromkeys((*first, *self._found)))

    def _facts_of(self, split: Split) -> str:
        return " and ".join(self._facts[number].name for number in split.facts)

    def _cell(self, split: Split, cell: Cell) -> str:
        return " and ".join(
            f"{self._facts[number].name} {split.value(at, place, self._facts[number])}"
            for at, (number, place) in enumerate(zip(split.facts, cell, strict=True)))


def _names(jobs: Sequence[PastJob]) -> str:
    return ", ".join(job.name for job in jobs[:8]) + (" …" if len(jobs) > 8 else "")


def _some(titles: Sequence[str]) -> str:
    alone = list(dict.fromkeys(titles))
    return ", ".join(alone[:4]) + (f" and {len(alone) - 4} more" if len(alone) > 4 else "")
