"""Asks the stock sources for what a kit needs, side by side, and puts their answers to its lines."""

import re
import threading
import time
from collections.abc import Sequence
from datetime import date, datetime
from math import gcd
from pathlib import Path

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import SourceFailed, SourceRests
from kitbuilder.hooks import Context, ShelfView
from kitbuilder.model.kit import Kit, Line, StockAnswer
from kitbuilder.model.offer import Offer, Price, Quote, QuoteRequest, Wanted
from kitbuilder.plugins import Plugins, fenced, made, printing_aside
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.health import folder_of, note_health
from kitbuilder.stock.supersede import successors


class Answer(msgspec.Struct, frozen=True):
    """What came of asking one source: a quote, fresh or stale, with its age in seconds; or why it failed.
    `does` is what the source says it can do."""

    source: str
    does: tuple[str, ...]
    state: str
    quote: Quote | None
    age_s: int | None
    error: str | None


def ask_sources(settings: Settings, plugins: Plugins, request: QuoteRequest, currency: str,
                shelf: ShelfView | None = None, cache: Path | None = None) -> list[Answer]:
    """Ask every source of the settings at once; the slowest costs no more than its own deadline, however many items
    are asked for. `shelf`: the view of the own shelf that sources get; `cache`: the folder in which each gets one of
    its own, and in which is noted how it answered (None: nothing is kept)."""
    answers: dict[str, Answer] = {}

    def ask(one: PluginSettings) -> None:
        folder = folder_of(cache, settings, one) if cache else None
        started = time.monotonic()
        answer, rests_until = _ask(one, settings, plugins, request, currency, shelf, folder)
        took_ms = round((time.monotonic() - started) * 1000)
        note_health(folder, request.now, took_ms, answer.quote.as_of if answer.quote else None, rests_until)
        answers[one.name] = answer

    threads = [threading.Thread(target=ask, args=(one,)) for one in settings.sources]
    with printing_aside():
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    return [answers[one.name] for one in settings.sources]


def _ask(one: PluginSettings, settings: Settings, plugins: Plugins, request: QuoteRequest, currency: str,
         shelf: ShelfView | None, folder: Path | None) -> tuple[Answer, datetime | None]:
    """The answer of one source, and until when it rests, if it does."""
    does: tuple[str, ...] = ()

    def quote_now() -> Quote:
        nonlocal does
        source = made(kind.make, context, "sources")
        does = tuple(sorted(str(what) for what in source.does))
        return checked(source.quote(request), request)

    try:
        kind, distribution = plugins.source(one.plugin)
        context = Context(one.name, one.keys, settings.folder, currency, one.deadline_s, shelf, folder)
        try:
            quote = fenced(quote_now, one.deadline_s)
        except SourceFailed as failed:
            raise SourceFailed(f"{one.plugin} of {distribution}: {failed}") from failed
    except SourceFailed as failed:
        return Answer(one.name, does, "failed", None, None, str(failed)), _rests_until(failed)
    age = max(0, int((request.now - quote.as_of).total_seconds()))
    stale = bool(quote.kept) or age > one.stale_after_h * 3600
    return Answer(one.name, does, "stale" if stale else "fresh", quote, age, None), None


def _rests_until(error: BaseException | None) -> datetime | None:
    while error is not None and not isinstance(error, SourceRests):
        error = error.__cause__
    # a plug-in may put anything there
    until = error.until if error is not None else None
    return until if isinstance(until, datetime) and until.tzinfo is not None else None


