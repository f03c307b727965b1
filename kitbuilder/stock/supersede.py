"""Supersession, at sourcing: what may be taken for an item once another takes its place.

A kit names what its roles ask for and reads no clock; which number the shelf or a supplier has for it is settled
here, after the roles, so that a new number never makes or hides a clash.
"""

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import date

import msgspec

from kitbuilder.catalogue.succession import Supersessions, succession_on
from kitbuilder.catalogue.together import Ask, Choice, Part, choices, sentence
from kitbuilder.model.catalogue import Item, Replacement, Supersession
from kitbuilder.model.order import OrderRow
from kitbuilder.model.work import WorkKit, WorkLine

#: An item by its number, None where the catalogue has none.
ItemOf = Callable[[str], Item | None]


def successors(acceptable: Iterable[str], supersessions: Mapping[str, Supersession], day: date) -> tuple[str, ...]:
    """The items that may be taken on a day, best first: behind each of `acceptable` what has taken its place by then,
    along the whole chain, so that the old one is used up first. Each item stands once, where it comes first.

    `supersessions` are by the old item's number. What is withdrawn by then is left out, even if nothing is left. What
    takes an item's place only together with others is not among them (kitbuilder.catalogue.together).
    """
    succession = succession_on(supersessions, day)
    gone = {old for one in together_on(supersessions, day) if one.rule == "withdrawn" for old in one.olds}
    return tuple(dict.fromkeys(
        one for number in acceptable for one in succession.usable(number) if one not in gone))


def together_on(supersessions: Mapping[str, Supersession], day: date) -> list[Replacement]:
    """The sets and groups' pairs that hold on a day."""
    told = supersessions.together if isinstance(supersessions, Supersessions) else ()
    return [one for one in told if one.since is None or one.since <= day]


def superseded(kit: WorkKit, supersessions: Mapping[str, Supersession], day: date,
               item_of: ItemOf = lambda number: None, stages: Sequence[str] = ()) -> WorkKit:
    """A booking's lines with what may be taken for each on a day; a number chosen by hand is superseded like others.

    Where several items take others' place together, the lines of the first way stand among the kit's, those of the
    others in `instead`. `stages`, in order: what is for several lines is wanted at the earliest.
    """
    bound = _bound(kit, supersessions, day, item_of) if isinstance(supersessions, Supersessions) else []
    if not supersessions and not getattr(supersessions, "together", ()):
        return kit
    made = _Lines(kit, bound, item_of, stages)

    def resolved(lines: Iterable[WorkLine]) -> tuple[WorkLine, ...]:
        found: list[WorkLine] = []
        for line in lines:
            if line.need in made.bound:
                found += made.first.get(line.need, ())
            else:
                taken = successors(line.acceptable, supersessions, day)
                found.append(msgspec.structs.replace(line, acceptable=taken) if not line.waits else _waiting(
                    line, taken, supersessions, day))
        return tuple(found)

    return msgspec.structs.replace(
        kit, lines=resolved(kit.lines), extras=resolved(kit.extras), reserves=resolved(kit.reserves),
        instead=tuple(made.others))


def _bound(kit: WorkKit, supersessions: Supersessions, day: date, item_of: ItemOf) -> list[Choice]:
    if not supersessions.together:
        return []
    asks = [Ask(line.need, line.acceptable, line.amount, line.unit, bool(line.circuit))
            for line in kit.must_be_there if line.acceptable]
    asks += [Ask(line.need, line.acceptable, line.amount, line.unit, bool(line.circuit), apart=True)
             for line in kit.reserves if line.acceptable]

    def unit_of(number: str) -> str | None:
        item = item_of(number)
        return item.unit if item else None

    return choices(asks, supersessions, day, unit_of)


def why_ordered(orders: Iterable[OrderRow], supersessions: Supersessions | None) -> dict[str, tuple[str, ...]]:
    """Of the items that orders bring instead of what kits name, why: the needs are named so (see `Part`)."""
    found: dict[str, dict[str, None]] = {}
    told = supersessions.together if supersessions is not None else ()
    for order in orders if told else ():
        items = {one.item for one in order.wanted_for if ">" in one.need}
        for one in told:
            if one.since is None or one.since <= order.ready.date():
                for number in items & {*one.news, *(one.olds if one.rule == "two-way" else ())}:
                    found.setdefault(number, {})[sentence(one)] = None
    return {number: tuple(why) for number, why in found.items()}


