"""The choice of what goes along, against looking at every kit and at everything that may turn out."""

from fractions import Fraction as F
from itertools import combinations, product
from random import Random

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.kit import along_choice, along_limits, along_sweep
from kitbuilder.kit.along import Amount, Case, Thing, Trip, Turn, complete, expected_cost
from kitbuilder.kit.along_choice import choose
from kitbuilder.kit.cuts import worth_having


def stopped_by(turns, kit, adding):
    """The chance that a job is stopped: over every set of findings that may occur."""
    total = F(0)
    for occurs in product((False, True), repeat=len(turns)):
        chance = F(1)
        for turn, so in zip(turns, occurs, strict=True):
            chance *= turn.chance if so else 1 - turn.chance
        there = {turn.name for turn, so in zip(turns, occurs, strict=True) if so}
        counting = [turn for turn in turns if turn.name in there and not there & set(turn.covered_by)]
        enough = not any(turn.never for turn in counting)
        for name in {name for turn in counting for name in turn.takes}:
            amounts = [turn.takes.get(name, 0) for turn in counting]
            enough = enough and kit.get(name, 0) >= (sum(amounts) if name in adding else max(amounts))
        total += 0 if enough else chance
    return total


def every_kit(trip):
    """Each kit within the limits: its expected cost, how many amounts it holds, those that are named later last."""
    adding = {thing.name for thing in trip.things if thing.adds}
    for levels in product(*(range(len(thing.amounts) + 1) for thing in trip.things)):
        there = [thing.amounts[level - 1] for thing, level in zip(trip.things, levels, strict=True) if level]
        if trip.most_weight is not None and sum(one.weight for one in there) > trip.most_weight:
            continue
        if trip.most_value is not None and sum(one.value for one in there) > trip.most_value:
            continue
        kit = {thing.name: thing.amounts[level - 1].amount
               for thing, level in zip(trip.things, levels, strict=True) if level}
        risk = sum(case.weight * stopped_by(case.turns, kit, adding) for case in trip.cases)
        held = [place < level for thing, level in zip(trip.things, levels, strict=True)
                for place in range(len(thing.amounts))]
        yield sum(one.cost for one in there) + trip.stopped * risk, sum(levels), held[::-1], kit


@st.composite
def trips(draw, limits=False, cases=False):
    names = [f"t{number}" for number in range(draw(st.integers(1, 4)))]
    turns = []
    for number in range(draw(st.integers(1, 4))):
        covered = set()
        for other in turns:
            if draw(st.integers(0, 5)) == 0:
                covered |= {other.name, *other.covered_by}
        takes = draw(st.dictionaries(st.sampled_from(names), st.integers(1, 2), max_size=2))
        turns.append(Turn(f"f{number}", F(draw(st.integers(1, 20)), 20), takes, tuple(sorted(covered)),
                          draw(st.integers(0, 12)) == 0))
    things = []
    for number, name in enumerate(names):
        adds = draw(st.booleans())
        taken = [turn.takes[name] for turn in turns if name in turn.takes]
        sums = {sum(some) for size in range(1, len(taken) + 1) for some in combinations(taken, size)}
        handling, each = draw(st.integers(0, 6)), F(draw(st.integers(0, 30)), 10)
        things.append(Thing(name, tuple(
            Amount(one, handling + each * one, F(one * (1 + number % 3)), F(one * (1 + number % 2)))
            for one in sorted(sums if adds else set(taken))), adds))
    several = (Case(F(1), tuple(turns)),)
    if cases:
        several = (Case(F(1, 3), tuple(turns[::2])), Case(F(2, 3), tuple(turns[1:])))
    most = st.none() | st.integers(0, 8).map(F)
    return Trip(tuple(things), several, F(draw(st.integers(1, 60))), draw(most) if limits else None,
                draw(most) if limits else None)


def judge(trip):
    cost, _, _, kit = min(every_kit(trip), key=lambda one: one[:3])
    found = choose(trip)
    note(f"{trip}\n{found}\n{kit}")
    assert (found.cost, found.bound, found.amounts) == (cost, cost, kit)
    assert found.proven
    assert found.cost == expected_cost(trip, kit)


FREELY = settings(suppress_health_check=list(HealthCheck), deadline=None)


@FREELY
@given(trips())
def test_it_costs_least_and_has_fewest_things(trip):
    judge(trip)


@FREELY
@given(trips(cases=True))
def test_it_costs_least_over_open_questions(trip):
    judge(trip)


@FREELY
@given(trips(limits=True))
def test_it_costs_least_of_what_the_van_can_carry(trip):
    judge(trip)


@FREELY
@given(trips(limits=True, cases=True))
def test_it_costs_least_of_what_the_van_can_carry_over_open_questions(trip):
    judge(trip)


LIMITS = (along_choice, "MOST_TURNS"), (along_choice, "MOST_EVENTS"), (along_limits, "MOST_WORK"), (
    along_sweep, "MOST_KEPT")


