"""Sends approved orders to the sources that take orders, and asks after those of which nothing is known.

What is sent was marked and committed before; what comes back is judged here and kept by the outbox. Nothing is sent
twice: what may have gone out and wasn't answered is unclear, and is only asked after.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.wall import to_wall
from kitbuilder.errors import NotSent, SourceFailed
from kitbuilder.hooks import Context, OrderTaker
from kitbuilder.model.offer import AnsweredLine, OrderAnswer, OrderItem, OrderRequest
from kitbuilder.model.order import LineVerdict, OrderedLine, OrderRow, Verdict
from kitbuilder.plugins import Plugins, fenced, made, printing_aside
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.store import orders as ordering
from kitbuilder.store import outbox
from kitbuilder.store.database import Store

#: What a source says in `does` if it takes orders, and if it can be asked for one.
ORDER, STATUS = "order", "order status"


class Sent(msgspec.Struct, frozen=True):
    """What became of one order: `before` and `after` are its states, `why` what is to be told (""), `by_hand` whether
    its source takes no orders, so that somebody has to ring them up."""

    order: OrderRow
    before: str
    why: str
    by_hand: bool = False


class Sender:
    """Sends for a workshop; `currency` is the catalogue's, `who` stands in the orders' history."""

    def __init__(self, store: Store, settings: Settings, plugins: Plugins, currency: str, who: str,
                 now: datetime) -> None:
        self._store, self._settings, self._plugins = store, settings, plugins
        self._currency, self._who, self._now = currency, who, now
        self._takers: dict[str, OrderTaker | str] = {}

    def send(self, site: str | None = None, only: Collection[int] = ()) -> list[Sent]:
        """Settle what was broken off, ask after what is unclear, send what is approved: of a site, or of all; of all
        orders, or `only` some. Raises StoreRefuses if another process sends."""
        with outbox.sending(self._store), printing_aside():
            outbox.broken_off(self._store, self._who, self._now)
            found = []
            for order in self._wanted(site, only, ("approved", "unclear", "cancelled")):
                if order.state == "approved":
                    found.append(self._send(order))
                elif order.state == "unclear" or unanswered(order, self._now):
                    found.append(self._ask(order))
            return found

    def takes_orders(self, source: str) -> bool:
        """Whether a source can be sent orders to."""
        return not isinstance(self._taker(source), str)

    def is_fetched(self, source: str) -> bool:
        """Whether somebody goes and fetches from a source: its stock is the workshop's, kept elsewhere."""
        return any(one.name == source and one.plugin in self._plugins.sources
                   and self._plugins.sources[one.plugin][0].elsewhere for one in self._settings.sources)

    def _wanted(self, site: str | None, only: Collection[int], states: Iterable[str]) -> list[OrderRow]:
        return [one for one in ordering.orders(self._store, site, states)
                if (not only or one.id in only) and not one.from_site]

    def _send(self, order: OrderRow) -> Sent:
        taker = self._taker(order.source)
        if isinstance(taker, str):
            return Sent(order, order.state, taker, by_hand=True)
        marked = outbox.begin(self._store, order.id, self._who, self._now)
        if marked is None:
            after = ordering.get(self._store, order.id)
            return Sent(after, order.state, after.said)
        request = request_of(marked, self._now)
        try:
            answer = fenced(lambda: taker.order(request), self._of(order.source).deadline_s)
        except SourceFailed as failed:
            why = str(failed)
            if isinstance(failed.__cause__, NotSent):
                outbox.not_sent(self._store, order.id, why, self._who, self._now)
            else:
                outbox.unclear(self._store, order.id, why, self._who, self._now)
            return Sent(ordering.get(self._store, order.id), order.state, why)
        return self._answered(marked, order.state, answer)

    def _ask(self, order: OrderRow) -> Sent:
        """Ask after an order; nothing is sent by it."""
        taker = self._taker(order.source)
        if isinstance(taker, str) or STATUS not in taker.does:
            return Sent(order, order.state, order.said)
        key = order.outbox_key
        try:
            answer = fenced(lambda: taker.order_status(key), self._of(order.source).deadline_s)
        except SourceFailed as failed:
            return Sent(order, order.state, f"it can't be asked after: {failed}")
        return self._answered(order, order.state, answer)

    def _answered(self, order: OrderRow, before: str, answer: object) -> Sent:
        try:
            checked = checked_answer(answer, order)
        except SourceFailed as failed:
            outbox.unclear(self._store, order.id, str(failed), self._who, self._now)
            return Sent(ordering.get(self._store, order.id), before, str(failed))
        if checked.state == "unknown":
            # it may still be on its way, so that is no leave to send it again
            why = "the supplier doesn't know it" + (f" ({checked.says})" if checked.says else "")
            outbox.unclear(self._store, order.id, why, self._who, self._now)
            return Sent(ordering.get(self._store, order.id), before, why)
        after = outbox.answered(self._store, order.id, verdict_of(order, checked, self._zone(order.site)),
                                self._who, self._now)
        return Sent(after, before, after.said)

    def _zone(self, site: str) -> str:
        """The zone of a site's clock; UTC where the settings have no such site any more."""
        sites = self._settings.sites
        told = sites.get(site) if isinstance(sites, Mapping) else None
        zone = told.get("zone") if isinstance(told, Mapping) else None
        return zone if isinstance(zone, str) else "UTC"

    def _of(self, source: str) -> PluginSettings:
        return next(one for one in self._settings.sources if one.name == source)

    def _taker(self, source: str) -> OrderTaker | str:
        """The source as one that takes orders, or why it can't be sent any."""
        if source not in self._takers:
            self._takers[source] = self._made(source)
        return self._takers[source]

    def _made(self, source: str) -> OrderTaker | str:
        one = next((one for one in self._settings.sources if one.name == source), None)
        if one is None:
            return f"the settings have no source {source} any more"
        try:
            kind, _ = self._plugins.source(one.plugin)
            context = Context(one.name, one.keys, self._settings.folder, self._currency, one.deadline_s)
            made_one = fenced(lambda: made(kind.make, context, "sources"), one.deadline_s)
        except SourceFailed as failed:
            return str(failed)
        if ORDER not in made_one.does:
            return "its stock is kept elsewhere, so fetch it there" if kind.elsewhere else (
                "it takes no orders, so ring them up")
        return made_one  # type: ignore[return-value]  # what `does` says is what a source promises


