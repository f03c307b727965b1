"""Asks the stock sources for what a kit needs, side by side, and puts their answers to its lines."""

import threading
from collections.abc import Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import SourceFailed, one_of
from kitbuilder.hooks import Context
from kitbuilder.model.kit import Kit, Line, StockAnswer
from kitbuilder.model.offer import Offer, Price, Quote, QuoteRequest, Slot, Wanted
from kitbuilder.plugins import Plugins, fenced
from kitbuilder.settings import PluginSettings, Settings


class Answer(msgspec.Struct, frozen=True):
    """What came of asking one source: a quote, fresh or stale, with its age in seconds; or why it failed.
    `does` is what the source says it can do."""

    source: str
    does: tuple[str, ...]
    state: str
    quote: Quote | None
    age_s: int | None
    error: str | None


def ask_sources(settings: Settings, plugins: Plugins, request: QuoteRequest, currency: str) -> list[Answer]:
    """Ask every source of the settings at once; the slowest costs no more than its own deadline."""
    answers: dict[str, Answer] = {}

    def ask(one: PluginSettings) -> None:
        answers[one.name] = _ask(one, settings, plugins, request, currency)

    threads = [threading.Thread(target=ask, args=(one,)) for one in settings.sources]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [answers[one.name] for one in settings.sources]


def _ask(one: PluginSettings, settings: Settings, plugins: Plugins, request: QuoteRequest, currency: str) -> Answer:
    does: tuple[str, ...] = ()

    def quote_now() -> Quote:
        nonlocal does
        source = kind.make(context)
        does = tuple(sorted(str(what) for what in source.does))
        return source.quote(request)

    try:
        if one.plugin not in plugins.sources:
            broken = [row for row in plugins.rows if row.error]
            hint = f" ({broken[0].name} failed to load: {broken[0].error})" if broken else ""
            raise SourceFailed(f"no plug-in brings {one.plugin!r}; expected {one_of(one.plugin, list(plugins.sources))}{hint}")
        kind, distribution = plugins.sources[one.plugin]
        try:
            context = Context(one.name, one.keys, settings.folder, currency)
            quote = fenced(quote_now, one.deadline_s)
            _check(quote, request)
        except SourceFailed as failed:
            raise SourceFailed(f"{one.plugin} of {distribution}: {failed}") from failed
    except SourceFailed as failed:
        return Answer(one.name, does, "failed", None, None, str(failed))
    age = max(0, int((request.now - quote.as_of).total_seconds()))
    return Answer(one.name, does, "stale" if age > one.stale_after_h * 3600 else "fresh", quote, age, None)


def _check(quote: object, request: QuoteRequest) -> None:
    """Refuse rubbish: another type, wrong types inside, no zone, amounts below zero, slots that aren't there."""
    if not isinstance(quote, Quote):
        raise SourceFailed(f"it answered {type(quote).__name__}, expected a Quote")
    try:
        msgspec.convert(msgspec.to_builtins(quote), Quote)
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered a Quote that is not one: {error}") from None
    wanted = {one.item: one for one in request.wanted}
    slots = {slot.name for slot in quote.slots}
    for when in (quote.as_of, *(slot.ready for slot in quote.slots)):
        if when.tzinfo is None:
            raise SourceFailed(f"it answered a time without a zone: {when.isoformat()}")
    if not (len(quote.currency) == 3 and quote.currency.isascii() and quote.currency.isupper()):
        raise SourceFailed(f"it answered the currency {quote.currency!r}, expected one of ISO 4217")
    for offer in quote.offers:
        _check_offer(offer, wanted, slots)


def _check_offer(offer: Offer, wanted: dict[str, Wanted], slots: set[str]) -> None:
    if offer.item not in wanted:
        raise SourceFailed(f"it answered for {offer.item!r}, which it was not asked for")
    unit = wanted[offer.item].unit
    if offer.unit not in amount.UNITS or amount.quantity(offer.unit) != amount.quantity(unit):
        raise SourceFailed(f"it answered {offer.item} in {offer.unit!r}, expected a unit that converts to {unit}")
    figures = [offer.pool or 0, offer.least, offer.deposit, *(pack - 1 for pack in offer.packs)]
    for arrival in offer.arrivals:
        if arrival.slot not in slots:
            raise SourceFailed(f"it answered {offer.item} for a slot {arrival.slot!r} that it didn't name")
        figures += [arrival.most or 0, *(price.minor for price in arrival.prices)]
        figures += [price.per - 1 for price in arrival.prices]
    if not offer.arrivals or any(figure < 0 for figure in figures):
        raise SourceFailed(f"it answered amounts or prices for {offer.item} that can't be")


