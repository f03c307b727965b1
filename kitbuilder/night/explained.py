"""Where a booking's lines come from and why, worked out on demand from the last run's quotes and what stands now."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Final, Literal, NamedTuple

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import OPEN, OrderRow, RunRow
from kitbuilder.model.plan import Allocation, Explanation, Need, Plan, Supply
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.sourced import LineSourced, NextBest, Sourcing, Take
from kitbuilder.model.work import WorkLine
from kitbuilder.night.holding import Outcome, another_way
from kitbuilder.night.lost import terms_of
from kitbuilder.night.run import look_back
from kitbuilder.night.standing import standing_plan
from kitbuilder.night.supplies import NOW, refused_of, without
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.show.sourced import Terms, cost_words, lost_words
from kitbuilder.stock.explain import Explainer
from kitbuilder.store import orders as ordering
from kitbuilder.store import runs
from kitbuilder.store.holds import holds
from kitbuilder.workshop.needs import is_reserve
from kitbuilder.workshop.work import Work, items_of

#: So long, in seconds, all that is told of one line may take to be worked out.
SECONDS: Final = 20.0

#: Source, item and slot: how much.
_Ways = dict[tuple[str, str, str], int]


class _Stands(NamedTuple):
    """What is held for a booking here; the open orders that bring something for it."""

    holds: list[HoldRow]
    orders: list[OrderRow]


class _Planned(NamedTuple):
    """What a run would plan now, what it is made from, and what explains it; whether something is picked by now."""

    plan: Plan
    needs: dict[str, Need]
    supplies: list[Supply]
    explainer: Explainer
    terms: Terms
    shelf: str
    picked: bool


def lines_asked(work: Work, asked: str) -> list[WorkLine]:
    """A booking's lines after edits, with what its open questions take, that an item, a requirement or a role names."""
    lines = (*work.lines.lines, *work.lines.extras, *work.lines.reserves, *work.lines.instead)
    return [line for line in lines if asked in (line.role, line.item, line.requirement, line.filler, *line.acceptable)]


def sourcing(around: Surroundings, work: Work, lines: Sequence[WorkLine], *, seconds: float = SECONDS) -> Sourcing:
    """Where some lines of a booking come from by the last run of its site, and why. Nothing is changed."""
    booking, store = work.booking, around.store
    stands = _Stands(holds(store, booking.number), [
        order for order in ordering.orders(store, booking.site, OPEN)
        if any(one.booking == booking.number for one in order.wanted_for)])
    row = runs.last_done(store, booking.site)
    if row is None:
        return Sourcing(run="", as_of="", state="no run", lines=(), told=(
            f"No run of {booking.site} is done, so nothing was sourced. Start one: kitbuilder night run.",))
    items = items_of(around.edition, [work], [one.item for one in stands.holds])
    planned = _planned(around, row, items, booking)
    found = [_Line(work, line, stands, items, planned, row, seconds).told() for line in lines]
    as_of = f"{to_wall(row.now, booking.zone):%Y-%m-%dT%H:%M}"
    state: Literal["as planned", "changed", "not looked at"] = "as planned"
    told = [f"This goes by what the sources said at {as_of.replace('T', ' ')}, in the run for {row.day}, and by the "
            "holds and orders that stand now."]
    if planned is None:
        state = "not looked at"
        told = [f"The last run, for {row.day}, did not look at booking {booking.number}: it is outside its window, or "
                "has no kit since."]
        return Sourcing(run=row.day.isoformat(), as_of=as_of, state=state, lines=tuple(found), told=tuple(told))
    if any(line.would_take is not None for line in found):
        state = "changed"
        told.append("Something has changed since: by the same quotes a run would now plan otherwise than what stands.")
    if planned.picked:
        told.append("What is picked by now, for whomever, is not weighed any more.")
    return Sourcing(run=row.day.isoformat(), as_of=as_of, state=state, lines=tuple(found), told=tuple(told))


def _planned(around: Surroundings, row: RunRow, items: Mapping[str, Item], booking: Booking) -> _Planned | None:
    """What the run would plan with what stands now; None if it doesn't look at the booking."""
    built, case, orders = look_back(around, row)
    if booking.number not in built.works:
        return None
    shelf = next((one.source for one in case.found.supplies if one.own and not one.transfer), "")
    supplies = without(case.found.supplies, refused_of(case.cancelled, case.asked.needs, case.found.supplies))
    outcome = msgspec.json.decode(row.steps["hold"], type=Outcome)
    plan = standing_plan(case, orders, outcome, supplies, shelf, row.now)
    if plan is None:
        plan, refused, _ = another_way(case.asked, case.found.supplies, case.cancelled, row.now)
        supplies = without(case.found.supplies, refused)
    every = {**items_of(around.edition, list(built.works.values())), **items}
    terms = terms_of(plan, case.asked.needs, every, around.edition.heading.currency)
    return _Planned(plan, {need.name: need for need in case.asked.needs}, supplies,
                    Explainer(plan, case.asked.needs, supplies, row.now), terms, shelf,
                    any(hold.state in ("picking", "picked") for hold in case.holds))


