"""Remarks on supersession: numbers that come back to themselves, and those that lead to nothing that may be used."""

from collections.abc import Iterable, Iterator, Mapping

from kitbuilder.catalogue.edition import Edition
from kitbuilder.catalogue.succession import Succession
from kitbuilder.model.catalogue import Supersession
from kitbuilder.model.kit import RowPlace
from kitbuilder.proof.remark import Remark

_FILE = "supersession.csv"


def takes_its_place(used: Iterable[str], supersessions: Mapping[str, Supersession]) -> set[str]:
    """Items that are used, and all that may stand for one of them some day."""
    succession = Succession(supersessions)
    return {number for one in used for number in succession.chain(one)}


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
    succession = Succession(told)
    for number in sorted(used):
        if succession.usable(number):
            continue
        chain = succession.chain(number)
        last = max((one.since for name in chain if (one := told.get(name)) and one.since), default=None)
        of = f"{number} is" if len(chain) == 1 else f"{', '.join(chain)} are"
        yield Remark(
            "supersession", f"{number} is in use, but {of} withdrawn{f' by {last.isoformat()}' if last else ''} and "
            "nothing takes the place: from then on nothing may be taken for it.",
            tuple(sorted(RowPlace(_FILE, told[name].row) for name in chain)), item=number)


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
