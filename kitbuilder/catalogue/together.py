"""The ways to fill a booking's lines where items take others' place together: an old part or the two that it is now,
two old ones or the one that stands for both, all pipes of one make or all of the other.

What has taken an item's place one for one, by itself, is no way of its own: a line is filled with some of each
(`Succession`). Here a way is taken whole. Of a set whose new items are taken there are as
many as cover all that is asked for of its old ones. What lies in a circuit is never made of a set: a fill is one item.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from fractions import Fraction
from itertools import product
from typing import Final

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.succession import Succession, Supersessions, succession_on
from kitbuilder.model.catalogue import Replacement

#: More ways of lines that go together are not looked at; those nearest to the old side come first.
MOST_WAYS: Final = 32

#: The unit of an item, None where it isn't known.
UnitOf = Callable[[str], str | None]


class Ask(msgspec.Struct, frozen=True):
    """What a line asks for: items that will do, best first, and how much in milli-units. `single`: it is filled from
    one item, so no set stands for it; `apart`: it isn't counted with others towards a set of several old items."""

    name: str
    acceptable: tuple[str, ...]
    quantity: int
    unit: str
    single: bool = False
    apart: bool = False


class Part(msgspec.Struct, frozen=True):
    """What a way takes: for the lines `of`, something that is in the ways of these numbers. `because` says in
    sentences why it is another thing than what they ask for; empty where it is that."""

    name: str
    of: tuple[str, ...]
    acceptable: tuple[str, ...]
    quantity: int
    unit: str
    ways: tuple[int, ...]
    because: tuple[str, ...] = ()


class Choice(msgspec.Struct, frozen=True):
    """Lines that go together, and what each way takes for them. Way 0 is the one nearest to what is asked for."""

    name: str
    of: tuple[str, ...]
    parts: tuple[Part, ...]


class _Piece(msgspec.Struct, frozen=True):
    """A part in the making: `asked` are items before what has taken their place one for one."""

    of: tuple[int, ...]
    asked: tuple[str, ...]
    quantity: int
    unit: str
    single: bool
    apart: bool
    because: tuple[str, ...] = ()


_State = tuple[_Piece, ...]


def choices(asks: Sequence[Ask], supersessions: Supersessions, day: date, unit_of: UnitOf) -> list[Choice]:
    """The choices on a day, those of lines alone left out, in the order of their first lines."""
    told = [one for one in supersessions.together if one.since is None or one.since <= day]
    if not told:
        return []
    return _Day(told, succession_on(supersessions, day), unit_of).choices(asks)


def sentence(one: Replacement) -> str:
    """What a replacement says: `A and 2 B are superseded by C: why`."""
    olds, news = (" and ".join(
        number if milli == 1000 else f"{amount.show(milli)} {number}" for number, milli in side.items())
        for side in (one.olds, one.news))
    verb = "are" if len(one.olds) > 1 else "is"
    return f"{olds} {verb} superseded by {news}{f': {one.note}' if one.note else ''}"


