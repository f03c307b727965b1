"""A run: read the diaries, build kits, compare, source, hold and propose orders, write documents, report.

Each step commits what it did and that it is done in one transaction. A run that was killed goes on with its
frozen moment and quotes and ends where an unbroken one would; a run again, with the same diary, catalogue,
stock and quotes, changes nothing but its own record.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import NamedTuple

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_utc
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import KitbuilderError
from kitbuilder.model.booking import Booking
from kitbuilder.model.catalogue import Item
from kitbuilder.model.offer import QuoteRequest, Wanted
from kitbuilder.model.plan import Plan, Supply
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import Report
from kitbuilder.night.diary import put_all, read_diaries
from kitbuilder.night.report import report
from kitbuilder.night.sourcing import Asked, changes_of, own_supply, what_is_needed
from kitbuilder.plugins import Plugins
from kitbuilder.settings import Settings
from kitbuilder.stock.plan import plan as make_plan
from kitbuilder.stock.quoting import Answer, ask_sources
from kitbuilder.store import bookings as booked
from kitbuilder.store import orders as ordering
from kitbuilder.store import runs
from kitbuilder.store.database import Store
from kitbuilder.store.holds import NotThere, hold_in, holds
from kitbuilder.store.view import StoreShelf
from kitbuilder.vehicle.register import look_up
from kitbuilder.vehicle.statements import Statement
from kitbuilder.workshop.lines import share_visit
from kitbuilder.workshop.work import Work, build, items_of, kit_row, told_of

STEPS = ("read", "build", "source", "hold", "documents", "report")
#: Days from the run's day on whose bookings are sourced together.
WINDOW_DAYS = 3
#: How often a run quotes again where what it was to hold was gone.
TRIES = 3
WHO = "night"


class Surroundings(NamedTuple):
    """What a run works with; the clock and everything outside are passed in. `after` is told each step that is done."""

    settings: Settings
    plugins: Plugins
    edition: Edition
    store: Store
    site: Site
    documents: Path
    now: datetime
    after: Callable[[str], None] = lambda _: None


class _Built(NamedTuple):
    works: list[Work]
    window: list[Booking]
    troubled: dict[int, list[str]]


def run_night(around: Surroundings, day: date) -> Report:
    """Do, or go on with, the run of a site for a day. Raises StoreRefuses if the store does."""
    row = runs.begin(around.store, around.site.name, day, around.now)
    around = around._replace(now=row.now)
    done = dict(row.steps)
    if "read" not in done:
        done["read"] = _read(around, row.id)
    attention = msgspec.json.decode(done["read"], type=list[str])
    built = _build(around, day)
    if "build" not in done:
        done["build"] = _keep_kits(around, row.id, built)
    items = items_of(around.edition, built.works)
    if "source" not in done:
        _ask_and_freeze(around, row.id, built, items)
        done["source"] = ""
    if "hold" not in done:
        done["hold"] = _hold(around, row.id, day, built, items)
    result = msgspec.json.decode(done["hold"], type=_Held)
    attention = [*attention, *result.attention]
    if "documents" not in done:
        _write_documents(around, row.id, day, built, items)
    return _finish(around, row.id, day, built, items, attention, result.proven)


def _read(around: Surroundings, run: int) -> str:
    reads = read_diaries(around.settings, around.plugins)
    known = booked.every(around.store, site=around.site.name)
    with around.store.writing() as session:
        told = put_all(session, around.store, reads, around.site, known, around.now)
        result = msgspec.json.encode(told).decode()
        runs.step_done(session, run, "read", result, around.now)
    around.after("read")
    return result


def window_of(site: Site, day: date) -> tuple[datetime, datetime]:
    """The window of a run, in UTC: from the day's first moment at the site on."""
    first = to_utc(datetime.combine(day, time()), site.zone)
    return first, to_utc(datetime.combine(day + timedelta(days=WINDOW_DAYS), time()), site.zone)


def _build(around: Surroundings, day: date) -> _Built:
    since, until = window_of(around.site, day)
    window = [
        one for one in booked.every(around.store, around.site.name, since, until) if one.state != "cancelled"]
    visits: dict[tuple[str, str], list[Booking]] = {}
    for one in window:
        if one.visit:
            visits.setdefault((one.diary, one.visit), []).append(one)
    troubled: dict[int, list[str]] = {}
    works: dict[int, Work] = {}
    for one in window:
        try:
            mates = [other for other in visits.get((one.diary, one.visit), []) if other is not one]
            statements = _statements(around, one, mates, troubled)
            works[one.number] = build(
                around.edition, around.site, one, statements, booked.edits_of(around.store, one.number))
        except KitbuilderError as error:
            troubled.setdefault(one.number, []).append(str(error))
    for together in visits.values():
        _share(together, works, troubled)
    return _Built([works[one.number] for one in window if one.number in works], window, troubled)


def _statements(around: Surroundings, booking: Booking, mates: Sequence[Booking],
                troubled: dict[int, list[str]]) -> list[Statement]:
    statements = told_of(booking, mates, around.edition)
    if booking.registration and around.settings.registers:
        try:
            found = look_up(booking.registration, around.settings, around.plugins, around.edition.heading.currency)
            statements += found.statements
            if found.failed:
                troubled.setdefault(booking.number, []).extend(found.warnings)
        except KitbuilderError as error:
            troubled.setdefault(booking.number, []).append(str(error))
    return statements


def _share(together: Sequence[Booking], works: dict[int, Work], troubled: dict[int, list[str]]) -> None:
    here = [one for one in together if one.number in works]
    shared, clashes = share_visit([works[one.number].lines for one in here])
    for one, lines in zip(here, shared, strict=True):
        works[one.number] = msgspec.structs.replace(works[one.number], lines=lines)
        troubled.setdefault(one.number, []).extend(clashes)
        if not troubled[one.number]:
            del troubled[one.number]


