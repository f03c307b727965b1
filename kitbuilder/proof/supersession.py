"""Remarks on supersession: numbers that come back to themselves, and those that lead to nothing that may be used."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date

from kitbuilder.catalogue.edition import Edition
from kitbuilder.catalogue.succession import Succession, Supersessions
from kitbuilder.catalogue.together import Ask, choices
from kitbuilder.model.catalogue import Replacement, Supersession
from kitbuilder.model.kit import RowPlace
from kitbuilder.proof.remark import Remark

_FILE = "supersession.csv"


def takes_its_place(used: Iterable[str], supersessions: Mapping[str, Supersession]) -> set[str]:
    """Items that are used, and all that may stand for one of them some day."""
    succession = Succession(supersessions)
    told = supersessions.together if isinstance(supersessions, Supersessions) else ()
    found: set[str] = set()
    left = list(used)
    while left:
        for number in succession.chain(left.pop()):
            if number not in found:
                found.add(number)
                for one in told:
                    left += one.news if number in one.olds else ()
                    left += one.olds if number in one.news and one.rule == "two-way" else ()
    return found


def supersession_remarks(edition: Edition, used: Iterable[str]) -> Iterator[Remark]:
    """What the supersessions leave: circles, and items in use (`used`) for which nothing may be taken in the end."""
    told = edition.supersessions
    for circle in _circles(told):
        rows = tuple(sorted(RowPlace(_FILE, told[number].row) for number in circle))
        names = ", ".join((*circle, circle[0]))
        yield Remark(
            "supersession", f"{_FILE}: {names} take each other's place in a circle; whichever is asked for, any "
            "that is not withdrawn may be taken. Say which is the last, or use the rule 'two-way'.", rows,
            item=circle[0])
    for one, back in _circles_of_sets(told):
        yield Remark(
            "supersession", f"{_FILE}: what takes the place of {back} {_in(one)} is superseded by {back} in its turn. "
            "Say which is the last.", tuple(RowPlace(_FILE, row) for row in one.rows), item=back)
    yield from _pairs_alone(told)
    for number in sorted(used):
        remark = _dead_end(edition, told, number)
        if remark is not None:
            yield remark


def _in(one: Replacement) -> str:
    return f"in the set {one.set}" if one.set else f"in the group {one.group}"


def _circles_of_sets(told: Supersessions) -> Iterator[tuple[Replacement, str]]:
    """The sets and pairs of groups from whose new items the way goes on to an old one of theirs, with that one."""
    forward = Supersessions(
        {old: one for old, one in told.items() if one.rule != "two-way"},
        tuple(one for one in told.together if one.rule != "two-way"))
    for one in told.together:
        reached = takes_its_place(one.news, forward)
        back = next((number for number in one.olds if number in reached), None)
        if back is not None:
            yield one, back


def _pairs_alone(told: Supersessions) -> Iterator[Remark]:
    """Groups of a single pair, which bind nothing: most likely another row has its name mistyped."""
    groups: dict[str, list[Replacement]] = {}
    for one in told.together:
        if one.group:
            groups.setdefault(one.group, []).append(one)
    for name, rows in groups.items():
        if len(rows) == 1 and not rows[0].set:
            yield Remark(
                "supersession", f"{_FILE}: the group {name} has one pair only, so there is nothing that it goes with.",
                (RowPlace(_FILE, rows[0].rows[0]),), item=next(iter(rows[0].olds)))


def _dead_end(edition: Edition, told: Supersessions, number: str) -> Remark | None:
    """What is to be said of a number in use for which in the end nothing may be taken."""
    succession = Succession(told)
    withdrawn = {old for one in told.together if one.rule == "withdrawn" for old in one.olds}
    if any(one not in withdrawn for one in succession.usable(number)) or _leads_on(edition, told, [number]):
        return None
    chain = succession.chain(number)
    sets = [one for one in told.together if set(chain) & one.olds.keys()]
    days = [one.since for name in chain if (one := told.get(name)) and one.since]
    last = max([*days, *(one.since for one in sets if one.since)], default=None)
    rows = {told[name].row for name in chain if name in told} | {row for one in sets for row in one.rows}
    of = f"{number} is" if len(chain) == 1 else f"{', '.join(chain)} are"
    since = f" by {last.isoformat()}" if last else ""
    with_others = next((one for one in sets if len(one.olds) > 1 and _leads_on(edition, told, list(one.olds))), None)
    if with_others is not None:
        others = " and ".join(name for name in with_others.olds if name not in chain)
        text = (f"{number} is in use, but {of} withdrawn{since}, and {' and '.join(with_others.news)} takes the place "
                f"only where {others} is needed too: where it isn't, nothing may be taken for it.")
    elif sets:
        text = (f"{number} is in use, but {of} withdrawn{since}, and not all that takes the place may be used: from "
                "then on nothing may be taken for it.")
    else:
        text = (f"{number} is in use, but {of} withdrawn{since} and nothing takes the place: from then on nothing may "
                "be taken for it.")
    return Remark("supersession", text, tuple(sorted(RowPlace(_FILE, row) for row in rows)), item=number)


def _leads_on(edition: Edition, told: Supersessions, numbers: Iterable[str]) -> bool:
    """Whether sets and groups lead from some items, asked for together, to what may be used."""
    def unit_of(number: str) -> str | None:
        item = edition.known_item(number)
        return item.unit if item else None

    asks = [Ask(number, (number,), 1000, unit_of(number) or "each") for number in numbers]
    found = choices(asks, told, date.max, unit_of)
    return bool(found) and all(part.acceptable for choice in found for part in choice.parts if 0 in part.ways)


def _circles(told: Mapping[str, Supersession]) -> Iterator[tuple[str, ...]]:
    """The circles, each once, from its first in the order of the file on. A pair that each says two-way is none."""
    seen: set[str] = set()
    for start in told:
        path: list[str] = []
        number = start
        while number in told and number not in seen:
            seen.add(number)
            path.append(number)
            number = told[number].new
        if number in path:
            circle = tuple(path[path.index(number):])
            if any(told[one].rule != "two-way" for one in circle):
                yield circle