def _waiting(line: WorkLine, numbers: tuple[str, ...], supersessions: Mapping[str, Supersession],
             day: date) -> WorkLine:
    """A line that only waits for something: of a group either side may turn out to be taken; and where sets leave
    nothing that it may be filled with alone, what stands for it is said."""
    told = [one for one in together_on(supersessions, day) if set(line.acceptable) & one.olds.keys()]
    for one in told:
        if not one.set:
            numbers = tuple(dict.fromkeys((*numbers, *successors(one.news, supersessions, day))))
    because = () if numbers else tuple(sentence(one) for one in told)
    return msgspec.structs.replace(line, acceptable=numbers, because=because)


class _Lines:
    """The lines of the choices of a kit: `bound` are the needs that they stand for, `first` the lines of each first
    way, by the need in whose place they stand, `others` those of the other ways."""

    def __init__(self, kit: WorkKit, bound: Iterable[Choice], item_of: ItemOf, stages: Sequence[str]) -> None:
        self._item_of, self._stages = item_of, stages
        self._lines = {line.need: line for line in (*kit.lines, *kit.extras, *kit.reserves)}
        self.bound: set[str] = set()
        self.first: dict[str, list[WorkLine]] = {}
        self.others: list[WorkLine] = []
        for choice in bound:
            self.bound |= set(choice.of)
            several = len({way for part in choice.parts for way in part.ways}) > 1
            for part in choice.parts:
                line = self._line(part, choice.name if several else "")
                if 0 in part.ways:
                    self.first.setdefault(part.of[0], []).append(line)
                else:
                    self.others.append(line)

    def _line(self, part: Part, binding: str) -> WorkLine:
        of = [self._lines[name] for name in part.of]
        base = msgspec.structs.replace(
            of[0], need=part.name, acceptable=part.acceptable, amount=part.quantity, unit=part.unit, binding=binding,
            ways=part.ways if binding else (), because=part.because)
        if not part.because:
            return base
        stage = min((line.stage for line in of), key=self._place)
        item = self._item_of(part.acceptable[0]) if part.acceptable else None
        return msgspec.structs.replace(
            base, stage=stage, title=" and ".join(dict.fromkeys(line.title for line in of)),
            name=item.name if item else base.name, item=item.number if item else base.item,
            requirement=None if item else base.requirement, per_visit=False,
            circuit=base.circuit if len(of) == 1 else "")

    def _place(self, stage: str) -> int:
        return self._stages.index(stage) if stage in self._stages else len(self._stages)


def in_any_way(kit: WorkKit, *, reserved: bool) -> tuple[WorkLine, ...]:
    """What must be there in one way or another, or what some answers to open questions take beyond that, in an order
    that doesn't hang on which way is taken."""
    lines = [*(kit.reserves if reserved else kit.must_be_there),
             *(line for line in kit.instead if (_mark(line) == "?") == reserved)]
    return (*(line for line in lines if not line.binding),
            *sorted((line for line in lines if line.binding), key=lambda line: (line.binding, line.ways, line.need)))


def _mark(line: WorkLine) -> str:
    """What a line is there for: open questions in every case (`&`), only by some answers (`?`), or anyway."""
    return line.need[:1] if line.need[:1] in ("&", "?") else ""


def as_taken(kit: WorkKit, there: Collection[str]) -> WorkKit:
    """A kit with the lines of the ways that are taken, by what is `there`: the needs for which something is held or
    ordered. Where nothing is, the first way."""
    if not kit.instead:
        return kit
    every = [*kit.lines, *kit.extras, *kit.reserves, *kit.instead]
    ways: dict[str, set[int]] = {}
    sure: dict[str, set[int]] = {}
    for line in every:
        if line.binding:
            ways.setdefault(line.binding, set()).update(line.ways)
            if line.need in there:
                sure[line.binding] = sure.get(line.binding, set(line.ways)) & set(line.ways)
    taken = {binding: min(sure.get(binding) or found) for binding, found in ways.items()}
    places: dict[tuple[str, str], list[WorkLine]] = {}
    for line in every:
        if line.binding and taken[line.binding] in line.ways:
            places.setdefault((line.binding, _mark(line)), []).append(line)

    def put(lines: Iterable[WorkLine]) -> tuple[WorkLine, ...]:
        # the lines of a binding stand together, where its first one stood
        found: list[WorkLine] = []
        for line in lines:
            found += places.pop((line.binding, _mark(line)), ()) if line.binding else (line,)
        return tuple(found)

    kit = msgspec.structs.replace(
        kit, lines=put(kit.lines), extras=put(kit.extras), reserves=put(kit.reserves),
        instead=tuple(line for line in every if line.binding and taken[line.binding] not in line.ways))
    left = [line for lines in places.values() for line in lines]
    return msgspec.structs.replace(
        kit, lines=(*kit.lines, *(line for line in left if not _mark(line))),
        extras=(*kit.extras, *(line for line in left if _mark(line) == "&")),
        reserves=(*kit.reserves, *(line for line in left if _mark(line) == "?"))) if left else kit
