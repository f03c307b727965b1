"""Whole-number models, minimised level by level, each level proven before the next begins.

A level is first solved in fractions. Where that is a whole answer, or as good as one that is known, its duals prove it
in whole numbers, and say what all best answers have in common: the next level is solved among those. Only where it
isn't, a search is made (branch and bound).
"""

from collections.abc import Sequence
from functools import reduce
from math import ceil, gcd, inf
from typing import Final, NamedTuple

from kitbuilder.stock.solver import NoAnswerError, Relaxation, Relaxed, search
from kitbuilder.stock.whole import Bound, Model, Terms, bound_of, narrow, value

#: Levels searched together must stay below this, so that floating point holds their whole numbers apart.
_TOGETHER: Final = 1_000_000
#: A level that is searched must stay below this: beyond, the search couldn't be sure of a whole number.
_LARGEST: Final = 1_000_000_000_000


class Found(NamedTuple):
    """The best answer that was found, None if none was, and whether it is proven. If it isn't: the first level (its
    place in what was asked) that isn't, and what that can't be less than."""

    answer: list[int] | None
    proven: bool
    level: int = 0
    least: int = 0


class _Level(NamedTuple):
    place: int
    divisor: int
    terms: Terms


def minimise(model: Model, levels: Sequence[Terms], start: Sequence[int] | None, deadline: float,
             known: Sequence[int] = ()) -> Found:
    """The answer that makes the levels as small as can be, one after the other.

    It isn't proven if the deadline (of `time.monotonic`) comes before, or the numbers are too large to be sure: then
    it is the best that was found. Raises NoAnswerError if none fits.

    The multiples in `levels` are not negative. `known`: no answer has levels that are less than these, compared one
    after the other; one that meets them needs no search. `start` is an answer to begin with, checked before use. The
    bounds of the model are narrowed to what is proven.
    """
    return _Descent(model, start, deadline, list(known)).run([
        _divided(place, level) for place, level in enumerate(levels) if any(level.values())])


