"""Special tools come back: each is had for a stage's window, and who wants one at the same time as others is told."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.catalogue import Item
from kitbuilder.model.offer import Quote
from kitbuilder.model.shelf import ShelfLot
from kitbuilder.stock.tools import DoubleUse, ToolUse, choices, double_uses
from kitbuilder.workshop.work import Work


class Tools(NamedTuple):
    """What is known of tools: what lies on the site's shelf, what other sites have and by which van it could come."""

    shelf: Sequence[ShelfLot]
    elsewhere: Sequence[Quote]
    items: Mapping[str, Item]


def tools_told(works: Collection[Work], known: Tools, zone: str) -> list[str]:
    """Where bookings together want more of a tool at one time than there is of it, in words: nothing is moved, a person
    decides who waits or where it is borrowed.

    What lies in quarantine isn't there. Of a tool that isn't kept in the store there is one. Where several will do,
    all of them count for whoever takes any of them.
    """
    wanted = [
        (frozenset(line.acceptable), work.starts[line.stage], work.ends[line.stage], work.booking.number,
         -(-line.amount // 1000))
        for work in works for line in work.lines.lines
        if line.sort == "special tool" and line.wanted and line.acceptable]
    found: list[str] = []
    for tools in choices({one[0] for one in wanted}):
        name = " or ".join(sorted(tools))
        uses = [ToolUse(name, start, end, booking, count)
                for acceptable, start, end, booking, count in wanted if acceptable <= tools]
        for one in _joined(double_uses(uses, {name: _there(tools, known.shelf)})):
            found.append(_told(tools, one, known, zone))
    return list(dict.fromkeys(found))


def _there(tools: Collection[str], shelf: Iterable[ShelfLot]) -> int:
    kept = [lot for lot in shelf if lot.item in tools]
    return sum(lot.on_hand for lot in kept if not lot.quarantine) // 1000 if kept else 1


def _joined(uses: Sequence[DoubleUse]) -> list[DoubleUse]:
    """Windows that touch as one: of three jobs that overlap, what is to be decided is one thing."""
    found: list[DoubleUse] = []
    for use in uses:
        last = found[-1] if found else None
        if last is not None and last.end == use.start:
            found[-1] = msgspec.structs.replace(
                last, end=use.end, bookings=tuple(sorted({*last.bookings, *use.bookings})),
                wanted=max(last.wanted, use.wanted))
        else:
            found.append(use)
    return found


def _told(tools: Collection[str], one: DoubleUse, known: Tools, zone: str) -> str:
    name = " or ".join(
        f"{known.items[tool].name} ({tool})" if tool in known.items else tool for tool in sorted(tools))
    several = len(one.bookings) > 1
    by = f"bookings {', '.join(map(str, one.bookings))} at the same time" if several else f"booking {one.bookings[0]}"
    start, end = to_wall(one.start, zone), to_wall(one.end, zone)
    until = f"{end:%H:%M}" if end.date() == start.date() else f"{end:%Y-%m-%d %H:%M}"
    text = (f"{name} is wanted by {by}, from {start:%Y-%m-%d %H:%M} to {until}: {one.wanted} in all, and there is "
            f"{one.there}.")
    return " ".join([text, *_borrowed(tools, one.start, known.elsewhere, zone)])


def _borrowed(tools: Collection[str], start: datetime, quotes: Sequence[Quote], zone: str) -> list[str]:
    """Which other sites have one, and when their next van, or the last that is in time, is here."""
    found = []
    for quote in quotes:
        offers = [offer for offer in quote.offers if offer.item in tools and offer.pool]
        slots = sorted((slot for slot in quote.slots for offer in offers
                        if any(arrival.slot == slot.name for arrival in offer.arrivals)), key=lambda slot: slot.ready)
        if not slots:
            continue
        has = amount.show(sum(offer.pool or 0 for offer in offers))
        last = next((slot for slot in reversed(slots) if slot.ready <= start), None)
        when = to_wall((last or slots[0]).ready, zone)
        found.append(f"{quote.site} has {has}, if it isn't needed there then: " + (
            f"a van brings it by {when:%Y-%m-%d %H:%M}." if last else
            f"the next van is here at {when:%Y-%m-%d %H:%M}, too late for that."))
    return found