@FREELY
@given(st.booleans().flatmap(lambda cases: trips(limits=True, cases=cases)), st.integers(0, 3))
def test_beyond_what_can_be_searched_the_bound_holds(trip, most):
    """With limits of the search so small that little is exact, what is told is still true."""
    with pytest.MonkeyPatch.context() as patch:
        for module, name in LIMITS:
            patch.setattr(module, name, most)
        found = choose(trip)
    costs = {tuple(sorted(kit.items())): cost for cost, _, _, kit in every_kit(trip)}
    least = min(costs.values())
    assert costs[tuple(sorted(found.amounts.items()))] == found.cost
    assert found.bound <= least <= found.cost
    # nothing goes along that would cost less left out
    for out in found.amounts:
        assert costs[tuple(sorted((name, much) for name, much in found.amounts.items() if name != out))] >= found.cost


@pytest.mark.parametrize("adds", [True, False])
def test_what_two_findings_take_adds_up_unless_it_is_a_tool(adds):
    turns = tuple(Turn(name, F(1, 2), {"ring": 1}) for name in ("one", "other"))
    trip = Trip((Thing("ring", (Amount(1, F(1)), Amount(2, F(2))), adds),), (Case(F(1), turns),), F(100))
    assert complete(trip, {"ring": 1}) == (F(3, 4) if adds else 1)
    assert choose(trip).amounts == {"ring": 2 if adds else 1}


def test_what_is_covered_is_not_needed_too():
    """The bearing comes with the clutch kit: both at once need the kit alone."""
    turns = (Turn("clutch", F(1, 2), {"kit": 1}), Turn("bearing", F(1, 2), {"bearing": 1}, ("clutch",)))
    trip = Trip((Thing("kit", (Amount(1, F(9)),)), Thing("bearing", (Amount(1, F(1)),))), (Case(F(1), turns),), F(100))
    assert complete(trip, {"kit": 1}) == F(3, 4)
    assert complete(trip, {"bearing": 1}) == F(1, 2)
    assert choose(trip).complete == 1


def test_thirty_findings_with_sixty_lines_are_proven():
    """As large as jobs get; measured at about 0.01 s, so that a search that tried all kits would never end."""
    rnd = Random(5)
    things, turns = [], []
    for number in range(30):
        takes = {}
        for part in ("a", "b"):
            things.append(Thing(f"{number}{part}", (Amount(1, F(rnd.randint(100, 900), 100)),)))
            takes[f"{number}{part}"] = 1
        takes[f"tool {rnd.randrange(6)}"] = 1
        turns.append(Turn(str(number), F(rnd.randint(1, 30), 100), takes))
    things += [Thing(f"tool {number}", (Amount(1, F(rnd.randint(2, 30))),), False) for number in range(6)]
    for stopped in (60, 150, 400, 1000):
        trip = Trip(tuple(things), (Case(F(1), tuple(turns)),), F(stopped))
        found = choose(trip)
        assert found.proven
        # no single part or whole finding more or less makes it better
        for turn in turns:
            more = {**found.amounts, **turn.takes}
            less = {name: much for name, much in found.amounts.items() if name not in turn.takes}
            assert expected_cost(trip, more) >= found.cost <= expected_cost(trip, less)


@pytest.mark.parametrize("stopped", [1, 3, 5, 8, 13, 21, 34])
def test_twenty_findings_within_a_limit_of_weight_are_proven(stopped):
    """Measured at about 0.1 s. Parts as heavy as they are dear, of which no more than half can go."""
    rnd = Random(7)
    things, turns = [], []
    for number in range(20):
        weight = rnd.randint(50, 30000)
        things.append(Thing(str(number), (Amount(1, F(150) + F(weight, 50), F(weight)),)))
        turns.append(Turn(str(number), F(rnd.randint(1, 40), 100), {str(number): 1}))
    most = sum(thing.amounts[0].weight for thing in things) / 2
    found = choose(Trip(tuple(things), (Case(F(1), tuple(turns)),), F(stopped * 10000), most))
    assert found.proven
    assert sum(thing.amounts[0].weight for thing in things if thing.name in found.amounts) <= most


@pytest.mark.parametrize("stopped", [1, 3, 5, 8, 13, 21, 34])
def test_one_part_a_finding_is_the_best_beginning_of_the_known_order(stopped):
    """-ln(1 - p) / h with chances 1 - 2^-k, so that logarithms are whole numbers of ln 2 and the order is exact."""
    parts = [(1, 1), (3, 2), (1, 2), (4, 1), (2, 5), (5, 4)]
    order = sorted(range(6), key=lambda number: -F(parts[number][0], parts[number][1]))
    trip = Trip(
        tuple(Thing(str(number), (Amount(1, F(cost)),)) for number, (_, cost) in enumerate(parts)),
        (Case(F(1), tuple(Turn(str(number), 1 - F(1, 2**power), {str(number): 1})
                          for number, (power, _) in enumerate(parts))),), F(stopped))
    beginnings = [expected_cost(trip, {str(number): 1 for number in order[:size]}) for size in range(7)]
    assert choose(trip).cost == min(beginnings)


def test_a_cut_of_great_numbers_is_exact():
    """The gains differ from the costs by one in the last of forty digits."""
    great = 10**40
    assert worth_having([great + 1], [great // 2, great // 2], [0b11]) == 0b11
    assert worth_having([great], [great // 2, great // 2], [0b11]) == 0
    assert worth_having([great, 1], [great, great], [0b01, 0b11]) == 0
    assert worth_having([great - 1, great, 3], [great, great - 1], [0b01, 0b01, 0b10]) == 0b01
