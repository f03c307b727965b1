"""Which things that may be wanted go along to a job far from the shelf: the choice whose expected cost is least.

Whoever goes out carries what is sure to be needed, and chooses from what findings may bring. Carrying costs; a job
that lacks a thing which turns out to be needed is stopped, and costs a second trip. Expected cost:

    what carrying the chosen things costs + stopped * (1 - chance that all that turns out is aboard)

the job completion criterion (Smith, Chambers and Shlifer 1980; Mamer and Smith 1982; Graves 1982). The chance is no
sum over things, so a rule that looks at one thing at a time is wrong, and so is adding the best one by one. Every
number here is exact; what is chosen is proven to cost least, or comes with a bound below which nothing lies.
"""

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import prod

import msgspec


class Amount(msgspec.Struct, frozen=True):
    """So much of a thing along: what carrying it costs, weighs and is worth, all of it together."""

    amount: int
    cost: Fraction
    weight: Fraction = Fraction(0)
    value: Fraction = Fraction(0)


class Thing(msgspec.Struct, frozen=True):
    """Something that may go along, in one of some amounts, the least first; more never costs less.

    `adds`: findings that occur together take the sum of their amounts; otherwise (a tool, which is used and comes
    back) the greatest of them will do.
    """

    name: str
    amounts: tuple[Amount, ...]
    adds: bool = True


class Turn(msgspec.Struct, frozen=True):
    """A finding: its chance, what it takes of which things, the findings that take its place if they occur too.

    `never`: it needs what can't be carried, so a job in which it counts is stopped.
    """

    name: str
    chance: Fraction
    takes: dict[str, int]
    covered_by: tuple[str, ...] = ()
    never: bool = False


class Case(msgspec.Struct, frozen=True):
    """What may turn out in some of the worlds that are open, with their weight (all weights add up to one)."""

    weight: Fraction
    turns: tuple[Turn, ...]


class Trip(msgspec.Struct, frozen=True):
    """One job away from the shelf. `stopped`: what a stopped job costs; limits of what the van may carry, if any."""

    things: tuple[Thing, ...]
    cases: tuple[Case, ...]
    stopped: Fraction
    most_weight: Fraction | None = None
    most_value: Fraction | None = None


class Chosen(msgspec.Struct, frozen=True):
    """What goes along: amounts by thing; its expected cost, and the chance that the job is completed with it.

    No choice costs less than `bound`; `proven`: none costs less than this one. Of several that cost the same it is
    one with the fewest things and amounts, then one with those that are named first.
    """

    amounts: dict[str, int]
    cost: Fraction
    complete: Fraction
    bound: Fraction

    @property
    def proven(self) -> bool:
        """Whether nothing costs less."""
        return self.bound == self.cost


def carrying(trip: Trip, amounts: Mapping[str, int]) -> tuple[Fraction, Fraction, Fraction]:
    """What carrying some amounts costs, weighs and is worth. Of a thing the next greater amount there is counts."""
    steps = [
        next(one for one in thing.amounts if one.amount >= amounts[thing.name])
        for thing in trip.things if amounts.get(thing.name)]
    return (sum((one.cost for one in steps), Fraction(0)), sum((one.weight for one in steps), Fraction(0)),
            sum((one.value for one in steps), Fraction(0)))


def complete(trip: Trip, amounts: Mapping[str, int]) -> Fraction:
    """The chance that a job is completed with some amounts aboard."""
    adding = {thing.name for thing in trip.things if thing.adds}
    return sum((case.weight * _complete(case.turns, amounts, adding) for case in trip.cases), Fraction(0))


def expected_cost(trip: Trip, amounts: Mapping[str, int]) -> Fraction:
    """What a trip with some amounts is expected to cost."""
    return carrying(trip, amounts)[0] + trip.stopped * (1 - complete(trip, amounts))


def together(turns: Sequence[Turn], shared: set[str]) -> list[list[Turn]]:
    """Turns parted into those that have to do with each other: one covers another, or both take of a thing in
    `shared`. Those that come first in each part, and parts, are those that come first in `turns`."""
    names = {turn.name for turn in turns}
    parts: list[tuple[set[str], list[Turn]]] = []
    for turn in turns:
        ties = {f"turn {turn.name}"} | {f"turn {name}" for name in turn.covered_by if name in names}
        ties |= {f"thing {name}" for name in turn.takes if name in shared}
        of_it = [turn]
        apart = []
        for tied, others in parts:
            if tied & ties:
                ties |= tied
                of_it = [*others, *of_it]
            else:
                apart.append((tied, others))
        parts = [*apart, (ties, of_it)]
    place = {turn.name: number for number, turn in enumerate(turns)}
    found = [sorted(of_it, key=lambda one: place[one.name]) for _, of_it in parts]
    return sorted(found, key=lambda of_it: place[of_it[0].name])


def what_may_turn_out(turns: Sequence[Turn], adding: set[str]) -> Iterator[tuple[Fraction, dict[str, int] | None]]:
    """Each set of findings that may occur: its chance, and what it takes of which things; None if it can't be carried.
    Of things in `adding` amounts add up, of others the greatest counts."""
    overs = [1]
    for turn in turns:
        yes, under = turn.chance.as_integer_ratio()
        overs = [over * (under - yes) for over in overs] + [over * yes for over in overs]
    under = prod(turn.chance.denominator for turn in turns)
    for number, over in enumerate(overs):
        if not over:
            continue
        occur = [turn for place, turn in enumerate(turns) if number >> place & 1]
        names = {turn.name for turn in occur}
        counting = [turn for turn in occur if not names.intersection(turn.covered_by)]
        takes: dict[str, int] = {}
        for turn in counting:
            for name, amount in turn.takes.items():
                before = takes.get(name, 0)
                takes[name] = before + amount if name in adding else max(before, amount)
        yield Fraction(over, under), None if any(turn.never for turn in counting) else takes


def _complete(turns: Sequence[Turn], amounts: Mapping[str, int], adding: set[str]) -> Fraction:
    chance = Fraction(1)
    for part in together(turns, adding):
        chance *= _complete_part(part, amounts, adding)
    return chance


def _complete_part(turns: Sequence[Turn], amounts: Mapping[str, int], adding: set[str]) -> Fraction:
    """Turn after turn, those that cover others before these; what is left of a thing is what the rest may take."""
    covering = {name for turn in turns for name in turn.covered_by}
    # whatever covers a finding's cover covers the finding too, so it has fewer that cover it
    order = sorted(turns, key=lambda turn: len(turn.covered_by))
    known: dict[tuple[int, tuple[int, ...], frozenset[str]], Fraction] = {}
    things = sorted({name for turn in turns for name in turn.takes if name in adding})
    place = {name: number for number, name in enumerate(things)}

    def after(number: int, left: tuple[int, ...], occurred: frozenset[str]) -> Fraction:
        if number == len(order):
            return Fraction(1)
        key = (number, left, occurred)
        if key not in known:
            turn = order[number]
            no = after(number + 1, left, occurred)
            yes = no
            if not occurred.intersection(turn.covered_by):
                yes = Fraction(0)
                rest = list(left)
                fits = not turn.never
                for name, takes in turn.takes.items():
                    if name in place:
                        rest[place[name]] -= takes
                        fits = fits and rest[place[name]] >= 0
                    else:
                        fits = fits and amounts.get(name, 0) >= takes
                if fits:
                    yes = after(number + 1, tuple(rest), occurred | ({turn.name} & covering))
            known[key] = (1 - turn.chance) * no + turn.chance * yes
        return known[key]

    return after(0, tuple(amounts.get(name, 0) for name in things), frozenset())