class _Day:
    """The sets and groups that hold on a day."""

    def __init__(self, told: Sequence[Replacement], alone: Succession, unit_of: UnitOf) -> None:
        self._alone, self._unit_of = alone, unit_of
        self._groups: dict[str, list[Replacement]] = {}
        # each with why it is so
        self._sets: list[tuple[Replacement, str]] = []
        for one in told:
            if one.group:
                self._groups.setdefault(one.group, []).append(one)
            else:
                self._sets.append((one, sentence(one)))
                if one.rule == "two-way":
                    self._sets.append((_turned(one), sentence(one)))
        self._withdrawn = {number for one in told if one.rule == "withdrawn" for number in one.olds}
        self._steps: dict[str, set[str]] = {}
        for one in told:
            for number in one.olds:
                self._steps.setdefault(number, set()).update(one.news)
            for number in one.news if one.group or one.rule == "two-way" else ():
                self._steps.setdefault(number, set()).update(one.olds)

    def choices(self, asks: Sequence[Ask]) -> list[Choice]:
        reach = [self._reach(ask.acceptable) for ask in asks]
        together: list[set[int]] = []
        for several, items in self._knots():
            touched = [number for number, of in enumerate(reach) if of & items]
            for mine in ([set(touched)] if several else [{number} for number in touched]):
                if mine:
                    mine = mine.union(*(others for others in together if others & mine))
                    together = [others for others in together if not others & mine] + [mine]
        found = (self._choice([asks[number] for number in sorted(mine)]) for mine in sorted(together, key=min))
        return [one for one in found if one is not None]

    def _knots(self) -> Iterator[tuple[bool, set[str]]]:
        """The items of each group and set, and whether it binds lines together."""
        for rows in self._groups.values():
            yield True, {number for one in rows for number in (*one.olds, *one.news)}
        for one, _ in self._sets:
            yield len(one.olds) > 1, set(one.olds)

    def _reach(self, acceptable: Iterable[str]) -> set[str]:
        found: set[str] = set()
        left = list(acceptable)
        while left:
            number = left.pop()
            for one in self._alone.chain(number):
                if one not in found:
                    found.add(one)
                    left.extend(self._steps.get(one, ()))
        return found

    def _choice(self, asks: Sequence[Ask]) -> Choice | None:
        states = sorted(self._states(asks), key=lambda state: sum(bool(piece.because) for piece in state))
        usable = [state for state in states if all(self.usable(piece) for piece in state)] or states[:1]
        if not usable or (len(usable) == 1 and self._as_alone(asks, usable[0])):
            return None
        names: dict[str, tuple[object, ...]] = {}
        ways: dict[str, list[int]] = {}
        made: dict[str, _Piece] = {}
        for way, state in enumerate(usable):
            bare = [msgspec.structs.replace(piece, because=()) for piece in state]
            for place, piece in enumerate(state):
                name = self._name(asks, piece, bare[:place].count(bare[place]), names)
                made[name] = piece
                ways.setdefault(name, []).append(way)
        parts = tuple(
            Part(name, tuple(asks[number].name for number in piece.of), self.usable(piece), piece.quantity, piece.unit,
                 tuple(ways[name]), piece.because) for name, piece in made.items())
        return Choice(asks[0].name, tuple(ask.name for ask in asks), parts)

    def _as_alone(self, asks: Sequence[Ask], state: _State) -> bool:
        """Whether nothing is said of these lines that isn't said of each by itself."""
        return len(state) == len(asks) and all(
            piece.asked == ask.acceptable and not self._withdrawn & self._reached(piece)
            for piece, ask in zip(state, asks, strict=True))

    def _reached(self, piece: _Piece) -> set[str]:
        return {one for number in piece.asked for one in self._alone.usable(number)}

    def _name(self, asks: Sequence[Ask], piece: _Piece, alike: int, names: dict[str, tuple[object, ...]]) -> str:
        first = asks[piece.of[0]]
        name = first.name if piece.asked[:1] == first.acceptable[:1] else f"{first.name}>{piece.asked[0]}"
        content = (piece.of, piece.asked, piece.quantity, piece.unit, alike)
        number, free = 2, name
        while names.setdefault(free, content) != content:
            free, number = f"{name}~{number}", number + 1
        return free

    def usable(self, piece: _Piece) -> tuple[str, ...]:
        """What a piece may be filled with."""
        found = dict.fromkeys(one for number in piece.asked for one in self._alone.usable(number))
        return tuple(number for number in found if number not in self._withdrawn)

    def _states(self, asks: Sequence[Ask]) -> Iterator[_State]:
        """Every way, the old sides first."""
        start = tuple(_Piece((number,), ask.acceptable, ask.quantity, ask.unit, ask.single, ask.apart)
                      for number, ask in enumerate(asks))
        reach = self._reach([number for ask in asks for number in ask.acceptable])
        groups = [name for name, rows in self._groups.items()
                  if any(reach & {*one.olds, *one.news} for one in rows)]
        seen: set[object] = set()
        queue: deque[tuple[_State, Mapping[str, bool]]] = deque()
        for sides in sorted(product((False, True), repeat=len(groups)), key=sum):
            chosen: Mapping[str, bool] = dict(zip(groups, sides, strict=True))
            state = self._on_side(start, chosen)
            if state is not None and _content(state) not in seen:
                seen.add(_content(state))
                queue.append((state, chosen))
        while queue:
            state, new = queue.popleft()
            yield state
            for one, why in self._sets if len(seen) < MOST_WAYS else ():
                after = self._replaced(state, one, why)
                after = self._on_side(after, new) if after is not None else None
                if after is not None and _content(after) not in seen:
                    seen.add(_content(after))
                    queue.append((after, new))

    def _on_side(self, state: _State, new: Mapping[str, bool]) -> _State | None:
        """A state in which each group is on its side; None if it can't be."""
        for name, on_new in new.items():
            for one in self._groups[name]:
                after = self._pair_on_side(state, one, on_new) if not one.set else self._set_on_side(state, one, on_new)
                if after is None:
                    return None
                state = after
        return state

    def _set_on_side(self, state: _State, one: Replacement, on_new: bool) -> _State | None:
        wanted, gone = (one, one.olds) if on_new else (_turned(one), one.news)
        if not any(self._has(piece, number) for piece in state for number in gone):
            return state
        return self._replaced(state, wanted, sentence(one)) if on_new or one.rule == "two-way" else None

    def _pair_on_side(self, state: _State, one: Replacement, on_new: bool) -> _State | None:
        [old], [new] = one.olds, one.news
        found = []
        for piece in state:
            asked: dict[str, None] = {}
            because = piece.because
            for number in piece.asked:
                chain = self._alone.chain(number)
                if on_new and old in chain:
                    asked[new] = None
                    because = tuple(dict.fromkeys((*because, sentence(one))))
                elif not on_new and new in chain and old not in chain:
                    if one.rule == "two-way":
                        asked[old] = None
                        because = tuple(dict.fromkeys((*because, sentence(one))))
                else:
                    asked[number] = None
            if piece.asked and not asked:
                return None
            found.append(msgspec.structs.replace(piece, asked=tuple(asked), because=because))
        return tuple(found)

    def _has(self, piece: _Piece, number: str) -> bool:
        return any(number in self._alone.chain(asked) for asked in piece.asked)

    def _replaced(self, state: _State, one: Replacement, why: str) -> _State | None:
        """A state with a set's new items for all that it has of the old ones; None if it lacks one of these."""
        of_old: dict[str, list[int]] = {number: [] for number in one.olds}
        for place, piece in enumerate(state):
            mine = next((number for number in one.olds if self._has(piece, number)), None)
            if mine is not None and not piece.single and not (piece.apart and len(one.olds) > 1):
                of_old[mine].append(place)
        if not all(of_old.values()):
            return None
        pieces = [state[place] for places in of_old.values() for place in places]
        times = max(
            sum((self._milli(state[place], number) for place in places), Fraction(0)) / one.olds[number]
            for number, places in of_old.items())
        of = tuple(sorted({number for piece in pieces for number in piece.of}))
        because = tuple(dict.fromkeys((*(text for piece in pieces for text in piece.because), why)))
        made = [self._new(number, milli * times, of, because, pieces) for number, milli in one.news.items()]
        gone = {place for places in of_old.values() for place in places}
        first = min(gone)
        return (*(piece for place, piece in enumerate(state) if place < first), *made,
                *(piece for place, piece in enumerate(state) if place > first and place not in gone))

    def _milli(self, piece: _Piece, number: str) -> Fraction:
        unit = self._unit_of(number) or piece.unit
        return Fraction(piece.quantity) if unit == piece.unit else Fraction(
            piece.quantity * amount.MEASURED[piece.unit][1], amount.MEASURED[unit][1])

    def _new(self, number: str, quantity: Fraction, of: tuple[int, ...], because: tuple[str, ...],
             pieces: Sequence[_Piece]) -> _Piece:
        unit = self._unit_of(number) or pieces[0].unit
        least = 1000 if unit in amount.COUNTED else 1
        return _Piece(of, (number,), -(-quantity // least) * least, unit, False, all(one.apart for one in pieces),
                      because)


def _content(state: _State) -> object:
    """What a state takes, however it came about."""
    return tuple(msgspec.structs.replace(piece, because=()) for piece in state)


def _turned(one: Replacement) -> Replacement:
    return msgspec.structs.replace(one, olds=one.news, news=one.olds)