def checked(answer: object, request: QuoteRequest) -> Quote:
    """The quote as it crosses the seam. Refuses rubbish: another type, wrong types inside, times without a zone,
    amounts below zero, items that weren't asked for, slots that aren't there."""
    if not isinstance(answer, Quote):
        raise SourceFailed(f"it answered {type(answer).__name__}, expected a Quote")
    try:
        # what is converted counts, not what was answered: a day may have come as text, a tuple as a list
        quote = msgspec.convert(msgspec.to_builtins(answer), Quote)
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered a Quote that is not one: {error}") from None
    if not re.fullmatch("[A-Z]{3}", quote.currency):
        raise SourceFailed(f"it answered the currency {quote.currency!r}, expected one of ISO 4217, such as EUR")
    whens = [quote.as_of]
    slots: set[str] = set()
    for slot in quote.slots:
        if slot.name in slots:
            raise SourceFailed(f"it named the slot {slot.name!r} twice")
        slots.add(slot.name)
        whens += [slot.ready] if slot.cut_off is None else [slot.ready, slot.cut_off]
        if slot.fee < 0 or slot.minimum < 0:
            raise SourceFailed(f"it answered a fee or minimum below zero for the slot {slot.name!r}")
    for when in whens:
        if when.tzinfo is None:
            raise SourceFailed(f"it answered a time without a zone: {when.isoformat()}")
    wanted = {one.item: one for one in request.wanted}
    places: set[tuple[str, str, str]] = set()
    for offer in quote.offers:
        _check_offer(offer, wanted, slots)
        for arrival in offer.arrivals:
            place = (offer.item, offer.lot, arrival.slot)
            if place in places:
                lot = f", lot {offer.lot}," if offer.lot else ""
                raise SourceFailed(f"it offered {offer.item}{lot} twice in the slot {arrival.slot!r}")
            places.add(place)
    return quote


def _check_offer(offer: Offer, wanted: dict[str, Wanted], slots: set[str]) -> None:
    if offer.item not in wanted:
        raise SourceFailed(f"it answered for {offer.item!r}, which it was not asked for")
    unit = wanted[offer.item].unit
    if offer.unit not in amount.UNITS or amount.quantity(offer.unit) != amount.quantity(unit):
        raise SourceFailed(f"it answered {offer.item} in {offer.unit!r}, expected a unit that converts to {unit}")
    if not offer.arrivals:
        raise SourceFailed(f"it answered {offer.item} without an arrival; what isn't there has no offer")
    used: set[str] = set()
    figures = [offer.pool or 0, offer.least, offer.deposit, *(pack - 1 for pack in offer.packs)]
    for arrival in offer.arrivals:
        if arrival.slot not in slots:
            raise SourceFailed(f"it answered {offer.item} for a slot {arrival.slot!r} that it didn't name")
        if arrival.slot in used:
            raise SourceFailed(f"it answered {offer.item} for the slot {arrival.slot!r} twice in one offer")
        used.add(arrival.slot)
        figures.append(arrival.most or 0)
        for price in arrival.prices:
            figures += [price.minor, price.per - 1, price.least]
        breaks = [price.least for price in arrival.prices]
        if breaks != sorted(set(breaks)):
            raise SourceFailed(f"it answered price breaks for {offer.item} that don't go from the smallest up")
    if any(figure < 0 for figure in figures):
        raise SourceFailed(f"it answered an amount or price for {offer.item} that can't be, such as one below zero")


def wanted_items(edition: Edition, kit: Kit, day: date | None = None) -> tuple[Wanted, ...]:
    """The items that may fill the lines of a kit, each once, in line order; with a `day` also those that have taken
    the place of one by then."""
    numbers = dict.fromkeys(number for line in kit.lines for number in _takes(edition, line, day))
    items = [edition.item(number) for number in numbers]
    return tuple(Wanted(item.number, item.unit, item.codes) for item in items)


def _takes(edition: Edition, line: Line, day: date | None) -> tuple[str, ...]:
    return line.acceptable if day is None else successors(line.acceptable, edition.supersessions, day)


def with_stock(edition: Edition, kit: Kit, answers: Sequence[Answer], day: date | None = None) -> Kit:
    """The kit with what each source says to each line, and what is short: lines share an item in line order, those
    that are only advised behind all others.

    With a `day`, what has taken an item's place by then counts behind it; what is acceptable by the kit stays so.
    """
    rows: dict[str, list[StockAnswer]] = {}
    pools: dict[str, int | None] = {}
    unknown: set[str] = set()
    for wanted in wanted_items(edition, kit, day):
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
                rows[wanted.item] += _rows(answer, answer.quote, offers, wanted)
                for offer in offers:
                    left, more = pools[wanted.item], _available(offer)
                    pools[wanted.item] = None if left is None or more is None else left + more
    lines = list(kit.lines)
    for place, line in sorted(enumerate(kit.lines), key=lambda one: one[1].advised is True):
        numbers = _takes(edition, line, day)
        short = _take(line, numbers, pools)
        failed = unknown & set(numbers)
        stock = tuple(row for number in numbers for row in rows[number])
        lines[place] = msgspec.structs.replace(line, stock=stock, short=None if failed else amount.show(short))
    return msgspec.structs.replace(kit, lines=tuple(lines))


