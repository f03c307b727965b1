"""A run: read the diaries, build kits, compare, source, hold and propose orders, write documents, report.

Each step commits what it did and that it is done in one transaction. A run that was killed goes on with its
frozen moment and quotes and ends where an unbroken one would; a run again, with the same diary, catalogue,
stock and quotes, changes nothing but its own record.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import NamedTuple

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.conditions import read_conditions
from kitbuilder.model.catalogue import Item
from kitbuilder.model.kit import Kit
from kitbuilder.model.offer import QuoteRequest, Wanted
from kitbuilder.model.order import OPEN, UNDER_WAY, OrderRow, RunRow
from kitbuilder.model.work import Report
from kitbuilder.night.aside import set_aside
from kitbuilder.night.compare import Before, before_of, changes
from kitbuilder.night.diary import Taken, put_all, read_diaries
from kitbuilder.night.documents import write_documents, write_report
from kitbuilder.night.holding import Outcome, Planned, asked_of, left_of, planned
from kitbuilder.night.kits import Built, Kits, build_all, load_all, share, sourced
from kitbuilder.night.lock import only_one
from kitbuilder.night.report import Known, report
from kitbuilder.night.sourcing import what_is_needed
from kitbuilder.night.supplies import supplies_of
from kitbuilder.night.vehicles import Registers
from kitbuilder.night.window import window_of
from kitbuilder.plugins import Plugins
from kitbuilder.settings import Settings
from kitbuilder.stock.quoting import Answer, ask_sources
from kitbuilder.stock.sending import Sender, unanswered
from kitbuilder.store import bookings as booked
from kitbuilder.store import orders as ordering
from kitbuilder.store import returns as going_back
from kitbuilder.store import runs
from kitbuilder.store.database import Store
from kitbuilder.store.holds import NotThere, hold_in, holds
from kitbuilder.store.shelves import lots
from kitbuilder.store.view import StoreShelf
from kitbuilder.workshop.work import items_of, kit_row

STEPS = ("read", "build", "compare", "source", "hold", "documents", "report")
#: How often a run quotes where what it was to hold was gone.
TRIES = 3
WHO = "night"


class Surroundings(NamedTuple):
    """What a run works with; the clock and everything outside are passed in. `sites`: the names of all sites.
    `after` is told each step that is done."""

    settings: Settings
    plugins: Plugins
    edition: Edition
    store: Store
    site: Site
    documents: Path
    now: datetime
    sites: tuple[str, ...] = ()
    after: Callable[[str], None] = lambda _: None
    cache: Path | None = None


class _Kept(msgspec.Struct, frozen=True):
    """What the build step keeps for the steps that follow: the bookings looked at and those that have a kit, what is
    wrong with some, which registers failed, and the kits as they were that are different now."""

    bookings: tuple[int, ...]
    works: tuple[int, ...]
    troubled: dict[int, tuple[str, ...]]
    failed: tuple[str, ...]
    before: dict[int, Before]


def run_night(around: Surroundings, day: date) -> Report:
    """Do, or go on with, the run of a site for a day.

    Raises StoreRefuses if the store does, if another run goes on, or if what is to be held is gone three times.
    """
    with only_one(around.settings.folder / ".kitbuilder-run.lock", "Another run goes on in this workshop"):
        send_orders(around)
        row = runs.begin(around.store, around.site.name, day, around.now)
        return _Run(around._replace(now=row.now), day, row).go_on()


def send_orders(around: Surroundings) -> None:
    """Send what is approved, and ask after what is unclear. It is no step of the run: what was sent stands in the
    orders, and a run that goes on sends nothing again."""
    waiting = ordering.orders(around.store, around.site.name, ("approved", "sending", "unclear", "cancelled"))
    if any(one.state != "cancelled" or unanswered(one, around.now) for one in waiting):
        Sender(around.store, around.settings, around.plugins, around.edition.heading.currency, WHO, around.now).send(
            around.site.name)


class _Run:
    """One run, from where it stands; each step is a method that does it, or reads what came of it when it was done."""

    def __init__(self, around: Surroundings, day: date, row: RunRow) -> None:
        self.around, self.day, self.number, self.now = around, day, row.id, row.now
        self.done, self.quotes = dict(row.steps), row.quotes
        self.elsewhere: tuple[int, ...] = ()
        registers = Registers(
            around.settings, around.plugins, around.edition.heading.currency, around.edition.vins)
        self.conditions = read_conditions(around.settings, around.edition.space, around.edition.heading.currency)
        self.kits = Kits(around.store, around.edition, around.site, registers, row.now, self.conditions)
        self.site = around.site.name

    def go_on(self) -> Report:
        """Do what isn't done yet."""
        taken = self.read()
        self.elsewhere = taken.elsewhere
        kept, built = self.build(taken)
        changed = self.compare(kept, built)
        items = items_of(self.around.edition, list(built.works.values()))
        answers = self.source(items)
        outcome = self.hold(built, answers, items)
        self.write(built, items)
        failed = (*taken.failed, *kept.failed, *outcome.failed)
        attention = (*taken.attention, *outcome.attention, *outcome.again, *changed)
        return self.report(built, items, failed, attention, outcome, answers)

    def read(self) -> Taken:
        """Read the diaries."""
        if "read" in self.done:
            return msgspec.json.decode(self.done["read"], type=Taken)
        around = self.around
        reads = read_diaries(around.settings, around.plugins)
        known = booked.every(around.store, site=self.site)
        with around.store.writing() as session:
            taken = put_all(session, reads, around.site, around.sites or (self.site,), known, self.now)
            runs.step_done(session, self.number, "read", _json(taken), self.now)
        around.after("read")
        return taken

    def build(self, taken: Taken) -> tuple[_Kept, Built]:
        """Build the kits and store them."""
        if "build" in self.done:
            kept = msgspec.json.decode(self.done["build"], type=_Kept)
            found = [one for one in booked.every(self.around.store, self.site)
                     if one.number in kept.bookings and one.state != "cancelled"]
            built = load_all(self.kits, found, kept.works, kept.troubled, kept.failed)
            share(self.kits, built)
            return kept, built
        built = build_all(self.kits, sourced(self.kits, self.day, taken.elsewhere), taken.changed)
        stored = {number: booked.kit_of(self.around.store, number) for number in built.works}
        before = {}
        with self.around.store.writing() as session:
            for number, work in built.works.items():
                old = stored[number]
                if booked.put_kit(session, kit_row(work, self.now)) and old is not None:
                    before[number] = before_of(msgspec.json.decode(old.kit, type=Kit))
            kept = _Kept(
                tuple(one.number for one in built.bookings), tuple(built.works),
                {number: tuple(wrong) for number, wrong in built.troubled.items()}, tuple(built.failed), before)
            runs.step_done(session, self.number, "build", _json(kept), self.now)
        self.around.after("build")
        share(self.kits, built)
        return kept, built

    def compare(self, kept: _Kept, built: Built) -> tuple[str, ...]:
        """Say how kits changed since the run before."""
        if "compare" in self.done:
            return msgspec.json.decode(self.done["compare"], type=tuple[str, ...])
        # from picking on only a person moves what is held, so what is picked may be of the kit as it was
        picked: dict[int, str] = {}
        for hold in holds(self.around.store, site=self.site):
            if hold.state in ("picking", "picked") and picked.get(hold.booking) != "picking":
                picked[hold.booking] = hold.state
        told = tuple(
            text for number, old in sorted(kept.before.items(), key=lambda one: one[0] not in picked)
            if number in built.works
            for text in [changes(number, old, before_of(built.works[number].kit), picked.get(number, ""))] if text)
        with self.around.store.writing() as session:
            runs.step_done(session, self.number, "compare", _json(told), self.now)
        self.around.after("compare")
        return told

    def source(self, items: Mapping[str, Item]) -> list[Answer]:
        """Ask the sources, and freeze what they say."""
        if "source" in self.done:
            return msgspec.json.decode(self.quotes, type=list[Answer])
        answers = self.ask(items)
        with self.around.store.writing() as session:
            runs.freeze_quotes(session, self.number, _json(answers))
            runs.step_done(session, self.number, "source", "", self.now)
        self.around.after("source")
        return answers

    def ask(self, items: Mapping[str, Item]) -> list[Answer]:
        """What the sources say now."""
        around = self.around
        wanted = tuple(Wanted(item.number, item.unit, item.codes) for item in items.values())
        return ask_sources(around.settings, around.plugins, QuoteRequest(wanted, self.now),
                           around.edition.heading.currency, StoreShelf(around.store, self.site), around.cache)

    def hold(self, built: Built, answers: list[Answer], items: Mapping[str, Item]) -> Outcome:
        """Plan, hold and propose; where somebody was quicker, with new quotes."""
        if "hold" in self.done:
            return msgspec.json.decode(self.done["hold"], type=Outcome)
        for _ in range(TRIES - 1):
            try:
                return self.try_to_hold(built, answers)
            except NotThere:
                answers = self.ask(items)
                with self.around.store.writing() as session:
                    runs.freeze_quotes(session, self.number, _json(answers))
        return self.try_to_hold(built, answers)

    def try_to_hold(self, built: Built, answers: list[Answer]) -> Outcome:
        """Plan with some quotes and hold in one transaction. Raises NotThere if something is gone."""
        store, edition = self.around.store, self.around.edition
        shelf = self.shelf()
        rows = holds(store, site=self.site)
        movable = self.movable(built)
        found = supplies_of(answers, shelf, edition.heading.currency, rows, movable, self.now)
        standing = self.standing(built, found.silent)
        silent = not shelf or shelf in found.silent
        if silent:
            # failed is not empty: what is planned from it stays
            movable -= {one.number for one in built.bookings}
        asked = what_is_needed(
            built.works.values(), rows, [*ordering.orders(store, self.site, UNDER_WAY), *standing],
            "" if silent else shelf)
        cancelled = ordering.orders(store, self.site, ("cancelled", "refused", "part"))
        digest = asked_of(asked, found, standing, cancelled, self.now)
        failed, attention = tuple(found.failed.values()), tuple(found.attention)
        last = runs.last_done(store, self.site)
        before = msgspec.json.decode(last.steps["hold"], type=Outcome) if last else None
        if before is not None and (before.asked, before.left) == (
                digest, left_of(rows, ordering.orders(store, self.site, ("proposed",)))):
            outcome = msgspec.structs.replace(before, failed=failed, attention=attention, changed=0)
            with store.writing() as session:
                runs.step_done(session, self.number, "hold", _json(outcome), self.now)
        else:
            plan = planned(self.around.site, asked, found, rows, movable, standing, cancelled, self.now)
            outcome = self.carry_out(plan, Outcome(
                failed, attention, tuple(plan.again), plan.proven, 0, digest, left_of(rows, (), plan.changes)))
        self.around.after("hold")
        return outcome

    def carry_out(self, plan: Planned, outcome: Outcome) -> Outcome:
        """Make holds and proposals those of a plan. Raises NotThere if something is gone."""
        with self.around.store.writing() as session:
            hold_in(session, self.site, plan.changes.promises, WHO, self.now, plan.changes.release)
            proposed = ordering.propose_in(session, self.site, plan.changes.orders)
            outcome = msgspec.structs.replace(
                outcome, changed=len(plan.changes.promises) + len(plan.changes.release) + proposed)
            runs.step_done(session, self.number, "hold", _json(outcome), self.now)
        return outcome

    def shelf(self) -> str:
        """The own source of the settings, "" if there is none."""
        kinds = self.around.plugins.sources
        own = [one.name for one in self.around.settings.sources if one.plugin in kinds and kinds[one.plugin][0].own]
        return own[0] if own else ""

    def movable(self, built: Built) -> set[int]:
        """The bookings whose planned holds this run may move: those that it plans, and those that need nothing any
        more or not yet: cancelled, gone to another site, or moved to a day after the window."""
        _, until = window_of(self.around.site, self.day)
        standing = [one for one in booked.every(self.around.store, self.site, until=until) if one.state != "cancelled"]
        held = {row.booking for row in holds(self.around.store, site=self.site)}
        gone = held - {one.number for one in standing}
        return set(built.works) | gone | set(self.elsewhere)

    def standing(self, built: Built, silent: set[str]) -> list[OrderRow]:
        """Open proposals at sources of which nothing is known now, for bookings that are still planned."""
        return [
            order for order in ordering.orders(self.around.store, self.site, ("proposed",))
            if order.source in silent and any(one.booking in built.works for one in order.wanted_for)]

    def write(self, built: Built, items: Mapping[str, Item]) -> None:
        """Write the documents."""
        if "documents" in self.done:
            return
        write_documents(self.folder(), list(built.works.values()), self.around.store, self.around.site, items, self.day)
        with self.around.store.writing() as session:
            runs.step_done(session, self.number, "documents", "", self.now)
        self.around.after("documents")

    def folder(self) -> Path:
        """Where a day's documents of the site go."""
        return self.around.documents / self.day.isoformat() / "".join(
            char if char.isalnum() or char in "-_ " else "_" for char in self.site)

    def report(self, built: Built, items: Mapping[str, Item], failed: tuple[str, ...], attention: tuple[str, ...],
               outcome: Outcome, answers: Sequence[Answer]) -> Report:
        """Put the report together and end the run."""
        store = self.around.store
        since, _ = window_of(self.around.site, self.day)
        tools = dict.fromkeys(self.tools(built), 0)
        for lot in lots(store, self.site, list(tools)):
            tools[lot.item] += lot.on_hand
        held = holds(store, site=self.site)
        # what is held for a kit as it was has a name as well
        named = {**items_of(self.around.edition, (), [row.item for row in held]), **items}
        orders = ordering.orders(store, self.site, (*OPEN, "refused", "cancelled"))
        known = Known(
            booked.every(store), held, orders, named, tools, not outcome.failed, lots(store, self.site, list(items)))
        edition = self.around.edition
        going_back.owe(store, edition.exchange, edition.heading.currency, self.now)
        attention = (*attention, *going_back.overdue(store, self.site, to_wall(self.now, self.around.site.zone).date()))
        answer = report(self.around.site, self.day, self.now, since, built, known, failed, attention, outcome.proven)
        if self.conditions is not None and self.conditions.hour is not None:
            others = [one.quote for one in answers if one.source != self.shelf() and one.quote is not None]
            answer = msgspec.structs.replace(answer, set_aside=set_aside(
                self.around.site, self.day, list(built.works.values()), self.around.edition, self.conditions,
                known.shelf, others))
        write_report(self.folder(), answer)
        with store.writing() as session:
            runs.step_done(session, self.number, "report", "", self.now)
            runs.finish(session, self.number, _json(answer), self.now)
        self.around.after("report")
        return answer

    def tools(self, built: Built) -> set[str]:
        """The special tools of the night."""
        return {line.acceptable[0] for work in built.works.values() for line in work.lines.lines
                if line.sort == "special tool" and line.wanted and line.acceptable}


def _json(value: object) -> str:
    return msgspec.json.encode(value).decode()
