"""The whole report of a run, from what each subject has to say."""

from collections.abc import Mapping, Sequence
from datetime import date

from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import OPEN
from kitbuilder.model.work import Report
from kitbuilder.night.elsewhere import Counting, with_elsewhere
from kitbuilder.night.going_back import what_goes_back
from kitbuilder.night.holding import Outcome
from kitbuilder.night.kits import Built
from kitbuilder.night.lost import told_in
from kitbuilder.night.report import Known, report
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.night.tools import Tools, tools_told
from kitbuilder.night.transfers import loading
from kitbuilder.night.unasked import Unasked
from kitbuilder.night.window import window_of
from kitbuilder.stock.quoting import Answer
from kitbuilder.store import bookings as booked
from kitbuilder.store import orders as ordering
from kitbuilder.store import returns as going_back
from kitbuilder.store import transfers
from kitbuilder.store.holds import holds
from kitbuilder.store.shelves import lots
from kitbuilder.workshop.work import items_of


def counting_of(around: Surroundings) -> Counting:
    """What stock that is kept elsewhere is counted with."""
    return Counting(
        around.settings, around.plugins, around.edition, around.store, around.documents, around.cache)


def whole_report(around: Surroundings, day: date, built: Built, items: Mapping[str, Item],
                 told: tuple[tuple[str, ...], tuple[str, ...]], outcome: Outcome, answers: Sequence[Answer],
                 unasked: Unasked) -> Report:
    """The report of a run; `told`: what failed, and what else the steps before have to say. Old units that became owed
    are noted."""
    failed, attention = told
    store = around.store
    since, _ = window_of(around.site, day)
    held = holds(store, site=around.site.name)
    # what is held for a kit as it was has a name as well
    named = {**items_of(around.edition, (), [row.item for row in held]), **items}
    orders = ordering.orders(store, around.site.name, (*OPEN, "refused", "cancelled"))
    known = Known(
        booked.every(store), held, orders, named, not outcome.failed, lots(store, around.site.name, list(items)))
    edition = around.edition
    going_back.owe(store, edition.exchange, edition.heading.currency, around.now)
    nearby = [one.quote for one in answers if one.quote is not None and one.quote.site]
    attention = (*attention, *loading(transfers.loads_at(store, around.site.name), around.site.zone, around.now),
                 *tools_told(built.works.values(), Tools(known.shelf, nearby, items), around.site.zone))
    attention = (*attention, *what_goes_back(store, around.site.name, to_wall(around.now, around.site.zone).date()))
    answer = report(around.site, day, around.now, since, built, known, failed, attention, outcome.proven)
    answer = told_in(unasked.told(answer, orders), outcome.gap, outcome.lost, edition.heading.currency)
    return with_elsewhere(answer, counting_of(around), around.site, around.now, answers)
