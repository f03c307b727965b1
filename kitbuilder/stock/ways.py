"""Needs that go together: of each binding one way is taken, and only its needs count."""

from collections.abc import Collection, Mapping, Sequence

import msgspec

from kitbuilder.model.plan import Need
from kitbuilder.stock.terms import smallest

#: A booking and one of its bindings.
Binding = tuple[int, str]


def bindings_of(needs: Sequence[Need]) -> dict[Binding, list[Need]]:
    """The needs of each binding, by name."""
    found: dict[Binding, list[Need]] = {}
    for need in sorted(needs, key=lambda need: need.name):
        if need.binding:
            found.setdefault((need.booking, need.binding), []).append(need)
    return found


def weight_of(needs: Sequence[Need], way: int) -> int:
    """What a way adds to a plan's `preference`: its number times what its needs ask for, in smallest units."""
    return way * sum(smallest(need.quantity, need.unit) for need in needs if way in need.ways)


def ways_taken(needs: Sequence[Need], given: Mapping[str, int]) -> dict[Binding, int]:
    """Of each binding the way that is taken, where each need (by name) is given so much, in smallest units.

    It is one that all needs that are given something belong to; if that may be several, the one of which least is
    missing, then the first. Where it can be none, which no plan may do, the first that something is given of.
    """
    found = {}
    for binding, mine in bindings_of(needs).items():
        served = [need for need in mine if given.get(need.name, 0)]
        every = {way for need in mine for way in need.ways}
        common = every.intersection(*(need.ways for need in served)) or {served[0].ways[0]}

        def rank(way: int, mine: Sequence[Need] = mine) -> tuple[int, int, int]:
            lacks = [max(0, smallest(need.quantity, need.unit) - given.get(need.name, 0))
                     for need in mine if way in need.ways]
            return sum(lack > 0 for lack in lacks), sum(lacks), way

        found[binding] = min(common, key=rank)
    return found


def that_count(needs: Sequence[Need], given: Mapping[str, int]) -> list[Need]:
    """The needs that are to be filled: all but those of ways that aren't taken."""
    taken = ways_taken(needs, given)
    return [need for need in needs if not need.binding or taken[need.booking, need.binding] in need.ways]


def with_ways_settled(needs: Sequence[Need], taken: Collection[str]) -> list[Need]:
    """The needs, without those of ways that are out of the question by now: something is `taken` for another way of the
    binding (picked, issued or on order; by the needs' names). A binding with one way left binds nothing."""
    left: dict[Binding, set[int]] = {}
    for binding, mine in bindings_of(needs).items():
        every = {way for need in mine for way in need.ways}
        sure = every.intersection(*(need.ways for need in mine if need.name in taken))
        # what is of no one way was taken before the items were bound: it stands, and so may any
        left[binding] = sure or every
    found = []
    for need in needs:
        if not need.binding:
            found.append(need)
            continue
        ways = left[need.booking, need.binding]
        mine_left = tuple(way for way in need.ways if way in ways)
        if mine_left and len(ways) > 1:
            found.append(msgspec.structs.replace(need, ways=mine_left))
        elif mine_left:
            found.append(msgspec.structs.replace(need, binding="", ways=()))
    return found
