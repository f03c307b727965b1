"""Which proposals a run approves by itself, as the settings let it, and why the others wait for a person."""

from collections.abc import Callable, Collection, Sequence
from contextlib import suppress
from datetime import datetime

import msgspec
from sqlmodel import Session

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.order import UNDER_WAY, OrderRow
from kitbuilder.model.work import Report
from kitbuilder.night.kits import Built
from kitbuilder.settings import Settings
from kitbuilder.stock.approval import Proposal, Rules, ended, read_rules, reasons, shown
from kitbuilder.stock.quoting import Answer
from kitbuilder.stock.sending import ORDER
from kitbuilder.store import orders as ordering
from kitbuilder.store import outbox
from kitbuilder.store.database import Store


def rules_of(settings: Settings, site: str, sites: Collection[str], edition: Edition) -> Rules:
    """What the settings say of a site's orders. Raises BadData."""
    file = settings.file.name if settings.file else ""
    return read_rules(file, settings.orders, edition.heading.currency, {*sites, site})[site]


class Unasked:
    """What goes without asking at a site, by its rules. `who` stands for the run; `send` sends the orders of some
    numbers, at the moment that counts when it is called."""

    def __init__(self, rules: Rules, site: Site, edition: Edition, who: str, now: datetime,
                 send: Callable[[Collection[int]], None]) -> None:
        self._rules, self._site, self._edition, self._who, self._now, self._send = rules, site, edition, who, now, send

    def judge_in(self, session: Session, built: Built, answers: Sequence[Answer], before: Sequence[OrderRow]) -> None:
        """Approve the proposals that may go by themselves, and note why the others wait, inside the transaction that
        makes them. `before`: orders that were cancelled, refused, or accepted in part."""
        by_source = {one.source: one for one in answers}
        authorised = {number for number, work in built.works.items() if work.booking.state == "authorised"}
        for order in ordering.proposed_in(session, self._site.name):
            known = self._known(order, by_source.get(order.source), authorised, before)
            # a person who decides has to know how old the price is, whatever the rules
            why: Sequence[str] = (f"the price is of {known.price_of}",) if known.price_of else ()
            approved = ""
            if self._rules.sends and not order.from_site:  # own stock is brought, not bought
                why = reasons(self._rules, known)
                limit = shown(self._rules.approve_over or 0, order.currency)
                approved = f"without asking: {shown(order.total, order.currency)}, which isn't over {limit}"
            ordering.judged_in(session, order.id, "; ".join(why), approved, self._who, self._now)

    def _known(self, order: OrderRow, answer: Answer | None, authorised: Collection[int],
               before: Sequence[OrderRow]) -> Proposal:
        quote = answer.quote if answer is not None and answer.error is None else None
        stale = quote is not None and answer is not None and answer.state == "stale"
        offered = {offer.item for offer in quote.offers if offer.deposit} if quote is not None else set()
        return Proposal(
            order=order, answered=quote is not None, takes_orders=answer is not None and ORDER in answer.does,
            price_of=f"{to_wall(quote.as_of, self._site.zone):%Y-%m-%d %H:%M}" if stale and quote is not None else "",
            deposits={line.item for line in order.lines if line.item in offered or self._has_deposit(line.item)},
            authorised=authorised, before=[ended(one) for one in before if one.key == order.key])

    def _has_deposit(self, item: str) -> bool:
        exchange = self._edition.exchange(item)
        return exchange is not None and exchange.deposit > 0

    def send(self, store: Store) -> None:
        """Send what the run approved by itself; where somebody else sends just now, they or the next run do."""
        approved = [one.id for one in ordering.orders(store, self._site.name, ("approved",))
                    if one.decided_by == self._who]
        if approved:
            with suppress(outbox.OthersSend):
                self._send(approved)

    def told(self, report: Report, orders: Sequence[OrderRow]) -> Report:
        """A report with the orders under way that nobody was asked about, where the settings let some go so."""
        if not self._rules.sends:
            return report
        return msgspec.structs.replace(report, unasked=tuple(
            f"Order {one.id} at {one.source}, {shown(one.total, one.currency)}: {one.state}"
            for one in orders if one.decided_by == self._who and one.state in UNDER_WAY))
