"""Asks the stock sources for what a kit needs, side by side, and puts their answers to its lines."""

import threading
import time
from collections.abc import Callable, Sequence
from datetime import date, datetime
from math import gcd
from pathlib import Path

import msgspec
from msgspec import UNSET

from kitbuilder import amount
from kitbuilder.calendar.ago import ago
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import SourceFailed, SourceRests
from kitbuilder.hooks import Context, ShelfView, SourceKind
from kitbuilder.model.kit import Kit, Line, StockAnswer
from kitbuilder.model.offer import Offer, Price, Quote, QuoteRequest, Wanted
from kitbuilder.plugins import Fence, Hangs, Plugins, made, printing_aside
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.health import Asked, folder_of, note_health, read_health, told_to_rest
from kitbuilder.stock.kit_ways import KitWays, take
from kitbuilder.stock.seam import checked
from kitbuilder.stock.supersede import successors


class Answer(msgspec.Struct, frozen=True):
    """What came of asking one source: a quote, fresh or stale, with its age in seconds; or why it failed.
    `does` is what the source says it can do; `hung`: it failed because it gave no answer in time."""

    source: str
    does: tuple[str, ...]
    state: str
    quote: Quote | None
    age_s: int | None
    error: str | None
    hung: bool = False


def ask_sources(settings: Settings, plugins: Plugins, request: QuoteRequest, currency: str,
                shelf: ShelfView | None = None, cache: Path | None = None, before: Sequence[Answer] = (),
                machine: Callable[[], float] = time.time) -> list[Answer]:
    """Ask every source of the settings at once, in one round that ends at its deadline with whatever has come.

    The slowest costs no more than its own deadline, however many items are asked for. `shelf`: the view of the own
    shelf that sources get; `cache`: the folder in which each gets one of its own, and in which is noted how it answered
    (None: nothing is kept). `before`: the answers of an earlier round of the same run: one that hung there isn't waited
    for again. `machine`: the machine's clock in seconds, by which sources rest.
    """
    answers = {answer.source: answer for answer in before if answer.hung}
    folders = {one.name: folder_of(cache, settings, one) if cache else None for one in settings.sources}
    lately = {name: read_health(folder) for name, folder in folders.items()}
    # the one that took longest the last time first: what the others cost is then done while it is waited for
    slowest_first = sorted(settings.sources, key=lambda one: -(lately[one.name].took_ms or 0))
    asked: dict[str, _Asked] = {}
    with printing_aside():
        for one in slowest_first:
            if one.name in answers:
                continue
            rests = told_to_rest(lately[one.name], machine())
            if rests:
                answers[one.name] = Answer(one.name, (), "failed", None, None, rests)
            else:
                def note(how: Asked, name: str = one.name) -> None:
                    note_health(folders[name], lately[name], how, machine())

                asked[one.name] = _Asked(one, settings, plugins, request, currency, shelf, folders[one.name], note)
        for name, source in reversed(asked.items()):
            answers[name] = source.answer()
    return [answers[one.name] for one in settings.sources]


class _Asked:
    """One source of a round, asked in a thread of its own from the moment this is made. `note` is told once how."""

    def __init__(self, one: PluginSettings, settings: Settings, plugins: Plugins, request: QuoteRequest, currency: str,
                 shelf: ShelfView | None, folder: Path | None, note: Callable[[Asked], None]) -> None:
        self._one, self._request, self._round_s, self._note = one, request, settings.round_s, note
        self._within_s = one.deadline_s if self._round_s is None else min(one.deadline_s, self._round_s)
        self._does: tuple[str, ...] = ()
        self._context = Context(one.name, one.keys, settings.folder, currency, self._within_s, shelf, folder)
        self._kind: SourceKind | None = None
        self._noting, self._noted = threading.Lock(), False
        try:
            self._kind, self._distribution = plugins.source(one.plugin)
        except SourceFailed as failed:
            self._missing = failed
        else:
            self._fence = Fence(self._quote)

    def _quote(self) -> Quote:
        assert self._kind is not None
        began = time.monotonic()
        source = made(self._kind.make, self._context, "sources")
        self._does = tuple(sorted(str(what) for what in source.does))
        quote = checked(source.quote(self._request), self._request)
        # here and not by who waits, who may be waiting for another still
        self._noted_once(Asked(self._request.now, round((time.monotonic() - began) * 1000), quote.as_of))
        return quote

    def answer(self) -> Answer:
        """What there is at the deadline."""
        one, now = self._one, self._request.now
        if self._kind is None:
            told = str(self._missing)
            self._noted_once(Asked(now, 0, why=told))
            return Answer(one.name, (), "failed", None, None, told)
        try:
            quote = self._fence.result(self._within_s)
        except SourceFailed as failed:
            hung = isinstance(failed, Hangs)
            told = f"{one.plugin} of {self._distribution}: {failed}"
            took_s = self._fence.took_s()
            # one that gives up by itself does so a little sooner
            if self._within_s < one.deadline_s and took_s > self._within_s * 0.7:
                told += f"; a round of quotes ends after {self._within_s:g} s (deadline_s in [quotes])"
            took_ms = round(took_s * 1000)
            self._noted_once(Asked(now, took_ms, why=told, rests_until=_rests_until(failed)))
            return Answer(one.name, self._does, "failed", None, None, told, hung)
        age = max(0, int((now - quote.as_of).total_seconds()))
        stale = bool(quote.kept) or age > one.stale_after_h * 3600
        return Answer(one.name, self._does, "stale" if stale else "fresh", quote, age, None)

    def _noted_once(self, how: Asked) -> None:
        """Note how it was asked; what comes when it was given up is too late."""
        with self._noting:
            if not self._noted:
                self._noted = True
                self._note(how)


