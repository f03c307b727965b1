"""Chooses what goes along on a trip: picks the form in which its best kit can be found, and says what is proven."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm, prod

from kitbuilder.kit.along import Chosen, Trip, Turn, carrying, complete, expected_cost, together, what_may_turn_out
from kitbuilder.kit.along_cases import Cases, Need
from kitbuilder.kit.along_hull import Hull, Listed, Shared
from kitbuilder.kit.along_limits import Form, least_within
from kitbuilder.kit.along_steps import Steps

#: Findings that cover each other, or add up what they take of one thing, are looked through together: so many of them,
#: with so many kits that differ. Where open questions make several cases, the findings of each are, too.
MOST_TURNS = 12
MOST_KITS = 4096
MOST_EVENTS = 16384


def choose(trip: Trip) -> Chosen:
    """The kit of least expected cost. Where a trip is too large to prove that (see MOST_TURNS), a good one with a
    bound: no kit costs less than `bound`."""
    found = _choose(trip, Steps(trip))
    return found if found.proven else _mended(trip, found)


def _choose(trip: Trip, steps: Steps) -> Chosen:
    if len(trip.cases) > 1:
        return _over_cases(trip, steps)
    form = _exact(trip.cases[0].turns, steps)
    if form is not None:
        return _chosen(trip, steps, form, form)
    turns = trip.cases[0].turns
    return _chosen(trip, steps, _lenient(turns, steps), _strict(turns, steps))


def _mended(trip: Trip, found: Chosen) -> Chosen:
    """A kit that isn't proven, made better while leaving one thing out, or taking all that one finding needs, does so:
    nobody is to be told that a thing goes along and would cost less left out."""
    amounts, cost = found.amounts, found.cost
    while True:
        tried = [{name: much for name, much in amounts.items() if name != out} for out in amounts]
        tried += [more for case in trip.cases for turn in case.turns
                  if not turn.never and (more := _with_needs(trip, amounts, turn)) is not None]
        costs = [(expected_cost(trip, one), number) for number, one in enumerate(tried) if _may_carry(trip, one)]
        least, number = min(costs, default=(cost, 0))
        if least >= cost:
            return Chosen(amounts, cost, complete(trip, amounts), min(cost, found.bound))
        amounts, cost = tried[number], least


def _with_needs(trip: Trip, amounts: dict[str, int], turn: Turn) -> dict[str, int] | None:
    """A kit with all that a finding needs besides; None where that can't be carried."""
    carried = {thing.name: [one.amount for one in thing.amounts] for thing in trip.things}
    more = dict(amounts)
    for name, much in turn.takes.items():
        enough = [one for one in carried.get(name, ()) if one >= max(much, amounts.get(name, 0))]
        if not enough:
            return None
        more[name] = enough[0]
    return more


def _may_carry(trip: Trip, amounts: dict[str, int]) -> bool:
    _, weight, value = carrying(trip, amounts)
    return (trip.most_weight is None or weight <= trip.most_weight) and (
        trip.most_value is None or value <= trip.most_value)


def _chosen(trip: Trip, steps: Steps, below: Form, above: Form) -> Chosen:
    """The better of the best kits of two forms; no kit costs less than in `below`, none more than in `above`."""
    first, cost, bound = least_within(below, steps)
    kits = [first]
    if above is not below:
        kits.append(least_within(above, steps)[0])
    found = _best(trip, [steps.amounts(kit) for kit in kits])
    if above is below and bound == cost:
        return found
    return _with_bound(found, _bound(steps, bound))


def _with_bound(found: Chosen, bound: Fraction) -> Chosen:
    return Chosen(found.amounts, found.cost, found.complete, min(found.cost, max(bound, Fraction(0))))


def _bound(steps: Steps, bound: int) -> Fraction:
    """A bound without what was added to tell equal costs apart."""
    added = sum((1 << steps.count) + (1 << number) for number in range(steps.count))
    return Fraction(bound - added, steps.unit)


def _best(trip: Trip, kits: Sequence[dict[str, int]]) -> Chosen:
    costs = [expected_cost(trip, amounts) for amounts in kits]
    least = min(range(len(kits)), key=lambda number: (costs[number], len(kits[number]), number))
    return Chosen(kits[least], costs[least], complete(trip, kits[least]), costs[least])


def _over_cases(trip: Trip, steps: Steps) -> Chosen:
    """Where open questions leave several cases: exactly if all that may turn out can be listed; else the best of the
    kits that are best for one case, for the likeliest alone and for all, with the bound that would hold if the answer
    were known before choosing."""
    cases = [(case.weight, _telling(case.turns, steps)) for case in trip.cases]
    if sum(1 << len(turns) for _, turns in cases) <= MOST_EVENTS:
        needs = [(weight * chance, mask) for weight, turns in cases for chance, mask in _events(turns, steps)]
        form = Cases(steps, needs)
        if form.size <= MOST_EVENTS * 4:
            return _chosen(trip, steps, form, form)
    kits: list[dict[str, int]] = [{}]
    bound = Fraction(0)
    for case in trip.cases:
        alone = choose(Trip(trip.things, (type(case)(Fraction(1), case.turns),), trip.stopped, trip.most_weight,
                            trip.most_value))
        bound += case.weight * alone.bound
        kits.append(alone.amounts)
    if trip.most_weight is None and trip.most_value is None:
        kits.append({thing.name: max(kit.get(thing.name, 0) for kit in kits) for thing in trip.things
                     if any(kit.get(thing.name) for kit in kits)})
    return _with_bound(_best(trip, kits), bound)


