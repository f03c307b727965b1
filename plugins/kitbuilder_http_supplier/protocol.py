"""The question as JSON, and the answer from JSON to a quote; the format is told in the package's docstring."""

import re
from collections.abc import Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Annotated, Literal

import msgspec

from kitbuilder import (
    Arrival,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    Slot,
    SourceFailed,
    Sureness,
    parse_amount,
    parse_money,
)
from kitbuilder_http_supplier.words import plain

Moment = Annotated[datetime, msgspec.Meta(tz=True)]
#: Texts that people are shown: without control characters, which a terminal would obey.
Shown = Annotated[str, msgspec.Meta(pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
#: Amounts and money as they may be written. Digits beyond these are refused: nothing is rounded here.
_DECIMAL = re.compile(r"[0-9]{1,12}(\.[0-9]{1,3})?")


class WantedAsked(msgspec.Struct, frozen=True):
    """One item of the question."""

    item: str
    unit: str
    codes: tuple[str, ...]


class Question(msgspec.Struct, frozen=True):
    """What is sent."""

    format: Literal["kitbuilder.quote-request/1"]
    now: datetime
    currency: str
    wanted: tuple[WantedAsked, ...]


class SlotTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A slot as it is sent."""

    name: Shown
    ready: Moment
    cut_off: Moment | None
    fee: str = "0"
    minimum: str = "0"


class PriceTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A price as it is sent."""

    price: str
    per: str
    least: str = "0"


class ArrivalTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An arrival as it is sent."""

    slot: str
    sureness: Sureness
    prices: tuple[PriceTold, ...]
    most: str | None = None


class OfferTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """An offer as it is sent."""

    item: str
    unit: str
    pool: str | None
    returnable: bool
    arrivals: Annotated[tuple[ArrivalTold, ...], msgspec.Meta(min_length=1)]
    packs: tuple[str, ...] = ()
    least: str = "0"
    deposit: str = "0"
    lot: Shown = ""
    use_by: date | None = None


class AnswerTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The whole answer as it is sent."""

    format: Literal["kitbuilder.quote/1"]
    as_of: Moment
    currency: str
    slots: tuple[SlotTold, ...]
    offers: tuple[OfferTold, ...]
    unreadable: dict[str, str] = {}


class _Wrong(ValueError):
    """A text of the answer that can't be used: where it stands, what was read, what was expected.

    Places are put together on the way up, `within` one another: an answer in which nothing is wrong needs none.
    """

    def __init__(self, at: str, read: str, expected: object) -> None:
        super().__init__(at, read, expected)
        self.at, self.read, self.expected = at, read, expected

    def within(self, place: str) -> "_Wrong":
        """The same, in something that stands at a place."""
        return _Wrong(f"{place}.{self.at}", self.read, self.expected)

    def __str__(self) -> str:
        return f"{self.at} is {plain(self.read)!r}, expected {self.expected}"


def question(request: QuoteRequest, currency: str) -> bytes:
    """The question as JSON."""
    wanted = tuple(WantedAsked(one.item, one.unit, one.codes) for one in request.wanted)
    return msgspec.json.encode(Question("kitbuilder.quote-request/1", request.now, currency, wanted))


def read_answer(pages: Sequence[bytes], request: QuoteRequest, currency: str, host: str) -> Quote:
    """The quote in the pages of an answer; it is as old as its oldest page.

    An offer whose amounts can't be used makes its item unreadable, never empty, and the others stand. Raises
    SourceFailed, saying where, for anything else that isn't as the format has it.
    """
    told = _whole([_page(data, host) for data in pages], host)
    if told.currency != currency:
        raise SourceFailed(f"{host} quotes in {plain(told.currency)}; expected {currency}, the catalogue's currency")
    try:
        names = {slot.name for slot in told.slots}
        if len(names) < len(told.slots):
            raise _Wrong("$.slots", ", ".join(slot.name for slot in told.slots), "each name once")
        slots = tuple(_slot(number, slot, currency) for number, slot in enumerate(told.slots))
        units = {one.item: one.unit for one in request.wanted}
        for number, offer in enumerate(told.offers):
            if offer.item not in units:
                raise _Wrong(f"$.offers[{number}].item", offer.item, "only items that were asked for")
    except _Wrong as wrong:
        raise SourceFailed(f"{host} answered what can't be used: {wrong}") from None
    offers: list[Offer] = []
    unreadable = {item: plain(why) or "the supplier doesn't say why" for item, why in told.unreadable.items()}
    for number, offer in enumerate(told.offers):
        try:
            offers.append(_offer(offer, units[offer.item], names, currency))
        except _Wrong as wrong:
            told_so = wrong.within(f"$.offers[{number}]")
            unreadable.setdefault(offer.item, f"{host} answered what can't be used: {told_so}")
    return Quote(
        as_of=told.as_of, currency=currency, slots=slots, offers=tuple(offers), unreadable=unreadable)


def _page(data: bytes, host: str) -> AnswerTold:
    try:
        return msgspec.json.decode(data, type=AnswerTold)
    except msgspec.ValidationError as error:
        what = plain(str(error))
        raise SourceFailed(f"{host} answered JSON that is no quote of kitbuilder.quote/1: {what}") from None
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise SourceFailed(f"{host} answered what is no JSON, whatever it calls it: {error}") from None


def _whole(pages: Sequence[AnswerTold], host: str) -> AnswerTold:
    """The pages of an answer as one; a slot may stand in several of them if it is the same in all."""
    if len(pages) == 1:
        return pages[0]
    slots: dict[str, SlotTold] = {}
    for page in pages:
        if len({slot.name for slot in page.slots}) < len(page.slots):
            raise SourceFailed(f"{host} answered a page that names a slot twice")
        for slot in page.slots:
            if slots.setdefault(slot.name, slot) != slot:
                raise SourceFailed(
                    f"{host} answered pages that don't agree on the slot {plain(slot.name)!r}: has it changed since?")
    if len({page.currency for page in pages}) > 1:
        raise SourceFailed(f"{host} answered pages in several currencies")
    return AnswerTold(
        "kitbuilder.quote/1", min(page.as_of for page in pages), pages[0].currency, tuple(slots.values()),
        tuple(offer for page in pages for offer in page.offers),
        {item: why for page in pages for item, why in page.unreadable.items()})


def _slot(number: int, slot: SlotTold, currency: str) -> Slot:
    try:
        fee, minimum = _money("fee", slot.fee, currency), _money("minimum", slot.minimum, currency)
    except _Wrong as wrong:
        raise wrong.within(f"$.slots[{number}]") from None
    return Slot(name=slot.name, ready=slot.ready, cut_off=slot.cut_off, fee=fee, minimum=minimum)


def _offer(offer: OfferTold, wanted_unit: str, slots: set[str], currency: str) -> Offer:
    unit = offer.unit
    if unit != wanted_unit:
        try:
            parse_amount("1", unit, wanted_unit)
        except ValueError as error:
            raise _Wrong("unit", unit, error) from None
    arrivals: list[Arrival] = []
    for arrival in offer.arrivals:
        try:
            arrivals.append(_arrival(arrival, unit, slots, currency))
        except _Wrong as wrong:
            raise wrong.within(f"arrivals[{len(arrivals)}]") from None
    used = [arrival.slot for arrival in arrivals]
    if len(used) > 1 and len(set(used)) < len(used):
        raise _Wrong("arrivals", ", ".join(used), "each slot once in an offer")
    packs: list[int] = []
    for pack in offer.packs:
        packs.append(_some(f"packs[{len(packs)}]", pack, unit))
    return Offer(
        item=offer.item, unit=unit, pool=None if offer.pool is None else _amount("pool", offer.pool, unit),
        arrivals=tuple(arrivals), least=_amount("least", offer.least, unit), returnable=offer.returnable,
        packs=tuple(packs), deposit=_money("deposit", offer.deposit, currency), lot=offer.lot, use_by=offer.use_by)


def _arrival(arrival: ArrivalTold, unit: str, slots: set[str], currency: str) -> Arrival:
    if arrival.slot not in slots:
        raise _Wrong("slot", arrival.slot, "the name of one of its slots")
    prices: list[Price] = []
    for price in arrival.prices:
        try:
            prices.append(Price(
                minor=_money("price", price.price, currency), per=_some("per", price.per, unit),
                least=_amount("least", price.least, unit)))
        except _Wrong as wrong:
            raise wrong.within(f"prices[{len(prices)}]") from None
    if len(prices) > 1:
        prices.sort(key=lambda price: price.least)
        if len({price.least for price in prices}) < len(prices):
            raise _Wrong("prices", ", ".join(price.least for price in arrival.prices), "each \"least\" once")
    return Arrival(
        slot=arrival.slot, sureness=arrival.sureness, prices=tuple(prices),
        most=None if arrival.most is None else _amount("most", arrival.most, unit))


def _amount(at: str, text: str, unit: str) -> int:
    """Milli-units of an amount of zero or more."""
    # parse_amount takes none for a mistake
    if text == "0" or (_DECIMAL.fullmatch(text) and not text.strip("0.")):
        return 0
    return _some(at, text, unit)


def _some(at: str, text: str, unit: str) -> int:
    """Milli-units of an amount above zero."""
    try:
        return _milli(text, unit)
    except ValueError as error:
        raise _Wrong(at, text, error) from None


@lru_cache(1000)  # packs, pools and what a price is for are the same few texts over and over
def _milli(text: str, unit: str) -> int:
    milli = parse_amount(text, unit, unit)
    if not _DECIMAL.fullmatch(text):
        raise ValueError("three decimal places at most")
    return milli


def _money(at: str, text: str, currency: str) -> int:
    if text == "0":
        return 0
    try:
        return parse_money(text, currency)
    except ValueError as error:
        raise _Wrong(at, text, error) from None