class _Line(NamedTuple):
    """What is told of one line."""

    work: Work
    line: WorkLine
    stands: _Stands
    items: Mapping[str, Item]
    planned: _Planned | None
    row: RunRow
    seconds: float

    @property
    def need(self) -> str:
        return f"{self.work.booking.number}/{self.line.need}"

    def told(self) -> LineSourced:
        """All of it."""
        line, planned = self.line, self.planned
        asked = planned.needs.get(self.need) if planned is not None else None
        would = lost = None
        following: NextBest | None = None
        said = [*self._said(asked), *line.because]
        if planned is not None and asked is not None:
            mine = [one for one in planned.plan.allocations if one.need == self.need]
            if _ways(mine) != self._weighed(planned.shelf):
                would = tuple(self._offered(one, planned) for one in mine)
            why = planned.explainer.need(self.need, seconds=self.seconds)
            following = self._next_best(why, planned)
            if following is None and not why.worked_out:
                said.append("What another way would cost was not worked out in time.")
            lost = self._lost(asked, planned)
        return LineSourced(
            need=self.need, title=line.title, amount=amount.show(line.amount), unit=line.unit,
            name=f"{line.name} ({line.item or line.requirement})", wanted_at=self._wall(self.work.starts[line.stage]),
            takes=tuple(self._takes()), would_take=would, next_best=following, lost=lost or (), told=tuple(said))

    def _said(self, asked: Need | None) -> list[str]:
        """Why nothing was weighed for the line, where nothing was."""
        line = self.line
        if asked is not None or self.planned is None:
            return []
        if line.sort == "special tool":
            return ["A special tool comes back: it is looked for in its store, and not sourced."]
        if is_reserve(self.need):
            return ["Only some answer to an open question takes it: it is held from what the shelf has left, never "
                    "ordered."]
        if not line.wanted and line.waits:
            return ["It waits for what turns up: nothing is held or ordered for it by itself."]
        if not line.wanted:
            return ["It hangs on an open question: what every answer takes in any case is a line of its own."]
        if self.work.booking.state != "authorised":
            return ["The booking isn't authorised: it gets what the others leave on the shelf, and nothing is ordered "
                    "for it."]
        return ["Nothing is left to be weighed: what is picked, or was ordered before the last run, fills it."]

    def _takes(self) -> Iterable[Take]:
        """What is held and what is to come for it."""
        shelf = (self.planned.shelf if self.planned is not None else "") or "shelf"
        for hold in self.stands.holds:
            if hold.need == self.need:
                yield Take(amount.show(hold.quantity), hold.unit, hold.item, self._name(hold.item), shelf, hold.bin,
                           hold.state, hold.lot)
        for order in self.stands.orders:
            units = {line.item: line.unit for line in order.lines}
            for one in order.wanted_for:
                if one.need == self.need and one.quantity:
                    yield Take(amount.show(one.quantity), units.get(one.item, self.line.unit), one.item,
                               self._name(one.item), order.source, order.slot, order.state, order=order.id,
                               ready=self._wall(order.expected_at or order.ready))

    def _weighed(self, shelf: str) -> _Ways:
        """What stands of all that the last run could weigh: what is only planned, proposed, or decided since."""
        found: _Ways = {}
        for hold in self.stands.holds:
            if hold.need == self.need and hold.state == "planned":
                key = (shelf, hold.item, NOW)
                found[key] = found.get(key, 0) + hold.quantity
        for order in self.stands.orders:
            for one in order.wanted_for:
                weighed = order.state == "proposed" or (
                    order.decided_at is not None and order.decided_at >= self.row.now)
                if one.need == self.need and weighed and one.quantity:
                    key = (order.source, one.item, order.slot)
                    found[key] = found.get(key, 0) + one.quantity
        return found

    def _next_best(self, why: Explanation, planned: _Planned) -> NextBest | None:
        if why.next_best is None:
            return None
        other = why.next_best
        return NextBest(tuple(self._offered(one, planned) for one in other.takes), other.worse_in, other.by,
                        cost_words(other, planned.terms))

    def _lost(self, asked: Need, planned: _Planned) -> tuple[str, ...]:
        """Why the booking is late or short, if it is and this line has a part in it."""
        if asked.booking not in planned.explainer.late():
            return ()
        lost = planned.explainer.booking(asked.booking, seconds=self.seconds)
        return tuple(lost_words(lost, planned.terms)) if self.need in lost.needs or not lost.worked_out else ()

    def _offered(self, one: Allocation, planned: _Planned) -> Take:
        quote = next(supply.quote for supply in planned.supplies if supply.source == one.source)
        unit = next(offer.unit for offer in quote.offers if (offer.item, offer.lot) == (one.item, one.lot))
        ready = next(slot.ready for slot in quote.slots if slot.name == one.slot)
        lies = one.source == planned.shelf
        return Take(amount.show(one.quantity), unit, one.item, self._name(one.item), one.source,
                    "" if lies else one.slot, "offered", one.lot, ready="" if lies else self._wall(ready))

    def _name(self, number: str) -> str:
        return self.items[number].name if number in self.items else number

    def _wall(self, moment: datetime) -> str:
        return f"{to_wall(moment, self.work.booking.zone):%Y-%m-%dT%H:%M}"


def _ways(allocations: Iterable[Allocation]) -> _Ways:
    found: _Ways = {}
    for one in allocations:
        key = (one.source, one.item, one.slot)
        found[key] = found.get(key, 0) + one.quantity
    return found