def wanted_items(edition: Edition, kit: Kit) -> tuple[Wanted, ...]:
    """The items that may fill the lines of a kit, each once, in line order."""
    numbers = dict.fromkeys(number for line in kit.lines for number in line.acceptable)
    items = [edition.item(number) for number in numbers]
    return tuple(Wanted(item.number, item.unit, item.codes) for item in items)


def with_stock(edition: Edition, kit: Kit, answers: Sequence[Answer]) -> Kit:
    """The kit with what each source says to each line, and what is short: lines share an item in line order."""
    rows: dict[str, list[StockAnswer]] = {}
    pools: dict[str, int | None] = {}
    unknown: set[str] = set()
    for wanted in wanted_items(edition, kit):
        rows[wanted.item] = []
        pools[wanted.item] = 0
        for answer in answers:
            error = answer.error if answer.quote is None else answer.quote.unreadable.get(wanted.item)
            if error is not None:
                unknown.add(wanted.item)
                rows[wanted.item].append(StockAnswer(
                    answer.source, wanted.item, None, None, None, None, None, "failed", answer.age_s, error))
            elif answer.quote is not None:
                offers = [offer for offer in answer.quote.offers if offer.item == wanted.item]
                rows[wanted.item] += [row for offer in offers for row in _rows(answer, offer, wanted.unit)]
                for offer in offers:
                    left, more = pools[wanted.item], _available(offer, wanted.unit)
                    pools[wanted.item] = None if left is None or more is None else left + more
    lines = []
    for line in kit.lines:
        short = _take(edition, line, pools)
        failed = unknown & set(line.acceptable)
        stock = tuple(row for number in line.acceptable for row in rows[number])
        lines.append(msgspec.structs.replace(line, stock=stock, short=None if failed else amount.show(short)))
    return msgspec.structs.replace(kit, lines=tuple(lines))


def _take(edition: Edition, line: Line, pools: dict[str, int | None]) -> int:
    """Take a line's amount from its items in the order of `acceptable`; what is left over is short (milli-units)."""
    need = amount.parse(line.amount, line.unit, line.unit)
    for number in line.acceptable:
        left = pools[number]
        if left is None:
            return 0
        unit = edition.item(number).unit
        here = amount.convert(left, unit, line.unit)
        taken = min(need, here)
        if taken:
            pools[number] = left - amount.parse(amount.show(taken), line.unit, unit)
        need -= taken
    return need


def _available(offer: Offer, unit: str) -> int | None:
    if offer.pool is None:
        return None
    most = [arrival.most for arrival in offer.arrivals]
    limit = sum(one for one in most if one is not None) if None not in most else offer.pool
    return amount.convert(min(offer.pool, limit), offer.unit, unit)


def _rows(answer: Answer, offer: Offer, unit: str) -> list[StockAnswer]:
    assert answer.quote is not None
    slots: dict[str, Slot] = {slot.name: slot for slot in answer.quote.slots}
    found = []
    for arrival in sorted(offer.arrivals, key=lambda arrival: slots[arrival.slot].ready):
        limits = [one for one in (offer.pool, arrival.most) if one is not None]
        quantity = amount.show(amount.convert(min(limits), offer.unit, unit)) if limits else None
        price: Price | None = arrival.prices[0] if arrival.prices else None
        found.append(StockAnswer(
            answer.source, offer.item, quantity, slots[arrival.slot].ready.isoformat(),
            amount.show_money(price.minor, answer.quote.currency) if price else None,
            amount.show(amount.convert(price.per, offer.unit, unit)) if price else None,
            answer.quote.currency, "stale" if answer.state == "stale" else "fresh", answer.age_s, None))
    return found


def short_for_certain(kit: Kit) -> bool:
    """Whether a line that is certainly needed, and waits for no finding, is short."""
    return any(
        line.certainty == "certain" and line.finding is None and isinstance(line.short, str) and line.short != "0"
        for line in kit.lines)


def failed_any(answers: Sequence[Answer], kit: Kit) -> bool:
    """Whether a source failed, wholly or for an item of the kit."""
    rows = (row for line in kit.lines if isinstance(line.stock, tuple) for row in line.stock)
    return any(answer.quote is None for answer in answers) or any(row.state == "failed" for row in rows)

