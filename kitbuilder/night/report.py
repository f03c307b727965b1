"""The morning report: first what needs a person, then every booking by its state."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.kit import Question
from kitbuilder.model.order import EXPECTED, UNDER_WAY, OrderRow
from kitbuilder.model.shelf import HoldRow, ShelfLot
from kitbuilder.model.work import BookingReport, Gate, Report
from kitbuilder.night.kits import Built
from kitbuilder.night.transfers import bringing
from kitbuilder.workshop.gate import gate, risks_of
from kitbuilder.workshop.work import Work

_ORDER = ("needs a person", "ready", "ready by stage", "ask first", "not ready", "enquiry")


class Known(NamedTuple):
    """What is known when a run ends: all bookings, the site's holds and open orders; items by number; whether every
    source could be asked; what lies on the shelf of the items that are needed."""

    bookings: Sequence[Booking]
    holds: Sequence[HoldRow]
    orders: Sequence[OrderRow]
    items: Mapping[str, Item]
    all_asked: bool = True
    shelf: Sequence[ShelfLot] = ()


def gate_of(work: Work, holds: Sequence[HoldRow], orders: Sequence[OrderRow], items: Mapping[str, Item],
            now: datetime, warnings: Sequence[str] = ()) -> Gate:
    """A booking's start gate, with what open questions and findings may bring."""
    return gate(
        work.booking, work.lines, work.stages, work.starts, holds, orders, items, now, risks_of(work.lines), warnings,
        problems=problems_of(work), ask=[one.question for one in asked(work)])


def asked(work: Work) -> list[Question]:
    """The questions whose answer some line hangs on; others only make an answer likelier."""
    kit = work.kit
    hung = {fact for line in kit.lines for fact in line.hangs_on}
    hung |= {fact for one in kit.nothing for fact in one.hangs_on} | {
        fact for one in kit.problems for fact in one.hangs_on}
    return [one for one in kit.questions if one.fact in hung]


def problems_of(work: Work) -> list[str]:
    """Why nobody knows what fits: what the catalogue lacks for this vehicle, edits that can't be carried out."""
    found = [problem.text for problem in work.kit.problems if problem.certainty == "certain"]
    return found + [conflict.text for conflict in work.lines.conflicts]


def report(site: Site, day: date, now: datetime, since: datetime, built: Built, known: Known, failed: Sequence[str],
           attention: Sequence[str], proven: bool) -> Report:
    """The report of a site's window, with what is at work before it if it goes on into it (`since`).

    `failed`: sources, diaries and registers that failed, in words; `attention`: what else is to be looked at.
    """
    holds, orders = _by_booking(known)
    rows = []
    for booking in built.bookings:
        work = built.works.get(booking.number)
        if booking.start < since and (work is None or work.finish <= since):
            continue
        rows.append(_booking(booking, work, built.wrong(booking.number), holds.get(booking.number, []),
                             orders.get(booking.number, []), known, now))
    rows.sort(key=lambda row: (_ORDER.index(row.state), row.start, row.booking))
    told = [*failed, *_orders(site, known, now), *_left_over(built, known), *attention,
            *_past_use_by(known, to_wall(now, site.zone).date())]
    return Report(
        warnings=tuple(failed), site=site.name, day=day.isoformat(), now=now, attention=tuple(dict.fromkeys(told)),
        bookings=tuple(rows), proven=proven)


def _by_booking(known: Known) -> tuple[dict[int, list[HoldRow]], dict[int, list[OrderRow]]]:
    """Holds and orders of each booking: a thousand bookings would else each look through all of them."""
    holds: dict[int, list[HoldRow]] = {}
    for hold in known.holds:
        holds.setdefault(hold.booking, []).append(hold)
    orders: dict[int, list[OrderRow]] = {}
    for order in known.orders:
        of: dict[int, list[int]] = {}
        for place, one in enumerate(order.wanted_for):
            of.setdefault(one.booking, []).append(place)
        for booking, places in of.items():
            orders.setdefault(booking, []).append(
                msgspec.structs.replace(order, wanted_for=tuple(order.wanted_for[place] for place in places)))
    return holds, orders


def _booking(booking: Booking, work: Work | None, wrong: Sequence[str], holds: Sequence[HoldRow],
             orders: Sequence[OrderRow], known: Known, now: datetime) -> BookingReport:
    why = list(wrong)
    if booking.missing:
        why.append("it vanished from its diary: cancel it, or put it back there")
    if work is not None:
        why += problems_of(work)
    if why or work is None:
        return _row(booking, "needs a person", why or ["it has no kit"])
    if booking.state == "enquiry":
        return _row(booking, "enquiry", ["not authorised: nothing is ordered for it"])
    answer = gate_of(work, holds, orders, known.items, now)
    new = tuple(dict.fromkeys(text for line in work.lines.must_be_there for text in line.because))
    if answer.answer == "don't start":
        missing = [text for stage in answer.stages for text in stage.missing]
        if missing and not known.all_asked:
            missing.append("not every source could be asked: it may be there all the same")
        return _row(booking, "not ready", [*missing, *_arrivals(booking, answer, late=True), *new])
    if work.kit.questions:
        return _row(booking, "ask first", [one.question for one in asked(work)[:2]])
    if answer.answer == "start, but":
        return _row(booking, "ready by stage", [*_arrivals(booking, answer, late=False), *new])
    return _row(booking, "ready", new)


