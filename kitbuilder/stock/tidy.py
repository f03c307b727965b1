"""Of plans that are worth the same, the one that people expect: the job that starts first gets the older piece."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from kitbuilder.model.plan import Need
from kitbuilder.stock.draft import Draft
from kitbuilder.stock.terms import Key, Terms, keeps


def tidied(terms: Terms, needs: Sequence[Need], draft: Draft, now: datetime) -> Draft:
    """The draft with what needs alike take of own stock handed out anew: the need that is wanted first takes the item
    that stands first in `acceptable`, and of that what is to be used up first.

    Each need takes as much as before, and of each lot as much is taken, so that every field of the plan's value stays.
    Needs that hold something, or that are bound to others, are left as they are.
    """
    by_name = {need.name: need for need in needs if not (need.held or need.circuit or need.binding)}
    alike: dict[tuple[tuple[str, ...], str, str, str], dict[tuple[str, Key], int]] = {}
    for (name, key), amount in draft.taken.items():
        need, place = by_name.get(name), terms.places[key]
        if need is not None and place.own and amount:
            group = (need.acceptable, key[0], key[3], place.offer.unit)
            alike.setdefault(group, {})[name, key] = amount
    taken = dict(draft.taken)
    for (acceptable, *_), mine in alike.items():
        if len({name for name, _ in mine}) == 1 or len({key for _, key in mine}) == 1:
            continue
        anew = _handed_out(terms, acceptable, by_name, mine)
        if all(keeps(by_name[name], terms.places[key], now) for name, key in anew):
            for at in mine:
                del taken[at]
            taken |= anew
    return Draft(taken, draft.bought)


def _handed_out(terms: Terms, acceptable: Sequence[str], by_name: Mapping[str, Need],
                mine: Mapping[tuple[str, Key], int]) -> dict[tuple[str, Key], int]:
    wanted: dict[str, int] = {}
    there: dict[Key, int] = {}
    for (name, key), amount in mine.items():
        wanted[name] = wanted.get(name, 0) + amount
        there[key] = there.get(key, 0) + amount
    keys = sorted(there, key=lambda key: (acceptable.index(key[1]), terms.ranks(key), key))
    found = {}
    for name in sorted(wanted, key=lambda name: (by_name[name].wanted_at, name)):
        for key in keys:
            if some := min(wanted[name], there[key]):
                found[name, key] = some
                wanted[name] -= some
                there[key] -= some
    return found
