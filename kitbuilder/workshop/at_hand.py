"""When a job's lines are to hand, by what the stock sources answer, and when the job can then be done.

What lies on the shelf is to hand now, what a supplier has from when its slot is ready (while its cut-off has not
passed). Packs and least amounts of an order don't change that. A line is filled from one item, and so are all lines of
one circuit.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import in_utc
from kitbuilder.calendar.working import add_working, next_opening
from kitbuilder.kit.stages import StageMinutes
from kitbuilder.model.offer import Offer
from kitbuilder.stock.quoting import Answer
from kitbuilder.workshop.charges import smallest


class Wanted(NamedTuple):
    """A line that a stage needs: an amount in milli-units, the items that may fill it (best first), its circuit."""

    stage: str
    name: str
    milli: int
    unit: str
    items: tuple[str, ...]
    circuit: str = ""


class Late(NamedTuple):
    """A line that a stage waits for: until when, None where nothing brings it; `unsure` where a source failed."""

    line: Wanted
    until: datetime | None
    unsure: bool


class Finish(NamedTuple):
    """When each stage starts at the earliest (what nothing brings left aside), when all is done (`earliest` and, if
    what is open takes the most, `latest`; None where something certain doesn't come), and what is waited for."""

    starts: Mapping[str, datetime]
    earliest: datetime | None
    latest: datetime | None
    late: tuple[Late, ...]


class _Arrival:
    """What may come of an offer at one moment, in thousandths of the smallest unit; `pool` is shared by the offer."""

    def __init__(self, ready: datetime, most: int | None, pool: list[int | None]) -> None:
        self.ready, self.most, self.pool = ready, most, pool

    def left(self) -> int | None:
        limits = [one for one in (self.most, self.pool[0]) if one is not None]
        return min(limits) if limits else None

    def take(self, taken: int) -> None:
        if self.most is not None:
            self.most -= taken
        if self.pool[0] is not None:
            self.pool[0] -= taken


class Shelves:
    """What all sources have, from which lines take in turn."""

    def __init__(self, answers: Sequence[Answer], now: datetime) -> None:
        self._now = in_utc(now)
        self._arrivals: dict[str, list[_Arrival]] = {}
        self._unreadable: set[str] = set()
        self._failed = any(answer.quote is None for answer in answers)
        for answer in answers:
            if answer.quote is None:
                continue
            self._unreadable |= set(answer.quote.unreadable)
            slots = {slot.name: slot for slot in answer.quote.slots}
            for offer in answer.quote.offers:
                self._add(offer, {name: slot.ready for name, slot in slots.items()
                                  if slot.cut_off is None or slot.cut_off > now})
        for arrivals in self._arrivals.values():
            arrivals.sort(key=lambda one: one.ready)

    def _add(self, offer: Offer, ready: Mapping[str, datetime]) -> None:
        pool = [None if offer.pool is None else smallest(offer.pool, offer.unit)]
        self._arrivals.setdefault(offer.item, []).extend(
            _Arrival(max(in_utc(ready[one.slot]), self._now),
                     None if one.most is None else smallest(one.most, offer.unit), pool)
            for one in offer.arrivals if one.slot in ready)

    def unsure(self, items: Sequence[str]) -> bool:
        """Whether a source failed that might have one of some items."""
        return self._failed or bool(self._unreadable & set(items))

    def ready(self, item: str, wanted: int) -> datetime | None:
        """When so much of an item, beyond what is taken, is to hand; None if it never is. In thousandths of the
        smallest unit."""
        return self._draw(item, wanted, False)

    def take(self, item: str, wanted: int) -> datetime | None:
        """As `ready`, and it is then taken, the earliest first; nothing is taken of what doesn't suffice."""
        return self._draw(item, wanted, True) if self.ready(item, wanted) is not None else None

    def _draw(self, item: str, wanted: int, keep: bool) -> datetime | None:
        taken: list[tuple[_Arrival, int]] = []
        ready = None
        for arrival in self._arrivals.get(item, ()):
            if wanted <= 0:
                break
            left = arrival.left()
            part = wanted if left is None else min(left, wanted)
            if part > 0:
                arrival.take(part)
                taken.append((arrival, part))
                ready, wanted = arrival.ready, wanted - part
        if not keep:
            for arrival, part in taken:
                arrival.take(-part)
        return None if wanted > 0 else ready

    def first(self, lines: Sequence[Wanted], *, take: bool) -> datetime | None:
        """When some lines that must be filled from one item are all to hand: from the item that is there first, the
        better one of those that are there at once."""
        if not lines:
            return self._now
        amount = sum(smallest(line.milli, line.unit) for line in lines)
        common = [item for item in lines[0].items if all(item in line.items for line in lines)]
        found = [(ready, place, item) for place, item in enumerate(common)
                 if (ready := self.ready(item, amount)) is not None]
        if not found:
            return None
        ready, _, item = min(found)
        if take:
            self.take(item, amount)
        return ready


def finish(site: Site, start: datetime, stages: Sequence[StageMinutes], certain: Sequence[Wanted],
           possible: Sequence[Wanted], shelves: Shelves | None) -> Finish:
    """When a job that starts at `start` is done, each stage when its lines are to hand and the site works.

    `earliest`: the least minutes and only the certain lines. `latest`: the most minutes, and every line that is only
    possible too, each of these asked for by itself behind the certain ones. Without shelves all counts as there.
    Certain lines take from the shelves, which are changed by it.
    """
    ready: list[tuple[Wanted, datetime | None]] = []
    for lines in _together(certain):
        when = shelves.first(lines, take=True) if shelves else start
        ready += [(line, when) for line in lines]
    late = [(line, shelves.first([line], take=False) if shelves else start) for line in possible]
    starts, earliest, waits = _run(site, start, [(one.name, one.least, one.cure_least) for one in stages], ready)
    _, latest, _ = _run(site, start, [(one.name, one.most, one.cure_most) for one in stages], ready + late)
    if any(when is None for _, when in ready):
        earliest = latest = None
    elif any(when is None for _, when in late):
        latest = None
    found = tuple(Late(line, when, when is None and shelves is not None and shelves.unsure(line.items))
                  for line, when in waits)
    return Finish(starts, earliest, latest, found)


def _together(lines: Sequence[Wanted]) -> list[list[Wanted]]:
    """Lines of one circuit together, the others alone, in the order of their first."""
    groups: dict[object, list[Wanted]] = {}
    for number, line in enumerate(lines):
        groups.setdefault(line.circuit or number, []).append(line)
    return list(groups.values())


def _run(site: Site, start: datetime, stages: Sequence[tuple[str, int, int]],
         ready: Sequence[tuple[Wanted, datetime | None]],
         ) -> tuple[dict[str, datetime], datetime | None, list[tuple[Wanted, datetime | None]]]:
    """The stages one after the other, each with its working minutes and those by the clock that sealant then cures:
    their starts, the end of the last, and the lines that hold a stage up."""
    starts, waits = {}, []
    at = in_utc(start)
    for name, minutes, cure in stages:
        at = next_opening(site, at)
        lines = [(line, when) for line, when in ready if line.stage == name]
        waits += [(line, when) for line, when in lines if when is None or in_utc(when) > at]
        begin = next_opening(site, max([at, *(in_utc(when) for _, when in lines if when is not None)]))
        starts[name] = begin
        at = add_working(site, begin, minutes) + timedelta(minutes=cure)
    return starts, at, waits
