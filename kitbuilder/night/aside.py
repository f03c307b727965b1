"""What to set aside in the workshop for what the findings of a day's bookings may bring: a reserve that they share.

A bay waits from the moment at which a finding shows, the start of its first line's stage, until what it brings is
there: some minutes from the shelf, else until a supplier's next arrival that can still be ordered then, counted in the
site's working time; and never dearer than a job stopped.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from fractions import Fraction

from kitbuilder import amount
from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.calendar.working import working_minutes
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.along import Turn, together, what_may_turn_out
from kitbuilder.kit.along_choice import MOST_TURNS
from kitbuilder.kit.conditions import Conditions
from kitbuilder.model.along import SetAside
from kitbuilder.model.offer import Quote
from kitbuilder.model.shelf import ShelfLot
from kitbuilder.model.work import WorkLine
from kitbuilder.stock.reserve import Draw, Outcome, Reserve, reserves
from kitbuilder.workshop.work import Work


def set_aside(site: Site, day: date, works: Sequence[Work], edition: Edition, conditions: Conditions,
              shelf: Sequence[ShelfLot], outside: Sequence[Quote]) -> tuple[SetAside, ...]:
    """The reserve of a day. `shelf`: what lies there, with what is held of it; `outside`: what suppliers answered.

    It counts what is certain but for its finding, in authorised bookings that start on the day and go nowhere; lines
    that hang on an open question are to be asked for first.
    """
    return _Day(site, day, edition, conditions, shelf, outside).rows(works)


class _Day:
    def __init__(self, site: Site, day: date, edition: Edition, conditions: Conditions, shelf: Sequence[ShelfLot],
                 outside: Sequence[Quote]) -> None:
        self._site, self._day, self._edition, self._conditions = site, day, edition, conditions
        self._outside = outside
        self._lots = [lot for lot in shelf if lot.free > 0 and (lot.use_by is None or lot.use_by >= day)]
        self._free: dict[str, int] = {}
        for lot in self._lots:
            self._free[lot.item] = self._free.get(lot.item, 0) + lot.free * _size(lot.unit)

    def rows(self, works: Sequence[Work]) -> tuple[SetAside, ...]:
        """What to set aside from what the shelf has to spare, and what more would be worth having."""
        drawn = sorted((draw for work in works if self._counts(work) for draw in self._draws(work)),
                       key=lambda one: (one[0], one[1].booking))
        draws = [draw for _, draw in drawn]
        things = {name for draw in draws for outcome in draw.outcomes for name in outcome.takes}
        costs = {name: Fraction(self._conditions.reserve) for name in things}
        here = {name: self._free.get(name, 0) for name in things}
        wished = {one.thing: one for one in reserves(draws, here, costs)}
        return tuple(
            self._row(one, max(0, wished[one.thing].amount - one.amount)) for one in reserves(draws, here, costs, here)
            if (one.amount or wished[one.thing].amount) and self._edition.known_item(one.thing) is not None)

    def _counts(self, work: Work) -> bool:
        if work.booking.state != "authorised" or to_wall(work.booking.start, self._site.zone).date() != self._day:
            return False
        # None: a kit built before the catalogue had the fact
        place = next((one for one in work.kit.facts if one.fact == self._conditions.place), None)
        return place is None or not set(place.values) <= set(self._conditions.away)

    def _draws(self, work: Work) -> list[tuple[datetime, Draw]]:
        """What may turn out in a booking, parted into what has nothing to do with each other, and when it shows."""
        takes: dict[str, dict[str, int]] = {}
        shows: dict[str, datetime] = {}
        waits: dict[str, tuple[str, ...]] = {}
        for line in work.lines.lines:
            if line.finding is None or line.finding not in self._edition.findings or not _counted(line):
                continue
            thing = next((one for one in line.acceptable if self._free.get(one)), line.acceptable[0])
            of = takes.setdefault(line.finding, {})
            of[thing] = of.get(thing, 0) + line.amount * _size(line.unit)
            waits[thing] = line.acceptable
            shows[line.finding] = min(shows.get(line.finding, work.starts[line.stage]), work.starts[line.stage])
        findings = self._edition.findings
        turns = [
            Turn(name, Fraction(*findings[name].chance), of, tuple(one for one in findings[name].covered_by
                                                                   if one in takes)) for name, of in takes.items()]
        parts: list[list[Turn]] = []
        for part in together(turns, {name for of in takes.values() for name in of}):
            # too many to look at together: each by itself, which waits for what a cover would have made needless, too
            parts += [part] if len(part) <= MOST_TURNS else [[turn] for turn in part]
        moments = [min(shows[turn.name] for turn in part) for part in parts]
        return [(moment, self._draw(work.booking.number, part, moment, waits))
                for moment, part in zip(moments, parts, strict=True)]

    def _draw(self, booking: int, part: Sequence[Turn], moment: datetime,
              acceptable: Mapping[str, tuple[str, ...]]) -> Draw:
        things = {name for turn in part for name in turn.takes}
        chances: dict[tuple[tuple[str, int], ...], Fraction] = {}
        for chance, takes in what_may_turn_out(part, things):
            key = tuple(sorted((takes or {}).items()))
            chances[key] = chances.get(key, Fraction(0)) + chance
        return Draw(
            booking, tuple(Outcome(chance, dict(key)) for key, chance in chances.items() if key),
            self._worth(self._conditions.fetch),
            {name: self._wait(acceptable[name], moment) for name in things})

    def _wait(self, acceptable: Sequence[str], moment: datetime) -> Fraction:
        """What it costs to wait, from a moment on, for one of some items to come from outside."""
        ready = [
            slot.ready for quote in self._outside for slot in quote.slots
            if slot.ready > moment and (slot.cut_off is None or slot.cut_off > moment) and any(
                offer.item in acceptable and offer.pool != 0 and any(one.slot == slot.name for one in offer.arrivals)
                for offer in quote.offers)]
        stopped = Fraction(self._conditions.stopped)
        return min(stopped, self._worth(working_minutes(self._site, moment, min(ready)))) if ready else stopped

    def _worth(self, minutes: int) -> Fraction:
        return Fraction((self._conditions.hour or 0) * minutes, 60)

    def _row(self, one: Reserve, more: int) -> SetAside:
        item, currency = self._edition.item(one.thing), self._edition.heading.currency
        size = _size(item.unit)

        def money(minor: Fraction) -> str:
            return amount.show_money(round(minor), currency)

        bins = sorted({lot.bin for lot in self._lots if lot.item == one.thing}) if one.amount else ()
        return SetAside(
            item.number, item.name, amount.show(one.amount // size), amount.show(one.most // size), item.unit,
            one.bookings, tuple(bins), money(one.cost), money(one.left_out), amount.show(more // size), currency,
            one.proven)


def _counted(line: WorkLine) -> bool:
    return line.certainty == "certain" and not line.advised and not line.along and bool(
        line.acceptable) and line.sort != "special tool"


def _size(unit: str) -> int:
    """How many of its quantity's smallest unit a unit is."""
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1
