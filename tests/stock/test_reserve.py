"""The reserve that a day's bookings share, against everything that may turn out and every amount there is."""

from fractions import Fraction as F
from itertools import product
from math import comb

from hypothesis import given, note, settings
from hypothesis import strategies as st

from kitbuilder.stock.reserve import Draw, Outcome, expected_cost, reserves


def kits(chances, fetch=0, wait=300):
    return [Draw(number, (Outcome(F(chance), {"kit": 1}),), F(fetch), {"kit": F(wait)})
            for number, chance in enumerate(chances, 1)]


def plainly(draws, shelf, setting_aside, amounts):
    """What a reserve costs: over every way in which the day may turn out, one after the other."""
    least = {name: min(one.takes[name] for draw in draws for one in draw.outcomes if name in one.takes)
             for name in amounts}
    total = sum(setting_aside[name] * -(-much // least[name]) for name, much in amounts.items())
    for day in product(*((None, *draw.outcomes) for draw in draws)):
        chance, waiting, used = F(1), F(0), dict.fromkeys(amounts, 0)
        for draw, turned in zip(draws, day, strict=True):
            if turned is None:
                chance *= 1 - sum(one.chance for one in draw.outcomes)
                continue
            chance *= turned.chance
            wanted = {name: used[name] + much for name, much in turned.takes.items()}
            lacking = [name for name, much in wanted.items() if much > max(amounts[name], shelf.get(name, 0))]
            if lacking:
                waiting += max(draw.waits[name] for name in lacking)  # and what it would have used stays
                continue
            if any(much > amounts[name] for name, much in wanted.items()):
                waiting += draw.fetch
            used.update(wanted)
        total += chance * waiting
    return total


@st.composite
def days(draw):
    names = ["a", "b"][:draw(st.integers(1, 2))]
    draws = []
    for number in range(draw(st.integers(1, 4))):
        count = draw(st.integers(1, 2))
        outcomes = tuple(
            Outcome(F(draw(st.integers(1, 10)), 20),
                    draw(st.dictionaries(st.sampled_from(names), st.integers(1, 2), min_size=1)))
            for _ in range(count))
        draws.append(Draw(number, outcomes, F(draw(st.integers(0, 5))),
                          {name: F(draw(st.integers(5, 60))) for name in names}))
    shelf = {name: draw(st.integers(0, 3)) for name in names}
    return draws, shelf, {name: F(draw(st.integers(0, 8)), 2) for name in names}


@settings(deadline=None)
@given(days(), st.booleans())
def test_a_reserve_costs_what_the_day_comes_to_and_the_least_there_is(day, capped):
    draws, shelf, setting_aside = day
    limit = shelf if capped else None
    note(str(day))
    found = reserves(draws, shelf, setting_aside, limit)
    parts = [[one] for one in found]
    if len(found) == 2 and any(len({name for one in draw.outcomes for name in one.takes}) == 2 for draw in draws):
        parts = [found]
    for part in parts:
        names = [one.thing for one in part]
        of_it = [draw for draw in draws if any(set(one.takes) & set(names) for one in draw.outcomes)]
        most = {one.thing: one.most if limit is None else min(one.most, limit[one.thing]) for one in part}
        costs = {
            amounts: plainly(of_it, shelf, setting_aside, dict(zip(names, amounts, strict=True)))
            for amounts in product(*(range(most[name] + 1) for name in names))}
        chosen = tuple(one.amount for one in part)
        assert costs[chosen] == min(costs.values()) == part[0].cost
        assert expected_cost(of_it, shelf, setting_aside, dict(zip(names, chosen, strict=True))) == costs[chosen]
        for place, one in enumerate(part):
            without = costs[(*chosen[:place], 0, *chosen[place + 1:])]
            assert (one.left_out, one.proven) == (without - part[0].cost, True)


def test_five_bookings_at_a_chance_of_twelve_per_cent_do_not_freeze_five_clutch_kits():
    """At least so many of five are wanted with a chance of 0.4723, 0.1125, 0.0143, 0.0009 (binomial). A wait of 20.00
    is worth setting one kit aside for 1.00, and two, not three."""
    at_least = [sum(comb(5, k) * F(12, 100)**k * F(88, 100)**(5 - k) for k in range(n, 6)) for n in range(1, 6)]
    assert [round(float(one), 4) for one in at_least] == [0.4723, 0.1125, 0.0143, 0.0009, 0.0]
    [one] = reserves(kits(["0.12"] * 5, wait=20), {}, {"kit": F(1)})
    assert (one.amount, one.most, one.bookings) == (2, 5, (1, 2, 3, 4, 5))
    assert one.cost == 2 + 20 * sum(at_least[2:])
    assert one.left_out == 20 * F(60, 100) - one.cost


def test_no_more_is_set_aside_than_the_shelf_has_to_spare():
    here = {"kit": 1}
    [wished] = reserves(kits(["0.12"] * 5, fetch=10), here, {"kit": F(1)})
    [spared] = reserves(kits(["0.12"] * 5, fetch=10), here, {"kit": F(1)}, here)
    assert (wished.amount, spared.amount, spared.most) == (3, 1, 5)


def test_what_lies_on_the_shelf_is_set_aside_only_if_fetching_it_is_dearer():
    """The first of three is wanted with a chance of 0.271: worth 0.50 if it is 14.17 to fetch, not if it is 1.00."""
    [dear] = reserves(kits(["0.1"] * 3, fetch=F(1417, 100)), {"kit": 3}, {"kit": F(1, 2)}, {"kit": 3})
    [cheap] = reserves(kits(["0.1"] * 3, fetch=1), {"kit": 3}, {"kit": F(1, 2)}, {"kit": 3})
    assert (dear.amount, cheap.amount) == (1, 0)


def test_it_is_the_newsvendor_where_demand_is_like_poisson():
    """Poisson newsvendor of Snyder and Shen, holding 1, penalty 4, mean 6: base stock 8 (in stockpyl's tests). Here
    what is set aside is paid for whether used or not, so a wait costs 4 + 1; sixty bookings at 0.1 have that mean."""
    [one] = reserves(kits(["0.1"] * 60, wait=5), {}, {"kit": F(1)})
    assert (one.amount, one.proven) == (8, True)


def test_many_bookings_share_it_in_parts_and_it_is_not_called_proven():
    [one] = reserves(kits(["0.1"] * 90, wait=5), {}, {"kit": F(1)})
    assert (one.most, one.proven) == (90, False)
    assert 9 <= one.amount <= 20


def test_bookings_that_share_nothing_have_reserves_of_their_own():
    draws = [*kits(["0.5"]), Draw(7, (Outcome(F(1, 2), {"pipe": 2}),), F(0), {"pipe": F(50)})]
    costs = {"kit": F(1), "pipe": F(1)}
    both = {one.thing: one for one in reserves(draws, {}, costs)}
    assert (both["kit"].amount, both["kit"].bookings, both["pipe"].amount, both["pipe"].bookings) == (1, (1,), 2, (7,))
    assert both["pipe"].cost == 1


def test_amounts_too_many_to_be_told_apart_are_not_called_proven():
    """Eight bookings that take 1, 2, 4 … 128: 256 sums."""
    draws = [Draw(power, (Outcome(F(1, 2), {"oil": 2**power}),), F(0), {"oil": F(50)}) for power in range(8)]
    [one] = reserves(draws, {}, {"oil": F(1, 100)})
    assert (one.most, one.proven) == (255, False)
    [few] = reserves(draws[:5], {}, {"oil": F(1, 100)})
    assert (few.most, few.amount, few.proven) == (31, 31, True)


def test_leaving_one_of_two_out_is_told_against_the_whole_shelf():
    """Two things that one finding takes: what the first is set aside of still lies there for what the second costs."""
    waits = {"a": F(5), "b": F(5)}
    alone = [Draw(number, (Outcome(F(1, 20), {"a": 1}),), F(fetch), waits) for number, fetch in ((0, 1), (1, 0))]
    both = Draw(2, (Outcome(F(1, 20), {"a": 1, "b": 1}),), F(0), waits)
    here = {"a": 2, "b": 0}
    a, b = reserves([*alone, both], here, {"a": F(0), "b": F(0)}, here)
    assert (a.amount, a.left_out) == (1, F(1, 20))
    assert (b.amount, b.left_out) == (0, 0)
