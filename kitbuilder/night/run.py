"""A run: read the diaries, build kits, compare, source, hold and propose orders, write documents, report.

Each step commits what it did and that it is done in one transaction. A run that was killed goes on with its
frozen moment and quotes and ends where an unbroken one would; a run again, with the same diary, catalogue,
stock and quotes, changes nothing but its own record.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date
from functools import partial
from pathlib import Path

import msgspec
from sqlmodel import Session

from kitbuilder.kit.conditions import read_conditions
from kitbuilder.model.catalogue import Item
from kitbuilder.model.kit import Kit
from kitbuilder.model.offer import QuoteRequest, Wanted
from kitbuilder.model.order import UNDER_WAY, OrderRow, RunRow
from kitbuilder.model.shelf import Promise
from kitbuilder.model.transfer import from_site
from kitbuilder.model.work import Report
from kitbuilder.night.case import Case, Cases
from kitbuilder.night.compare import Before, before_of, changes
from kitbuilder.night.diary import Taken, put_all, read_diaries
from kitbuilder.night.documents import write_documents, write_report
from kitbuilder.night.elsewhere import issue_elsewhere
from kitbuilder.night.holding import Outcome, Planned, asked_of, left_of, planned
from kitbuilder.night.kits import Built, Kits, build_all, load_all, share, sourced
from kitbuilder.night.lock import only_one
from kitbuilder.night.lost import why_lost
from kitbuilder.night.reporting import counting_of, whole_report
from kitbuilder.night.reserving import Kept, Reserving
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.night.unasked import Unasked, rules_of
from kitbuilder.night.vehicles import Registers
from kitbuilder.stock.quoting import Answer, ask_sources
from kitbuilder.stock.sending import Sender, unanswered
from kitbuilder.store import bookings as booked
from kitbuilder.store import orders as ordering
from kitbuilder.store import runs, transfers
from kitbuilder.store.holds import NotThere, hold_in, holds
from kitbuilder.store.view import StoreShelf
from kitbuilder.workshop.work import items_of, kit_row, with_ways_taken

STEPS = ("read", "build", "compare", "source", "hold", "documents", "report")
#: How often a run quotes where what it was to hold was gone.
TRIES = 3
WHO = "night"


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
        rules = rules_of(around.settings, around.site.name, around.sites, around.edition)
        send_orders(around)
        issue_elsewhere(counting_of(around), WHO, around.now)
        row = runs.begin(around.store, around.site.name, day, around.now)
        unasked = Unasked(
            rules, around.site, around.edition, WHO, row.now, lambda only: send_orders(around, only))
        return _Run(around._replace(now=row.now), day, row, unasked).go_on()


def send_orders(around: Surroundings, only: Collection[int] = ()) -> None:
    """Send what is approved, and ask after what is unclear: all, or `only` some. It is no step of the run: what was
    sent stands in the orders, and a run that goes on sends nothing again."""
    waiting = ordering.orders(around.store, around.site.name, ("approved", "sending", "unclear", "cancelled"))
    if any(one.state != "cancelled" or unanswered(one, around.now) for one in waiting):
        Sender(around.store, around.settings, around.plugins, around.edition.heading.currency, WHO, around.now).send(
            around.site.name, only)


def look_back(around: Surroundings, row: RunRow) -> tuple[Built, Case, list[OrderRow]]:
    """What a run that is done went by, with what stands now: its bookings' kits; the quotes as they were frozen, but
    what lies here and at other sites of the store as it lies now, for what the run held isn't free any more. What was
    decided to be ordered since counts as proposed, as it was then; with it the proposals that stand."""
    run = _Run(around._replace(now=row.now), row.day, row, Unasked(
        rules_of(around.settings, around.site.name, around.sites, around.edition), around.site, around.edition, WHO,
        row.now, lambda _: None))
    taken = run.read()
    run.cases.elsewhere = taken.elsewhere
    _, built = run.build(taken)
    frozen = run.source({})
    own = {run.cases.shelf(), *(one.source for one in frozen if one.quote is not None and one.quote.site)}
    lies = {one.source: one for one in run.ask(items_of(around.edition, list(built.works.values())), only=own)}
    under_way = ordering.orders(around.store, run.site, UNDER_WAY)
    before = [one for one in under_way if from_site(one.key) or one.decided_at is None or one.decided_at < row.now]
    since = [one for one in under_way if one not in before]
    return built, run.cases.of(built, [lies.get(one.source, one) for one in frozen], before), [
        *ordering.orders(around.store, run.site, ("proposed",)), *since]


class _Run:
    """One run, from where it stands; each step is a method that does it, or reads what came of it when it was done."""

    def __init__(self, around: Surroundings, day: date, row: RunRow, unasked: Unasked) -> None:
        self.around, self.day, self.number, self.now = around, day, row.id, row.now
        self.done, self.quotes = dict(row.steps), row.quotes
        registers = Registers(
            around.settings, around.plugins, around.edition.heading.currency, around.edition.vins)
        self.conditions = read_conditions(around.settings, around.edition.space, around.edition.heading.currency)
        self.kits = Kits(around.store, around.edition, around.site, registers, row.now, self.conditions)
        self.site = around.site.name
        self.unasked = unasked
        self.reserving = Reserving(around.store, around.site, day, row.now, around.edition, self.conditions)
        self.cases = Cases(around, day, self.reserving)

    def go_on(self) -> Report:
        """Do what isn't done yet."""
        taken = self.read()
        self.cases.elsewhere = taken.elsewhere
        kept, built = self.build(taken)
        changed = self.compare(kept, built)
        items = items_of(self.around.edition, list(built.works.values()))
        answers = self.source(items)
        outcome = self.hold(built, answers, items)
        self.unasked.send(self.around.store)
        for work in with_ways_taken(self.around.store, list(built.works.values())):
            built.works[work.booking.number] = work
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

    def ask(self, items: Mapping[str, Item], before: Sequence[Answer] = (),
            only: Collection[str] | None = None) -> list[Answer]:
        """What the sources say now, or `only` some; one that hung `before` isn't waited for again."""
        around = self.around
        settings = around.settings if only is None else msgspec.structs.replace(
            around.settings, sources=tuple(one for one in around.settings.sources if one.name in only))
        wanted = tuple(Wanted(item.number, item.unit, item.codes) for item in items.values())
        shelf = StoreShelf(around.store, self.site, known=around.sites)
        return ask_sources(settings, around.plugins, QuoteRequest(wanted, self.now),
                           around.edition.heading.currency, shelf, around.cache, before)

    def hold(self, built: Built, answers: list[Answer], items: Mapping[str, Item]) -> Outcome:
        """Plan, hold and propose; where somebody was quicker, with new quotes."""
        if "hold" in self.done:
            return msgspec.json.decode(self.done["hold"], type=Outcome)
        for _ in range(TRIES - 1):
            try:
                return self.try_to_hold(built, answers, items)
            except NotThere:
                answers = self.ask(items, answers)
                with self.around.store.writing() as session:
                    runs.freeze_quotes(session, self.number, _json(answers))
        return self.try_to_hold(built, answers, items)

    def try_to_hold(self, built: Built, answers: list[Answer], items: Mapping[str, Item]) -> Outcome:
        """Plan with some quotes and hold in one transaction. Raises NotThere if something is gone."""
        store = self.around.store
        case = self.cases.of(built, answers, ordering.orders(store, self.site, UNDER_WAY))
        asked, found, rows, movable, standing, cancelled = case
        held = [*rows, *(one.hold for one in found.elsewhere.carried)]
        digest = asked_of(asked, found, standing, cancelled, self.now)
        failed, attention = tuple(found.failed.values()), tuple(found.attention)
        last = runs.last_done(store, self.site)
        before = msgspec.json.decode(last.steps["hold"], type=Outcome) if last else None
        judge = partial(self.unasked.judge_in, built=built, answers=answers, before=cancelled)
        if before is not None and (before.asked, before.left) == (
                digest, left_of(held, found.elsewhere.proposed)):
            kept = self.kept(built, case, answers, (), ())
            outcome = msgspec.structs.replace(
                before, failed=failed, attention=attention, changed=len(kept.give_back) + len(kept.asides),
                aside=kept.told)
            with store.writing() as session:
                kept.give_back_in(session, WHO, self.now)
                kept.set_aside_in(session, self.site, WHO, self.now)
                judge(session)
                runs.step_done(session, self.number, "hold", _json(outcome), self.now)
        else:
            plan = planned(self.around.site, asked, found, rows, movable, standing, cancelled, self.now)
            lost = why_lost(plan.plan, asked.needs, plan.supplies, self.now, items,
                            self.around.edition.heading.currency)
            outcome = self.carry_out(plan, Outcome(
                failed, attention, tuple(plan.again), plan.proven, 0, digest, left_of(held, (), plan.changes),
                plan.plan.gap, lost), judge, self.kept(
                    built, case, answers, plan.changes.release, plan.changes.promises))
        self.around.after("hold")
        return outcome

    def kept(self, built: Built, case: Case, answers: Sequence[Answer], release: Sequence[int],
             promises: Sequence[Promise]) -> Kept:
        """What is to be set aside for the day's findings once a plan's changes are made."""
        shelf = self.cases.shelf()
        outside = [one.quote for one in answers if one.source != shelf and one.quote is not None]
        return self.reserving.kept(list(built.works.values()), case.holds, release, promises, outside,
                                   not shelf or shelf in case.found.silent)

    def carry_out(self, plan: Planned, outcome: Outcome, judge: Callable[[Session], None], kept: Kept) -> Outcome:
        """Make holds and proposals those of a plan. Raises NotThere if something is gone."""
        with self.around.store.writing() as session:
            kept.give_back_in(session, WHO, self.now)
            hold_in(session, self.site, plan.changes.promises, WHO, self.now, plan.changes.release)
            for site, promise in plan.changes.there:
                hold_in(session, site, [promise], WHO, self.now)
            kept.set_aside_in(session, self.site, WHO, self.now)
            proposed = ordering.propose_in(session, self.site, plan.changes.orders)
            judge(session)
            outcome = msgspec.structs.replace(
                outcome, aside=kept.told, changed=sum(map(len, (
                    plan.changes.promises, plan.changes.there, plan.changes.release, kept.give_back,
                    kept.asides))) + proposed)
            runs.step_done(session, self.number, "hold", _json(outcome), self.now)
        return outcome

    def write(self, built: Built, items: Mapping[str, Item]) -> None:
        """Write the documents."""
        if "documents" in self.done:
            return
        loaded = [row.item for load in transfers.loads_at(self.around.store, self.site) for row in load.rows]
        named = {**items_of(self.around.edition, (), loaded), **items}
        write_documents(self.folder(), list(built.works.values()), self.around.store, self.around.site, named, self.day,
                        self.around.edition.supersessions)
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
        answer = whole_report(
            self.around, self.day, built, items, (failed, attention), outcome, answers, self.unasked)
        if self.conditions is not None and self.conditions.hour is not None:
            answer = msgspec.structs.replace(answer, set_aside=outcome.aside)
        write_report(self.folder(), answer)
        with self.around.store.writing() as session:
            runs.step_done(session, self.number, "report", "", self.now)
            runs.finish(session, self.number, _json(answer), self.now)
        self.around.after("report")
        return answer


def _json(value: object) -> str:
    return msgspec.json.encode(value).decode()
