"""What may stand for an item by the supersessions: which numbers it leads to, and which of them may be used.

Each number stands once under `old` and once under `new`, so from any number there is one way on, and one way back
where that is two-way. Numbers that come back to themselves are followed until the first one met again.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from functools import lru_cache

from kitbuilder.model.catalogue import Replacement, Supersession


class Supersessions(dict[str, Supersession]):
    """All supersessions of an edition by the old item's number. Never changed once made: it is told from others by
    which it is, so that what follows from it on a day is worked out once. `together`: what takes the place of others
    in sets and groups; what stands here does so one for one, each item for itself."""

    def __init__(self, alone: Mapping[str, Supersession] | Iterable[tuple[str, Supersession]] = (),
                 together: tuple[Replacement, ...] = ()) -> None:
        super().__init__(alone)
        self.together = together

    __hash__ = object.__hash__  # type: ignore[assignment]


def succession_on(supersessions: Mapping[str, Supersession], day: date) -> "Succession":
    """The supersessions that hold on a day."""
    return _kept(supersessions, day) if isinstance(supersessions, Supersessions) else Succession(supersessions, day)


@lru_cache(maxsize=64)
def _kept(supersessions: Supersessions, day: date) -> "Succession":
    return Succession(supersessions, day)


class Succession:
    """The supersessions that hold on a day; `day` None: all of them, whenever they begin."""

    def __init__(self, supersessions: Mapping[str, Supersession], day: date | None = None) -> None:
        self._by_old = {
            old: one for old, one in supersessions.items() if day is None or one.since is None or one.since <= day}
        self._by_new = {one.new: one for one in self._by_old.values() if one.rule == "two-way"}

    def chain(self, number: str) -> tuple[str, ...]:
        """The number and all that it leads to, best first: what it may be exchanged with, then what takes its place,
        each with what follows from it."""
        found = dict.fromkeys((number, *self._back(number)))
        while (one := self._by_old.get(number)) is not None and one.new and one.new not in found:
            number = one.new
            found[number] = None
        return tuple(found)

    def _back(self, number: str) -> Iterator[str]:
        seen = {number}
        while (one := self._by_new.get(number)) is not None and one.old not in seen:
            number = one.old
            seen.add(number)
            yield number

    def withdrawn(self, number: str) -> bool:
        """Whether what is there of it may no longer be used."""
        one = self._by_old.get(number)
        return one is not None and one.rule == "withdrawn"

    def usable(self, number: str) -> tuple[str, ...]:
        """Of the chain of a number what may be used."""
        return tuple(one for one in self.chain(number) if not self.withdrawn(one))
