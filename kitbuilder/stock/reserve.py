"""How much of each thing to set aside for what findings may bring over a day: a reserve that its bookings share.

Whether something is wanted shows when a job is open. What is set aside is at hand then; what else lies on the shelf
is fetched; what must come from outside keeps the bay waiting. Things that one finding needs together are there
together or are waited for: a job that is stopped uses nothing. Expected cost of a reserve:

    what setting it aside costs + what each booking's waiting costs, by its chance

The demand on an item is a sum of independent chances that differ (a Poisson binomial distribution), worked through
booking by booking in the order in which their findings show; exact, in fractions. Every reserve that could cost less
than the best is looked at, so the best is proven.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations
from math import prod

import msgspec

#: So many reserves of things that are wanted together are looked at; beyond, only those that hold whole findings.
MOST_RESERVES = 3000
#: So many draws share a reserve; more are parted, and the parts' reserves are added up.
MOST_DRAWS = 60
_MOST_AMOUNTS = 64


class Outcome(msgspec.Struct, frozen=True):
    """What may turn out in a booking, with its chance: it takes so much of some things, all of them or none."""

    chance: Fraction
    takes: dict[str, int]


class Draw(msgspec.Struct, frozen=True):
    """One of some outcomes of a booking, or none of them. `fetch`: what it costs to fetch from the shelf what isn't set
    aside; `waits`: of each thing, what it costs to wait until it comes from outside. Several things are waited for at
    once, so the dearest counts."""

    booking: int
    outcomes: tuple[Outcome, ...]
    fetch: Fraction
    waits: dict[str, Fraction]


class Reserve(msgspec.Struct, frozen=True):
    """So much of a thing to set aside. `most`: what all bookings together may want of it. `cost`: the expected cost of
    the things that are wanted together with it, `left_out`: by how much that rises if none of this one is set aside.
    `proven`: no other amounts cost less."""

    thing: str
    amount: int
    most: int
    bookings: tuple[int, ...]
    cost: Fraction
    left_out: Fraction
    proven: bool


def reserves(draws: Sequence[Draw], shelf: Mapping[str, int], setting_aside: Mapping[str, Fraction],
             limit: Mapping[str, int] | None = None) -> list[Reserve]:
    """The reserves that cost least, by thing. `draws` in the order in which they show; `shelf`: what lies there of
    each thing; `setting_aside`: of each thing what that costs for as much as its smallest outcome takes. No more than
    `limit` of a thing is set aside, if that is given."""
    found: list[Reserve] = []
    for part in _together(draws):
        chunks = [part[start:start + MOST_DRAWS] for start in range(0, len(part), MOST_DRAWS)]
        left = dict(shelf)
        capped = None if limit is None else dict(limit)
        done: dict[str, Reserve] = {}
        for chunk in chunks:
            # all of a chunk see the shelf as it was before it
            for one in list(_Part(chunk, left, setting_aside, capped).best()):
                before = done.get(one.thing)
                left[one.thing] = max(0, left.get(one.thing, 0) - one.amount)
                if capped is not None:
                    capped[one.thing] = max(0, capped.get(one.thing, 0) - one.amount)
                done[one.thing] = one if before is None else Reserve(
                    one.thing, before.amount + one.amount, before.most + one.most, before.bookings + one.bookings,
                    before.cost + one.cost, before.left_out + one.left_out, False)
        found += done.values()
    return sorted(found, key=lambda one: one.thing)


def expected_cost(draws: Sequence[Draw], shelf: Mapping[str, int], setting_aside: Mapping[str, Fraction],
                  amounts: Mapping[str, int]) -> Fraction:
    """What it costs to set some amounts aside, waiting included."""
    return _Part(list(draws), shelf, setting_aside, None).cost(amounts)


def _together(draws: Sequence[Draw]) -> list[list[Draw]]:
    """Draws parted into those that have to do with each other through the things that they take."""
    parts: list[tuple[set[str], list[int]]] = []
    for number, draw in enumerate(draws):
        things = {name for outcome in draw.outcomes for name in outcome.takes}
        mine, apart = [number], []
        for others, numbers in parts:
            if others & things:
                things |= others
                mine = numbers + mine
            else:
                apart.append((others, numbers))
        if things:
            parts = [*apart, (things, mine)]
    return [[draws[number] for number in sorted(numbers)] for _, numbers in sorted(parts, key=lambda one: min(one[1]))]


class _Part:
    def __init__(self, draws: Sequence[Draw], shelf: Mapping[str, int], setting_aside: Mapping[str, Fraction],
                 limit: Mapping[str, int] | None) -> None:
        self._draws, self._shelf, self._setting_aside, self._limit = draws, shelf, setting_aside, limit
        self._coarse = False
        takes = [outcome.takes for draw in draws for outcome in draw.outcomes]
        self._things = sorted({name for one in takes for name in one})
        self._least = {name: min(one[name] for one in takes if one.get(name)) for name in self._things}
        self._most = {
            name: sum(max((outcome.takes.get(name, 0) for outcome in draw.outcomes), default=0) for draw in draws)
            for name in self._things}

    def best(self) -> Iterator[Reserve]:
        """The reserves of this part that cost least; of several the smallest."""
        amounts = {name: self._amounts(name) for name in self._things}
        all_of_them = prod(len(of) for of in amounts.values()) <= MOST_RESERVES
        tried = self._every(amounts) if all_of_them else self._whole(amounts)
        best: tuple[Fraction, list[int]] | None = None
        for reserve in sorted(tried, key=lambda one: (self._held(one), list(one.values()))):
            if best is not None and self._held(reserve) >= best[0]:
                break  # waiting costs no less than nothing
            cost = self.cost(reserve)
            if best is None or cost < best[0]:
                best = cost, list(reserve.values())
        assert best is not None
        chosen = dict(zip(self._things, best[1], strict=True))
        for name in self._things:
            bookings = tuple(dict.fromkeys(
                draw.booking for draw in self._draws if any(name in one.takes for one in draw.outcomes)))
            yield Reserve(name, chosen[name], self._most[name], bookings, best[0],
                          self.cost({**chosen, name: 0}) - best[0], all_of_them and not self._coarse)

    def cost(self, amounts: Mapping[str, int]) -> Fraction:
        """The expected cost of a reserve, what is used of each thing being followed from draw to draw."""
        waiting = Fraction(0)
        start = (0,) * len(self._things)
        used: dict[tuple[int, ...], Fraction] = {start: Fraction(1)}
        aside = [amounts.get(name, 0) for name in self._things]
        there = [max(one, self._shelf.get(name, 0)) for one, name in zip(aside, self._things, strict=True)]
        for draw in self._draws:
            after: dict[tuple[int, ...], Fraction] = {}
            nothing = 1 - sum((outcome.chance for outcome in draw.outcomes), Fraction(0))
            for state, weight in used.items():
                if nothing:
                    after[state] = after.get(state, Fraction(0)) + weight * nothing
                for outcome in draw.outcomes:
                    wanted = tuple(
                        taken + outcome.takes.get(name, 0) for taken, name in zip(state, self._things, strict=True))
                    taking = [place for place, name in enumerate(self._things) if outcome.takes.get(name)]
                    part = weight * outcome.chance
                    lacking = [place for place in taking if wanted[place] > there[place]]
                    if lacking:
                        waiting += part * max(draw.waits[self._things[place]] for place in lacking)
                    elif any(wanted[place] > aside[place] for place in taking):
                        waiting += part * draw.fetch
                    state_after = state if lacking else wanted
                    after[state_after] = after.get(state_after, Fraction(0)) + part
            used = after
        return self._held(amounts) + waiting

    def _held(self, amounts: Mapping[str, int]) -> Fraction:
        return sum((self._setting_aside[name] * -(-amounts.get(name, 0) // self._least[name])
                    for name in self._things), Fraction(0))

    def _amounts(self, name: str) -> list[int]:
        """What the bookings may want of a thing in all, from nothing up."""
        sums = {0}
        for draw in self._draws:
            sums |= {one + outcome.takes.get(name, 0) for one in sums for outcome in draw.outcomes}
            if len(sums) > _MOST_AMOUNTS:
                self._coarse = True
                sums = {0, *sorted(sums)[1::2], max(sums)}
        most = self._most[name] if self._limit is None else self._limit.get(name, 0)
        return sorted(one for one in sums if one <= most)

    def _every(self, amounts: Mapping[str, list[int]]) -> Iterator[dict[str, int]]:
        found: list[dict[str, int]] = [{}]
        for name in self._things:
            found = [{**one, name: much} for one in found for much in amounts[name]]
        yield from found

    def _whole(self, amounts: Mapping[str, list[int]]) -> Iterator[dict[str, int]]:
        """Reserves for the likeliest outcomes, whole, and for pairs of things alone."""
        ranked = sorted((outcome for draw in self._draws for outcome in draw.outcomes),
                        key=lambda one: (-one.chance, sorted(one.takes)))
        reserve = dict.fromkeys(self._things, 0)
        yield dict(reserve)
        for outcome in ranked:
            for name, much in outcome.takes.items():
                reserve[name] = min(reserve[name] + much, amounts[name][-1])
            yield dict(reserve)
        for pair in combinations(self._things, 2):
            yield {name: amounts[name][min(1, len(amounts[name]) - 1)] if name in pair else 0 for name in self._things}
