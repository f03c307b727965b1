"""What the plan of a run goes by: what is needed, what there is, and what of it may be moved."""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from kitbuilder.model.order import OrderRow
from kitbuilder.model.shelf import HoldRow
from kitbuilder.night.kits import Built
from kitbuilder.night.reserving import NOBODY, Reserving
from kitbuilder.night.sourcing import Asked, what_is_needed
from kitbuilder.night.supplies import Elsewhere, Supplies, supplies_of
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.night.window import window_of
from kitbuilder.stock.quoting import Answer
from kitbuilder.store import bookings as booked
from kitbuilder.store import orders as ordering
from kitbuilder.store import transfers
from kitbuilder.store.holds import holds


class Case(NamedTuple):
    """What a plan goes by: what is asked for, the supplies, the site's holds, the bookings whose planned holds may be
    moved, open proposals that stay as they are, orders that were cancelled or refused, in part at least."""

    asked: Asked
    found: Supplies
    holds: Sequence[HoldRow]
    movable: set[int]
    standing: list[OrderRow]
    cancelled: list[OrderRow]


class Cases:
    """The cases of a run; `elsewhere`: the bookings that went to another site by what the diaries say."""

    def __init__(self, around: Surroundings, day: date, reserving: Reserving) -> None:
        self.around, self.day, self.reserving, self._site = around, day, reserving, around.site.name
        self.elsewhere: tuple[int, ...] = ()

    def of(self, built: Built, answers: Sequence[Answer], under_way: Sequence[OrderRow]) -> Case:
        """What is to be planned, by some answers; `under_way`: the orders of which what they bring isn't needed."""
        store, edition = self.around.store, self.around.edition
        shelf = self.shelf()
        rows = holds(store, site=self._site)
        movable = self._movable(built)
        sites = {*transfers.other_sites(store, self._site), *self.around.sites} - {self._site}
        elsewhere = Elsewhere(sites, transfers.carried_to(store, self._site),
                              ordering.orders(store, self._site, ("proposed",)))
        aside = self.reserving.as_holds(built.works.values(), rows)
        found = supplies_of(answers, shelf, edition.heading.currency, [*rows, *aside], movable | {NOBODY},
                            self.around.now, elsewhere)
        standing = self._standing(built, found.silent)
        silent = not shelf or shelf in found.silent
        if silent:
            # failed is not empty: what is planned from it stays
            movable -= {one.number for one in built.bookings}
        asked = what_is_needed(
            built.works.values(), rows, [*under_way, *standing], "" if silent else shelf, found.brought)
        cancelled = ordering.orders(store, self._site, ("cancelled", "refused", "part"))
        return Case(asked, found, rows, movable, standing, cancelled)

    def shelf(self) -> str:
        """The own source of the settings, "" if there is none."""
        kinds = self.around.plugins.sources
        own = [one.name for one in self.around.settings.sources if one.plugin in kinds and kinds[one.plugin][0].own]
        return own[0] if own else ""

    def _movable(self, built: Built) -> set[int]:
        """The bookings whose planned holds this run may move: those that it plans, and those that need nothing any
        more or not yet: cancelled, gone to another site, or moved to a day after the window."""
        _, until = window_of(self.around.site, self.day)
        every = booked.every(self.around.store, self._site, until=until)
        standing = [one for one in every if one.state != "cancelled"]
        held = {row.booking for row in holds(self.around.store, site=self._site)}
        gone = held - {one.number for one in standing}
        return set(built.works) | gone | set(self.elsewhere)

    def _standing(self, built: Built, silent: set[str]) -> list[OrderRow]:
        """Open proposals at sources of which nothing is known now, for bookings that are still planned."""
        return [
            order for order in ordering.orders(self.around.store, self._site, ("proposed",))
            if order.source in silent and any(one.booking in built.works for one in order.wanted_for)]