def unanswered(order: OrderRow, now: datetime) -> bool:
    """Cancelled after it was sent, never answered, and still to come: the supplier may have accepted it."""
    return (order.state == "cancelled" and order.sent_at is not None and order.answered_at is None
            and order.ready > now)


def request_of(order: OrderRow, now: datetime) -> OrderRequest:
    """An order as it is sent: nothing of the bookings that it is for."""
    return OrderRequest(
        key=order.outbox_key, slot=order.slot, ready=order.ready, cut_off=order.cut_off, currency=order.currency,
        fee=order.fee, lines=tuple(OrderItem(one.item, one.unit, one.quantity, one.minor) for one in order.lines),
        now=now)


def checked_answer(answer: object, order: OrderRow) -> OrderAnswer:
    """The answer as it crosses the seam. Raises SourceFailed for rubbish: another type, amounts below zero, items that
    weren't ordered or come twice, times without a zone."""
    if not isinstance(answer, OrderAnswer):
        raise SourceFailed(f"it answered {type(answer).__name__}, expected an OrderAnswer")
    try:
        checked = msgspec.convert(msgspec.to_builtins(answer), OrderAnswer)
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered an OrderAnswer that is not one: {error}") from None
    items = [one.item for one in checked.lines]
    strange = sorted(set(items) - {one.item for one in order.lines})
    if strange:
        raise SourceFailed(f"it answered for {strange[0]!r}, which wasn't ordered")
    if len(set(items)) < len(items):
        raise SourceFailed("it answered twice for one item")
    figures = [checked.fee or 0, *(one.quantity for one in checked.lines), *(one.minor or 0 for one in checked.lines)]
    if any(figure < 0 for figure in figures):
        raise SourceFailed("it answered an amount or price below zero")
    if any(one.ready is not None and one.ready.tzinfo is None for one in checked.lines):
        raise SourceFailed("it answered a time without a zone")
    if checked.state == "accepted" and not checked.lines:
        raise SourceFailed("it accepted without saying what")
    return checked


def verdict_of(order: OrderRow, answer: OrderAnswer, zone: str = "UTC") -> Verdict:
    """What an answer means for the order: less of a line is a part; dearer, later, more or another item is a change,
    which a person takes or not; cheaper or earlier is as asked for. Times are told in `zone`."""
    by_item = {one.item: one for one in answer.lines}
    got = [(line, by_item.get(line.item) or AnsweredLine(item=line.item, quantity=0)) for line in order.lines]
    if answer.state == "refused" or not any(one.quantity for _, one in got):
        return Verdict(state="refused", number=answer.number, text=answer.says)
    changes = [text for line, one in got for text in _changes(order, line, one, zone)]
    if answer.fee is not None and answer.fee > order.fee:
        changes.append(f"the fee is {_money(answer.fee, order)} instead of {_money(order.fee, order)}")
    less = [
        f"{amount.show(one.quantity)} of {amount.show(line.quantity)} {line.unit} {line.item}"
        for line, one in got if one.quantity < line.quantity]
    # most come when the first does; what comes at another time is told of its line
    ready = min(one.ready or order.ready for _, one in got if one.quantity)
    told = [*changes, f"only {', '.join(less)}" if less else "", answer.says]
    text = "; ".join(one for one in told if one)
    return Verdict(
        state="changed" if changes else "part" if less else "confirmed",
        lines=tuple(LineVerdict(one.item, one.quantity, one.minor, one.substitute, _apart(one, order, ready))
                    for _, one in got),
        expected_at=ready, number=answer.number, text=text, fee=answer.fee)


def _apart(one: AnsweredLine, order: OrderRow, ready: datetime) -> datetime | None:
    """When a line comes, if not with the rest."""
    when = one.ready or order.ready
    return when if one.quantity and when != ready else None


def _changes(order: OrderRow, line: OrderedLine, one: AnsweredLine, zone: str) -> list[str]:
    if not one.quantity:
        return []
    found = []
    if one.substitute and one.substitute != line.item:
        found.append(f"{one.substitute} in place of {line.item}")
    if one.quantity > line.quantity:
        found.append(f"{amount.show(one.quantity)} {line.unit} of {line.item} instead of {amount.show(line.quantity)}")
    # the price is for all of what is accepted, so what was quoted is taken in proportion
    if one.minor is not None and one.minor * line.quantity > line.minor * one.quantity + line.quantity:
        found.append(f"{line.item} costs {_money(one.minor, order)} instead of "
                     f"{_money(line.minor * one.quantity // line.quantity, order)}")
    if one.ready is not None and one.ready > order.ready:
        found.append(f"{line.item} comes {to_wall(one.ready, zone):%Y-%m-%d %H:%M} instead of "
                     f"{to_wall(order.ready, zone):%Y-%m-%d %H:%M}")
    return found


def _money(minor: int, order: OrderRow) -> str:
    return f"{amount.show_money(minor, order.currency)} {order.currency}"
