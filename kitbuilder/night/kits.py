"""The kits of a night: which bookings, built from what is known of each, those of one visit together."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.working import add_working
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import KitbuilderError
from kitbuilder.kit.conditions import Conditions
from kitbuilder.kit.stages import stage_minutes
from kitbuilder.model.booking import Booking
from kitbuilder.night.vehicles import Registers
from kitbuilder.night.window import DAYS_BACK, sourced_from, window_of
from kitbuilder.store import bookings
from kitbuilder.store.database import Store
from kitbuilder.workshop.lines import share_visit
from kitbuilder.workshop.work import Work, build, in_visit_order, load, told_of


class Built(NamedTuple):
    """Bookings with their kits; what is wrong with some, and where those of one visit clash, by number, in words; which
    registers failed, in words."""

    bookings: list[Booking]
    works: dict[int, Work]
    troubled: dict[int, list[str]]
    failed: list[str]
    clashes: dict[int, list[str]]

    def wrong(self, number: int) -> list[str]:
        """All that is wrong with a booking."""
        return [*self.troubled.get(number, ()), *self.clashes.get(number, ())]


class Kits(NamedTuple):
    """What kits are built with."""

    store: Store
    edition: Edition
    site: Site
    registers: Registers
    now: datetime
    conditions: Conditions | None = None


def sourced(kits: Kits, day: date, leave_out: Sequence[int]) -> list[Booking]:
    """The bookings of a run's window, those of today before it, and those that began earlier and are still at work."""
    since, (_, until) = sourced_from(kits.site, day, kits.now), window_of(kits.site, day)
    longest: dict[str, int] = {}
    found = []
    for one in bookings.every(kits.store, kits.site.name, since - timedelta(days=DAYS_BACK), until):
        if one.state == "cancelled" or one.number in leave_out:
            continue
        if one.start >= since or _at_work(kits, one, longest) > since:
            found.append(one)
    return found


def _at_work(kits: Kits, booking: Booking, longest: dict[str, int]) -> datetime:
    """Until when a booking is at work at the longest, whatever its vehicle; its start if its job isn't known."""
    start = booking.actual_start or booking.start
    try:
        if booking.job not in longest:
            longest[booking.job] = sum(stage.most for stage in stage_minutes(kits.edition, booking.job, []))
        return add_working(kits.site, start, longest[booking.job])
    except KitbuilderError:
        return start


def build_all(kits: Kits, found: Sequence[Booking], changed: Sequence[int]) -> Built:
    """Build the kits of bookings; `changed`: the numbers of those of which the diary just told something else.

    One that can't be built is troubled, and the rest goes on. What a visit needs once is still counted with each.
    """
    visits = _visits(kits)
    built = Built(list(found), {}, {}, [], {})
    for one in found:
        wrong: list[str] = []
        mates = [mate for mate in visits.get(_visit_of(one), ()) if mate.number != one.number]
        try:
            built.works[one.number] = _built(kits, one, mates, one.number in changed, wrong)
        except KitbuilderError as error:
            wrong.append(str(error))
        if wrong:
            built.troubled[one.number] = wrong
    built.failed.extend(kits.registers.failed.values())
    return built


def load_all(kits: Kits, found: Sequence[Booking], works: Sequence[int], troubled: Mapping[int, Sequence[str]],
             failed: Sequence[str]) -> Built:
    """The kits of bookings as they were built and stored; `works` are the numbers of those that have one."""
    built = Built(list(found), {}, {number: list(wrong) for number, wrong in troubled.items()}, list(failed), {})
    for one in found:
        if one.number in works:
            _load(kits, one.number, built)
    return built


def share(kits: Kits, built: Built) -> None:
    """Count once what a visit needs once, now that the kits of its bookings are stored, and say where they clash."""
    for visit in _visits(kits).values():
        here = [one for one in in_visit_order(visit) if one.number in built.works]
        if not here or len(visit) < 2:
            continue
        alone = [built.works[one.number].lines for one in here]
        _, clashes = share_visit(alone)
        for one in here:
            _load(kits, one.number, built)
            if clashes:
                built.clashes[one.number] = clashes


def _load(kits: Kits, number: int, built: Built) -> None:
    try:
        built.works[number] = load(kits.store, kits.edition, kits.site, number)
    except KitbuilderError as error:
        built.works.pop(number, None)
        built.troubled.setdefault(number, []).append(str(error))


def _visit_of(booking: Booking) -> tuple[str, str]:
    return booking.diary, booking.visit


def _visits(kits: Kits) -> dict[tuple[str, str], list[Booking]]:
    """The site's visits, whole: a booking of one may lie beyond the window."""
    found: dict[tuple[str, str], list[Booking]] = {}
    for one in bookings.every(kits.store, kits.site.name):
        if one.visit and one.state != "cancelled":
            found.setdefault(_visit_of(one), []).append(one)
    return found


def _built(kits: Kits, booking: Booking, mates: Sequence[Booking], changed: bool, wrong: list[str]) -> Work:
    told = told_of(booking, mates, kits.edition)
    registration = booking.registration or next((one.registration for one in mates if one.registration), "")
    others = {_bare(one.registration) for one in mates if one.registration} - {_bare(registration)}
    if registration and others:
        wrong.append(f"its visit {booking.visit} has several registrations; a visit is of one vehicle")
    vehicle = kits.registers.find(registration)
    wrong += vehicle.wrong
    if vehicle.failed and not changed:
        # a kit built from less would let go what is held for this vehicle: failed is not the same as nothing known
        row = bookings.kit_of(kits.store, booking.number)
        if row is not None and msgspec.json.decode(row.kit)["job"] == booking.job:
            return load(kits.store, kits.edition, kits.site, booking.number)
    return build(kits.edition, kits.site, booking, [*told, *vehicle.statements],
                 bookings.edits_of(kits.store, booking.number), kits.conditions)


def _bare(registration: str) -> str:
    return "".join(char for char in registration.casefold() if char.isalnum())

