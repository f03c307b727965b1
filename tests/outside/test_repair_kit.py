"""The choice of what goes along, against the cases in repair_kit.py (with their sources)."""

from fractions import Fraction as F
from itertools import combinations, product
from random import Random

import pytest

from kitbuilder.kit.along import Amount, Case, Thing, Trip, Turn
from kitbuilder.kit.along_choice import choose
from kitbuilder.stock.reserve import Draw, Outcome, expected_cost, reserves
from tests.outside import repair_kit


def one_of_each(carrying):
    return tuple(Thing(name, (Amount(1, F(cost)),)) for name, cost in carrying.items())


def independent(parts, stopped):
    return Trip(
        one_of_each({name: cost for name, (_, cost) in parts.items()}),
        (Case(F(1), tuple(Turn(name, chance, {name: 1}) for name, (chance, _) in parts.items())),), F(stopped))


def kits(names):
    return ["".join(kit) for size in range(len(names) + 1) for kit in combinations(names, size)]


def plainly(parts, stopped, kit):
    """What a kit costs where parts are needed independently of each other."""
    done = F(1)
    for name, (chance, _) in parts.items():
        done *= 1 if name in kit else 1 - chance
    return sum(parts[name][1] for name in kit) + stopped * (1 - done)


def separately(parts, stopped):
    """The rule that looks at each part by itself."""
    return "".join(name for name, (chance, cost) in parts.items() if stopped * chance > cost)


def one_by_one(parts, stopped):
    """The rule that adds the best part as long as that helps."""
    kit = ""
    while True:
        more = min((kit + name for name in parts if name not in kit), default=kit,
                   key=lambda one: plainly(parts, stopped, one))
        if plainly(parts, stopped, more) >= plainly(parts, stopped, kit):
            return kit
        kit = more


@pytest.mark.parametrize("stopped", repair_kit.BEST)
def test_independent_parts(stopped):
    cost, best = repair_kit.BEST[stopped]
    costs = {kit: plainly(repair_kit.PARTS, stopped, kit) for kit in kits(repair_kit.PARTS)}
    assert min(costs.values()) == cost
    assert [kit for kit, one in costs.items() if one == cost] == best
    found = choose(independent(repair_kit.PARTS, stopped))
    assert (found.cost, found.bound, "".join(found.amounts)) == (cost, cost, best[0])


@pytest.mark.parametrize("stopped", repair_kit.BEST)
def test_the_best_kit_is_a_beginning_of_the_parts_by_log_chance_over_cost(stopped):
    """As Smith, Chambers and Shlifer prove: ordered by -ln(1 - p) / h, which for E1 is A, C, B, D:
    0.0892, 0.0527, 0.0372, 0.0103."""
    kit = set(choose(independent(repair_kit.PARTS, stopped)).amounts)
    assert kit == set("ACBD"[:len(kit)])


def test_three_parts_that_are_worth_it_only_together_and_then_too_dear():
    case = repair_kit.THREE
    parts = dict.fromkeys("ABC", (case["chance"], case["carrying"]))
    assert plainly(parts, case["stopped"], "ABC") == case["all"]
    found = choose(independent(parts, case["stopped"]))
    assert (found.amounts, found.cost, found.proven) == ({}, case["best"], True)


def test_the_rule_for_each_part_by_itself_is_wrong():
    """Three parts as of E2: each is worth 50 and costs 40 by itself, all cost 120, none 87.5."""
    parts = dict.fromkeys("ABC", (repair_kit.THREE["chance"], repair_kit.THREE["carrying"]))
    kit = separately(parts, repair_kit.THREE["stopped"])
    assert kit == "ABC"
    assert plainly(parts, repair_kit.THREE["stopped"], kit) > repair_kit.THREE["best"]


def test_both_rules_are_often_wrong_and_the_choice_never_is():
    rnd = Random(12)
    wrong = {separately: 0, one_by_one: 0}
    for _ in range(150):
        parts = {name: (F(rnd.randint(1, 60), 100), rnd.randint(1, 30)) for name in "ABCDE"[:rnd.randint(2, 5)]}
        stopped = rnd.randint(10, 150)
        least = min(plainly(parts, stopped, kit) for kit in kits(parts))
        assert choose(independent(parts, stopped)).cost == least
        for rule in wrong:
            wrong[rule] += plainly(parts, stopped, rule(parts, stopped)) > least
    assert wrong[separately] > 30, wrong
    assert wrong[one_by_one] > 10, wrong


def test_adding_the_best_part_one_by_one_is_wrong():
    """Two parts, each needed every second time: alone neither is worth it, together they are."""
    parts = dict.fromkeys("AB", (F(1, 2), 30))
    assert one_by_one(parts, 100) == ""
    assert plainly(parts, 100, "") == 75
    found = choose(independent(parts, 100))
    assert ("".join(found.amounts), found.cost) == ("AB", 60)


@pytest.mark.parametrize("stopped", repair_kit.TOGETHER)
def test_parts_that_are_needed_together(stopped):
    cost, best, following = repair_kit.TOGETHER[stopped]

    def plain(kit):
        missed = sum(chance for job, chance in repair_kit.JOBS.items() if set(job) - set(kit))
        return sum(repair_kit.CARRYING[name] for name in kit) + stopped * missed

    costs = sorted((plain(kit), kit) for kit in kits(repair_kit.CARRYING))
    assert [kit for one, kit in costs if one == cost] == best
    assert following is None or costs[1][0] == following
    cases = tuple(
        Case(chance, (Turn(job, F(1), dict.fromkeys(job, 1)),) if job else ())
        for job, chance in repair_kit.JOBS.items())
    found = choose(Trip(one_of_each(repair_kit.CARRYING), cases, F(stopped)))
    assert (found.cost, found.bound, "".join(found.amounts)) == (cost, cost, best[0])


def test_two_jobs_from_one_kit():
    case = repair_kit.TWO_JOBS
    (first, second), stopped = case["chances"], F(case["stopped"])
    outcomes = (Outcome(first * (1 - second), {"1": 1}), Outcome((1 - first) * second, {"2": 1}),
                Outcome(first * second, {"1": 1, "2": 1}))
    draws = [Draw(job, outcomes, F(0), {"1": stopped, "2": stopped}) for job in (1, 2)]
    carrying = dict(zip("12", map(F, case["carrying"]), strict=True))
    best = reserves(draws, {}, carrying)
    assert (tuple(one.amount for one in best), best[0].cost) == case["best"]
    assert all(one.proven for one in best)
    costs = sorted(
        (expected_cost(draws, {}, carrying, {"1": one, "2": two}), (one, two))
        for one, two in product(range(3), repeat=2))
    assert [(kit, cost) for cost, kit in costs[:2]] == [case["best"], case["next"]]