def _rests_until(error: BaseException | None) -> datetime | None:
    while error is not None and not isinstance(error, SourceRests):
        error = error.__cause__
    # a plug-in may put anything there
    until = error.until if error is not None else None
    return until if isinstance(until, datetime) and until.tzinfo is not None else None


def wanted_items(edition: Edition, kit: Kit, day: date | None = None) -> tuple[Wanted, ...]:
    """The items that may fill the lines of a kit, each once, in line order; with a `day` also those that have taken
    the place of one by then."""
    ways = KitWays(edition, kit, day)
    numbers = dict.fromkeys(
        number for place, line in enumerate(kit.lines) for number in _numbers(edition, place, line, day, ways))
    items = [edition.item(number) for number in numbers]
    return tuple(Wanted(item.number, item.unit, item.codes) for item in items)


def _numbers(edition: Edition, place: int, line: Line, day: date | None, ways: KitWays) -> tuple[str, ...]:
    """The items that may fill a line, by its place in the kit, or stand for it together."""
    if ways.bound(place):
        return ways.items(place)
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
    ways = KitWays(edition, kit, day)
    shorts: dict[int, int] = {}
    for place, line in sorted(enumerate(kit.lines), key=lambda one: one[1].advised is True):
        numbers = _numbers(edition, place, line, day, ways)
        if place not in shorts:
            shorts |= ways.take(place, kit.lines, pools) if ways.bound(place) else {place: _take(line, numbers, pools)}
        failed = unknown & set(numbers)
        stock = tuple(row for number in numbers for row in rows[number])
        lines[place] = msgspec.structs.replace(
            line, stock=stock, short=None if failed else amount.show(shorts[place]),
            superseded=ways.because(place) or UNSET)
    return msgspec.structs.replace(kit, lines=tuple(lines))


def _finest(unit: str) -> int:
    """How many of its quantity's smallest unit a unit is. Pools are counted in these, so that sharing loses nothing."""
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def _take(line: Line, numbers: Sequence[str], pools: dict[str, int | None]) -> int:
    """Take a line's amount from the items that may fill it, in their order; what is left over is short, in milli-units
    of the line, rounded up: what is missing is never made less."""
    finest = _finest(line.unit)
    return take(amount.parse(line.amount, line.unit, line.unit) * finest, numbers, pools, finest)


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
    """What has to be said of sources: which failed, and whose answer is stale, with its age, in sentences."""
    told = [f"The source {one.source} failed: {one.error}" for one in answers if one.error]
    for one in answers:
        if one.quote is not None and one.quote.kept:
            told.append(f"The source {one.source} gives its last good answer, told {ago(one.age_s or 0)}: "
                        f"{one.quote.kept}")
        elif one.state == "stale":
            told.append(f"The source {one.source} is stale, told {ago(one.age_s or 0)}.")
    return told


def short_for_certain(kit: Kit) -> bool:
    """Whether a line that is certainly needed, and waits for no finding and no choice of the customer, is short."""
    return any(
        line.certainty == "certain" and line.finding is None and line.advised is not True
        and isinstance(line.short, str) and line.short != "0" for line in kit.lines)


def failed_any(answers: Sequence[Answer], kit: Kit) -> bool:
    """Whether a source failed, wholly or for an item of the kit."""
    rows = (row for line in kit.lines if isinstance(line.stock, tuple) for row in line.stock)
    return any(answer.quote is None for answer in answers) or any(row.state == "failed" for row in rows)