def _telling(turns: Sequence[Turn], steps: Steps) -> list[Turn]:
    """The findings that need something, or cover one that may."""
    covering = {name for turn in turns for name in turn.covered_by}
    return [turn for turn in turns if turn.name in covering or steps.need(turn) != 0]


def _events(turns: Sequence[Turn], steps: Steps) -> Iterator[Need]:
    """What may turn out: each set of findings that occur, with its chance and the steps that it needs."""
    adding = {thing.name for thing in steps.things if thing.adds}
    for chance, takes in what_may_turn_out(turns, adding):
        yield chance, None if takes is None else steps.mask(takes)


def _exact(turns: Sequence[Turn], steps: Steps) -> Form | None:
    """The form of findings that are independent, or None if some that are tangled are too many."""
    parts: list[Listed | Shared] = []
    always = Fraction(1)
    limited = steps.most_weight is not None or steps.most_value is not None
    for part in _parts(turns):
        if _plain(part, steps):
            ready, lost = _ready(part, steps)
            always *= lost
            # within limits a part that is listed is best
            kits = _listed_plain(ready) if limited and len(ready) > 1 else None
            parts += _shared(ready) if kits is None else [Listed(kits)]
        else:
            kits = _listed(part, steps)
            if kits is None:
                return None
            parts.append(Listed(kits))
    return Hull(steps, parts, always)


def _parts(turns: Sequence[Turn]) -> list[list[Turn]]:
    takers: dict[str, int] = {}
    for turn in turns:
        for name in turn.takes:
            takers[name] = takers.get(name, 0) + 1
    return together(turns, {name for name, count in takers.items() if count > 1})


def _plain(part: Sequence[Turn], steps: Steps) -> bool:
    """Whether none covers another, and what several take doesn't add up."""
    names = {turn.name for turn in part}
    adding = {thing.name for thing in steps.things if thing.adds}
    taken = [name for turn in part for name in turn.takes if name in adding]
    return len(taken) == len(set(taken)) and not any(names.intersection(turn.covered_by) for turn in part)


def _ready(turns: Sequence[Turn], steps: Steps) -> tuple[list[tuple[int, Fraction]], Fraction]:
    """Findings that a kit can be enough for, by what they need; and the chance that none of the others occurs."""
    found, lost = [], Fraction(1)
    for turn in turns:
        need = steps.need(turn)
        if need is None:
            lost *= 1 - turn.chance
        elif need:
            found.append((need, turn.chance))
    return found, lost


def _shared(ready: Sequence[tuple[int, Fraction]]) -> list[Listed | Shared]:
    if len(ready) == 1:
        ((need, chance),) = ready
        return [Listed([(0, 1 - chance), (need, Fraction(1))])]
    return [Shared(ready)] if ready else []


def _listed(part: Sequence[Turn], steps: Steps) -> list[tuple[int, Fraction]] | None:
    """All kits that are just enough for some of what may turn out together, with the chance that they are enough."""
    if len(part) > MOST_TURNS:
        return None
    events: dict[int, Fraction] = {}
    for chance, mask in _events(part, steps):
        if mask is not None:
            events[mask] = events.get(mask, Fraction(0)) + chance
    kits = _unions(list(events))
    if kits is None or len(kits) * len(events) > MOST_KITS * 1000:
        return None
    under = lcm(*(chance.denominator for chance in events.values()))
    overs = [(mask, int(chance * under)) for mask, chance in events.items()]
    return [(kit, Fraction(sum(over for mask, over in overs if not mask & ~kit), under)) for kit in kits]


def _listed_plain(ready: Sequence[tuple[int, Fraction]]) -> list[tuple[int, Fraction]] | None:
    """The same for findings none of which covers another, and whose amounts don't add up."""
    kits = _unions([need for need, _ in ready])
    if kits is None:
        return None
    under = prod(chance.denominator for _, chance in ready)
    return [
        (kit, Fraction(prod(chance.denominator - chance.numerator if need & ~kit else chance.denominator
                            for need, chance in ready), under)) for kit in kits]


def _unions(masks: Sequence[int]) -> list[int] | None:
    """All unions of some masks; None if they are too many."""
    kits = {0}
    for mask in masks:
        kits |= {kit | mask for kit in kits}
        if len(kits) > MOST_KITS:
            return None
    return sorted(kits)


def _lenient(turns: Sequence[Turn], steps: Steps) -> Hull:
    """A form in which no kit costs more than it does: what several take doesn't add up, and what others cover never
    turns out."""
    names = {turn.name for turn in turns}
    ready, lost = _ready([turn for turn in turns if not names.intersection(turn.covered_by)], steps)
    return Hull(steps, _shared(ready), lost)


def _strict(turns: Sequence[Turn], steps: Steps) -> Hull:
    """A form in which no kit costs less than it does: each finding needs all that all of its things may ever be taken
    of, and none covers another."""
    adding = {thing.name for thing in steps.things if thing.adds}
    every: dict[str, int] = {}
    for turn in turns:
        for name, amount in turn.takes.items():
            if name in adding:
                every[name] = every.get(name, 0) + amount
    strict = [
        Turn(turn.name, turn.chance, {name: every.get(name, amount) for name, amount in turn.takes.items()},
             never=turn.never) for turn in turns]
    ready, lost = _ready(strict, steps)
    return Hull(steps, _shared(ready), lost)