def _finest(unit: str) -> int:
    """How many of its quantity's smallest unit a unit is. Pools are counted in these, so that sharing loses nothing."""
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def _take(line: Line, numbers: Sequence[str], pools: dict[str, int | None]) -> int:
    """Take a line's amount from the items that may fill it, in their order; what is left over is short, in milli-units
    of the line, rounded up: what is missing is never made less."""
    finest = _finest(line.unit)
    need = amount.parse(line.amount, line.unit, line.unit) * finest
    for number in numbers:
        left = pools[number]
        if left is None:
            return 0
        taken = min(need, left)
        pools[number] = left - taken
        need -= taken
    return -(-need // finest)


def _available(offer: Offer) -> int | None:
    """How much of an offer can come over all its arrivals, in thousandths of the smallest unit; None: any amount."""
    most = [arrival.most for arrival in offer.arrivals if arrival.most is not None]
    limits = [] if offer.pool is None else [offer.pool]
    if len(most) == len(offer.arrivals):
        limits.append(sum(most))
    return min(limits) * _finest(offer.unit) if limits else None


def _rows(answer: Answer, quote: Quote, offers: Sequence[Offer], wanted: Wanted) -> list[StockAnswer]:
    """A row for each slot and price, the earliest first; lots and bins of one slot and price are added up."""
    ready = {slot.name: slot.ready for slot in quote.slots}
    found: dict[tuple[str, tuple[str, str] | None], int | None] = {}
    for offer in offers:
        for arrival in offer.arrivals:
            limits = [one for one in (offer.pool, arrival.most) if one is not None]
            here = min(limits) * _finest(offer.unit) if limits else None
            key = arrival.slot, _price(arrival.prices[0], quote, offer, wanted) if arrival.prices else None
            before = found.get(key, 0)
            found[key] = None if before is None or here is None else before + here
    return [
        StockAnswer(
            answer.source, wanted.item, None if here is None else amount.show(here // _finest(wanted.unit)),
            ready[slot].isoformat(), price[0] if price else None, price[1] if price else None, quote.currency,
            "stale" if answer.state == "stale" else "fresh", answer.age_s, None)
        for (slot, price), here in sorted(found.items(), key=lambda one: ready[one[0][0]])]


def _price(price: Price, quote: Quote, offer: Offer, wanted: Wanted) -> tuple[str, str]:
    """A price and what it is for, in the item's unit. Where that isn't whole thousandths (the price of half a
    millilitre, in litres) both are made greater: they are never rounded."""
    per, finest = price.per * _finest(offer.unit), _finest(wanted.unit)
    times = finest // gcd(per, finest)
    return amount.show_money(price.minor * times, quote.currency), amount.show(per * times // finest)


def told_of(answers: Sequence[Answer]) -> list[str]:
    """What has to be said of sources: which failed, and which gave an answer that they had kept, in sentences."""
    failed = [f"The source {one.source} failed: {one.error}" for one in answers if one.error]
    return failed + [f"The source {one.source} gives its last good answer: {one.quote.kept}" for one in answers
                     if one.quote is not None and one.quote.kept]


def short_for_certain(kit: Kit) -> bool:
    """Whether a line that is certainly needed, and waits for no finding and no choice of the customer, is short."""
    return any(
        line.certainty == "certain" and line.finding is None and line.advised is not True
        and isinstance(line.short, str) and line.short != "0" for line in kit.lines)


def failed_any(answers: Sequence[Answer], kit: Kit) -> bool:
    """Whether a source failed, wholly or for an item of the kit."""
    rows = (row for line in kit.lines if isinstance(line.stock, tuple) for row in line.stock)
    return any(answer.quote is None for answer in answers) or any(row.state == "failed" for row in rows)