def _arrivals(booking: Booking, answer: Gate, late: bool) -> list[str]:
    """What is still to come: all of it, or what comes too late."""
    return [
        f"{one.amount} {one.unit} {one.name} ({one.item}) from {one.source}, {one.sureness} for "
        f"{_wall(datetime.fromisoformat(one.ready), booking.zone)}: "
        f"{'too late for' if one.margin_min < 0 else 'before'} stage {stage.stage}"
        for stage in answer.stages for one in stage.evidence
        if one.sureness in ("promised", "overdue") and (one.margin_min < 0 or not late)]


def _row(booking: Booking, state: str, why: Sequence[str]) -> BookingReport:
    return BookingReport(
        booking=booking.number, start=booking.start_wall, job=booking.job, registration=booking.registration,
        priority=booking.priority, visit=booking.visit, state=state,  # type: ignore[arg-type]
        why=tuple(dict.fromkeys(why)))


def _orders(site: Site, known: Known, now: datetime) -> list[str]:
    """Orders that somebody has to decide on, or to ask after."""
    found = []
    for order in known.orders:
        said = f" ({order.said})" if order.said else ""
        name = f"Order {order.id} at {order.source}"
        before = f" before {_wall(order.cut_off, site.zone)}" if order.cut_off else ""
        if order.from_site:
            found += bringing(order, site.zone, now)
        elif order.state == "proposed":
            numbers = sorted({one.booking for one in order.wanted_for})
            whom = f", for booking{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}" if numbers else ""
            found.append(f"{name}{whom}, waits for a decision{before}{said}: "
                         f"kitbuilder order approve {order.id} --by NAME")
        elif order.state == "approved":
            found.append(f"{name} is approved and not sent{said}. Ring them up{before}, then: kitbuilder order sent "
                         f"{order.id} --by NAME")
        elif order.state in ("unclear", "sending"):
            found.append(f"{name} is unclear{said}: ask them whether they have it, then: kitbuilder order settle "
                         f"{order.id} --accepted --by NAME (or --not-accepted). It isn't sent again by itself.")
        elif order.state == "changed":
            found.append(f"{name} was changed by the supplier{said}: kitbuilder order take {order.id} --by NAME, or "
                         f"order cancel {order.id}")
        elif order.state == "refused" and order.ready > now:
            found.append(f"{name} was refused{said}: nothing of it comes.")
        elif order.state == "cancelled" and order.said and order.ready > now:
            found.append(f"{name} is cancelled, but {order.said}.")
        elif order.state in EXPECTED:
            parts = order.awaited
            late = {when: f" ({', '.join(items)})" if len(parts) > 1 else "" for when, items in parts.items()
                    if when < now}
            found += [f"{name}{which} was expected at {_wall(when, site.zone)} and isn't booked in: ask after it."
                      for when, which in late.items()]
    return found


def _left_over(built: Built, known: Known) -> list[str]:
    """What is picked or ordered for bookings that don't need it any more: only a person moves that."""
    by_number = {one.number: one for one in known.bookings}
    accepted = {
        f"{number}/{line.need}": line.acceptable for number, work in built.works.items()
        for line in (*work.lines.must_be_there, *work.lines.reserves)}

    def why(number: int, need: str, item: str) -> str:
        booking = by_number.get(number)
        if booking is None or booking.state == "cancelled":
            return "which is cancelled"
        if number in built.works and item not in accepted.get(need, ()):
            return "which doesn't need it any more"
        return ""

    found = []
    for hold in known.holds:
        reason = why(hold.booking, hold.need, hold.item) if hold.state in ("picking", "picked") else ""
        if reason:
            found.append(f"{amount.show(hold.quantity)} {hold.unit} of {_name(hold.item, known.items)} is {hold.state} "
                         f"for booking {hold.booking}, {reason}: put it back to {hold.bin}.")
    for order in known.orders:
        units = {line.item: line.unit for line in order.lines}
        for one in order.wanted_for if order.state in UNDER_WAY else ():
            reason = why(one.booking, one.need, one.item)
            if reason:
                what = f"{amount.show(one.quantity)} {units[one.item]} of {_name(one.item, known.items)}"
                found.append(f"Order {order.id} at {order.source} brings {what} for booking {one.booking}, {reason}.")
    return found


def _past_use_by(known: Known, today: date) -> list[str]:
    """What lies on the shelf past its day: it isn't used, and should go before somebody takes it."""
    return [
        f"{amount.show(lot.on_hand)} {lot.unit} of {_name(lot.item, known.items)}"
        f"{f', lot {lot.lot},' if lot.lot else ''} in {lot.bin} was to be used by {lot.use_by}: "
        "it isn't held for anything; take it out."
        for lot in known.shelf if lot.use_by is not None and lot.use_by < today and lot.on_hand and not lot.quarantine]


def _name(number: str, items: Mapping[str, Item]) -> str:
    return f"{items[number].name} ({number})" if number in items else number


def _wall(moment: datetime, zone: str) -> str:
    return f"{to_wall(moment, zone):%Y-%m-%d %H:%M}"