def _divided(place: int, level: Terms) -> _Level:
    divisor = reduce(gcd, level.values(), 0)
    return _Level(place, divisor, {variable: times // divisor for variable, times in level.items() if times})


def span(model: Model, level: Terms) -> int:
    """By how much a level can differ, as far as the bounds say."""
    return sum(times * (model.upper[variable] - model.lower[variable]) for variable, times in level.items())


class _Descent:
    def __init__(self, model: Model, start: Sequence[int] | None, deadline: float, known: list[int]) -> None:
        self.model, self.deadline, self.known = model, deadline, known
        self.answer = list(start) if start is not None and model.holds(start) else None
        self.relaxation = Relaxation(model)

    def run(self, waiting: list[_Level]) -> Found:
        try:
            while waiting:
                least = self._next(waiting)
                if least is not None:
                    return self._unproven(waiting[0], least)
            if self.answer is None and self.model.lower:
                self.answer, _ = search(self.model, {}, self.deadline)
        except NoAnswerError:
            if self.answer is None:
                raise
            return self._unproven(waiting[0], 0)  # this one fits: the solver's tolerance is at fault
        answer = [] if self.answer is None and not self.model.lower else self.answer
        return Found(answer, answer is not None and self.model.holds(answer))

    def _unproven(self, level: _Level, least: int) -> Found:
        return Found(self.answer, False, level.place, max(0, least) * level.divisor)

    def _next(self, waiting: list[_Level]) -> int | None:
        """Prove the first levels that wait, and take them away; or what the first can't be less than."""
        terms = waiting[0].terms
        least = value(terms, self.model.lower)
        if span(self.model, terms) == 0:
            self._pass(waiting.pop(0))
            return None
        if self.answer is not None and value(terms, self.answer) == least:
            for variable in terms:
                self.model.upper[variable] = self.model.lower[variable]
            self._pass(waiting.pop(0))  # nothing smaller is within the bounds
            return None
        relaxed = self.relaxation.solve(terms, self.deadline)
        if relaxed is None:
            return least
        bound = bound_of(self.model, terms, relaxed.duals)
        enough = max(bound.least, self._at_least(waiting[0]))
        self._consider(relaxed, terms)
        # with what is ordered as in the best answer, and then with its choices only
        for kept in (self.model.choices + self.model.bought, self.model.choices):
            if self.answer is not None and value(terms, self.answer) > enough:
                self._improve(terms, kept)
        if self.answer is not None and value(terms, self.answer) <= enough:
            self._pass(waiting[0])
            self._keep(waiting.pop(0).terms, bound)
            return None
        return self._search(waiting, bound)

    def _improve(self, terms: Terms, kept: Sequence[int]) -> None:
        """Look for a better answer that has these variables as the best one has them."""
        assert self.answer is not None
        try:
            better = self.relaxation.solve(terms, self.deadline, {one: self.answer[one] for one in kept})
        except NoAnswerError:
            return  # the best one fits: the solver's tolerance is at fault
        if better is not None:
            self._consider(better, terms)

    def _consider(self, relaxed: Relaxed, terms: Terms) -> None:
        found = relaxed.answer
        if found is not None and (self.answer is None or value(terms, found) < value(terms, self.answer)):
            self.answer = found

    def _at_least(self, level: _Level) -> int:
        """What is known of a level, as long as all before it are just as is known."""
        return -(-self.known[level.place] // level.divisor) if self.known else 0

    def _pass(self, level: _Level) -> None:
        """A level is proven: where it is more than is known of it, nothing is known of those after it."""
        answer = self.answer or self.model.lower  # without an answer only a level that can't differ is
        if self.known and value(level.terms, answer) * level.divisor > self.known[level.place]:
            self.known = []

    def _keep(self, terms: Terms, bound: Bound | None) -> None:
        """From here on only answers as good as the best one are looked at."""
        assert self.answer is not None
        best = value(terms, self.answer)
        if bound is None or not narrow(self.model, best, bound):
            self.model.row(None, best, terms, 1)

    def _search(self, waiting: list[_Level], bound: Bound) -> int | None:
        if span(self.model, waiting[0].terms) > _LARGEST:
            return bound.least
        joined, weights = _together(self.model, waiting)
        try:
            found, least = search(self.model, joined, self.deadline)
        except NoAnswerError:
            if self.answer is None:
                raise
            found, least = None, -inf  # the best one fits: the solver's tolerance is at fault
        if found is not None and (self.answer is None or value(joined, found) <= value(joined, self.answer)):
            self.answer = found
        # whole numbers, so nothing lies between the best and one less: half is more than any rounding leaves
        if self.answer is None or least <= value(joined, self.answer) - 0.5:
            known = -1 if least == -inf else ceil(least - 0.5) // weights[0]
            return max(bound.least, known)
        self._pass(waiting[0])
        self._keep(waiting[0].terms, bound)
        for level in waiting[1:len(weights)]:
            self._pass(level)
            self._keep(level.terms, None)
        del waiting[:len(weights)]
        return None


def _together(model: Model, waiting: Sequence[_Level]) -> tuple[Terms, list[int]]:
    """The first levels as one, each weighted above all that follow it, and the weights: as many as stay small."""
    count, room = 1, span(model, waiting[0].terms) + 1
    while count < len(waiting) and room * (span(model, waiting[count].terms) + 1) <= _TOGETHER:
        room *= span(model, waiting[count].terms) + 1
        count += 1
    joined: Terms = {}
    weights: list[int] = []
    weight = 1
    for level in reversed(waiting[:count]):
        weights.insert(0, weight)
        for variable, times in level.terms.items():
            joined[variable] = joined.get(variable, 0) + times * weight
        weight *= span(model, level.terms) + 1
    return joined, weights