def _keep_kits(around: Surroundings, run: int, built: _Built) -> str:
    with around.store.writing() as session:
        changed = [
            work.booking.number for work in built.works if booked.put_kit(session, kit_row(work, around.now))]
        result = msgspec.json.encode(changed).decode()
        runs.step_done(session, run, "build", result, around.now)
    around.after("build")
    return result


def _acceptable(built: _Built) -> dict[str, tuple[str, ...]]:
    return {line.filler: line.acceptable for work in built.works for line in work.lines.lines if not line.by_hand}


def _asked(around: Surroundings, built: _Built) -> Asked:
    return what_is_needed(
        built.works, holds(around.store, site=around.site.name),
        ordering.orders(around.store, around.site.name, ("ordered",)), _acceptable(built), _shelf_name(around))


def _shelf_name(around: Surroundings) -> str:
    own = [
        one.name for one in around.settings.sources
        if one.plugin in around.plugins.sources and around.plugins.sources[one.plugin][0].own]
    return own[0] if own else ""


def _ask_and_freeze(around: Surroundings, run: int, built: _Built, items: Mapping[str, Item]) -> None:
    answers = _quotes(around, items)
    with around.store.writing() as session:
        runs.freeze_quotes(session, run, msgspec.json.encode(answers).decode())
        runs.step_done(session, run, "source", "", around.now)
    around.after("source")


def _quotes(around: Surroundings, items: Mapping[str, Item]) -> list[Answer]:
    wanted = tuple(Wanted(item.number, item.unit, item.codes) for item in items.values())
    return ask_sources(
        around.settings, around.plugins, QuoteRequest(wanted, around.now), around.edition.heading.currency,
        StoreShelf(around.store, around.site.name))


class _Held(msgspec.Struct, frozen=True):
    """What the hold step came to."""

    attention: tuple[str, ...]
    proven: bool
    changed: int


def _hold(around: Surroundings, run: int, day: date, built: _Built, items: Mapping[str, Item]) -> str:
    answers = msgspec.json.decode(_frozen(around, day), type=list[Answer])
    for attempt in range(TRIES):
        try:
            return _try_hold(around, run, day, built, items, answers)
        except NotThere:
            if attempt == TRIES - 1:
                raise
            # somebody took what was quoted: ask again, and freeze what is said now
            answers = _quotes(around, items)
            with around.store.writing() as session:
                runs.freeze_quotes(session, run, msgspec.json.encode(answers).decode())
    raise AssertionError("the last try returned or raised")


def _frozen(around: Surroundings, day: date) -> str:
    return runs.begin(around.store, around.site.name, day, around.now).quotes


def _try_hold(around: Surroundings, run: int, day: date, built: _Built, items: Mapping[str, Item],
              answers: Sequence[Answer]) -> str:
    asked = _asked(around, built)
    rows = holds(around.store, site=around.site.name)
    # what was planned for bookings that were cancelled or went to another day is free again
    kept = {one.number for one in booked.every(around.store, around.site.name) if one.state != "cancelled"}
    window = {one.number for one in built.window} | {row.booking for row in rows if row.booking not in kept}
    supplies, attention = _supplies(around, answers, rows, window)
    plan: Plan = make_plan(asked.needs, supplies, around.now)
    changes = changes_of(around.site.name, day.isoformat(), plan, asked, supplies, rows, window, items, around.now)
    with around.store.writing() as session:
        hold_in(session, around.site.name, changes.promises, WHO, around.now, changes.release)
        proposals = ordering.propose_in(session, around.site.name, changes.orders)
        result = msgspec.json.encode(_Held(
            tuple(attention), plan.proven, len(changes.promises) + len(changes.release) + proposals)).decode()
        runs.step_done(session, run, "hold", result, around.now)
    around.after("hold")
    return result


def _supplies(around: Surroundings, answers: Sequence[Answer], rows: Sequence[HoldRow],
              window: set[int]) -> tuple[list[Supply], list[str]]:
    supplies: list[Supply] = []
    attention: list[str] = []
    shelf = _shelf_name(around)
    for answer in answers:
        if answer.quote is None:
            attention.append(f"The source {answer.source} failed: {answer.error}. Its stock is not known.")
        elif answer.source == shelf:
            supplies.append(own_supply(answer.source, answer.quote, rows, window, around.now))
        else:
            if answer.state == "stale":
                attention.append(f"The source {answer.source} is stale: told {(answer.age_s or 0) // 3600} h ago.")
            supplies.append(Supply(answer.source, False, answer.quote))
    return supplies, attention


def _write_documents(around: Surroundings, run: int, day: date, built: _Built, items: Mapping[str, Item]) -> None:
    from kitbuilder.night.documents import write_documents

    write_documents(around.documents / day.isoformat(), built.works, around.store, around.site, items, day)
    with around.store.writing() as session:
        runs.step_done(session, run, "documents", "", around.now)
    around.after("documents")


def _finish(around: Surroundings, run: int, day: date, built: _Built, items: Mapping[str, Item],
            attention: Sequence[str], proven: bool) -> Report:
    answer = report(
        around.site.name, day.isoformat(), around.now, built.works, built.troubled, built.window,
        holds(around.store, site=around.site.name), ordering.orders(around.store, around.site.name), items, attention,
        proven)
    with around.store.writing() as session:
        runs.step_done(session, run, "report", "", around.now)
        runs.finish(session, run, msgspec.json.encode(answer).decode(), around.now)
    around.after("report")
    return answer
