"""The ordering half: an order as JSON, and the answer from JSON.

An order is a POST of JSON to `url`/orders:

    {
      "format": "kitbuilder.order/1",
      "key": "hillfoot|2026-03-11|wholesaler|first van|1",
      "now": "2026-03-10T15:00:00Z",
      "slot": "first van", "ready": "2026-03-11T08:00:00Z", "currency": "EUR", "fee": "6.50",
      "lines": [{"item": "TH-10140", "unit": "each", "quantity": "50", "price": "50.88"}]
    }

with the key also as the header `Idempotency-Key`, a quoted string of visible ASCII (the IETF httpapi working group's
draft-ietf-httpapi-idempotency-key-header): what comes twice under one key is one order, and gets the same answer.
Kitbuilder sends an order once; where the answer is lost it asks with a GET of `url`/orders/KEY (the key in
percents), and sends nothing. Either is answered with status 200, application/json:

    {
      "format": "kitbuilder.order-answer/1",
      "key": "hillfoot|2026-03-11|wholesaler|first van|1",
      "state": "accepted",
      "number": "A-4711", "fee": "6.50", "says": "thank you",
      "lines": [
        {"item": "TH-10140", "quantity": "50", "price": "50.88", "substitute": "", "ready": "2026-03-11T08:00:00Z"}
      ]
    }

- `state` is accepted, refused, or (to a GET) unknown: there is no order under this key.
- A line says how much of it is accepted, in the order's unit, for how much in all; `substitute` is the item that comes
  in its place, `ready` another time than the slot's. A line that isn't told isn't accepted.
- May be left out: number, says and substitute (none), fee, price and ready (as ordered).
- A status of 3xx, 400, 401, 403, 404, 405, 411, 413, 415 or 429 says that nothing was ordered, and the order is sent
  again later. After any other (409: the key is being worked on; 422: it was another order's; 5xx), and where the
  connection breaks after the order went out, kitbuilder takes nothing for granted.
"""

from datetime import datetime
from typing import Literal
from urllib.parse import quote

import msgspec

from kitbuilder import (
    AnsweredLine,
    NotSent,
    OrderAnswer,
    OrderRequest,
    SourceFailed,
    parse_amount,
    parse_money,
    show_amount,
    show_money,
)
from kitbuilder_http_supplier.protocol import Moment, Shown
from kitbuilder_http_supplier.web import Answered, once
from kitbuilder_http_supplier.words import Place, plain

#: Statuses that say that the service didn't take the order: nothing was ordered, and it can be sent later. Not among
#: them: 409 (one with this key is being worked on), 422 (the key was another order's), 5xx. 400, 409 and 422 mean
#: what the draft says of the header.
NOT_TAKEN = (301, 302, 303, 307, 308, 400, 401, 403, 404, 405, 411, 413, 415, 429)


class LineSent(msgspec.Struct, frozen=True):
    """A line as it is sent; `price` is for all of it."""

    item: str
    unit: str
    quantity: str
    price: str


class OrderSent(msgspec.Struct, frozen=True):
    """The order as it is sent."""

    format: Literal["kitbuilder.order/1"]
    key: str
    now: datetime
    slot: str
    ready: datetime
    currency: str
    fee: str
    lines: tuple[LineSent, ...]


class LineTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A line as it is answered."""

    item: str
    quantity: str
    price: str | None = None
    substitute: Shown = ""
    ready: Moment | None = None


class AnswerTold(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The answer as it comes."""

    format: Literal["kitbuilder.order-answer/1"]
    key: str
    state: Literal["accepted", "refused", "unknown"]
    lines: tuple[LineTold, ...] = ()
    number: Shown = ""
    fee: str | None = None
    says: str = ""


def header_of(key: str) -> str:
    """A key as the header has it: what isn't plain ASCII is written in percents."""
    return f'"{quote(key, safe=" !#$&()*+,-./:;<=>?@[]^_|~")}"'


def send(place: Place, request: OrderRequest, until: float, within_s: float) -> OrderAnswer:
    """Order, once. Raises NotSent where nothing was ordered for certain, SourceFailed where that isn't known."""
    body = msgspec.json.encode(OrderSent(
        "kitbuilder.order/1", request.key, request.now, request.slot, request.ready, request.currency,
        show_money(request.fee, request.currency),
        tuple(LineSent(one.item, one.unit, show_amount(one.quantity), show_money(one.minor, request.currency))
              for one in request.lines)))
    try:
        data = once(place, body, {"Idempotency-Key": header_of(request.key)}, until, within_s)
    except Answered as answered:
        if answered.status in NOT_TAKEN:
            raise NotSent(str(answered)) from answered
        raise
    return read_answer(data, request.key, {one.item: one.unit for one in request.lines}, request.currency, place.host)


def status(place: Place, key: str, currency: str, until: float, within_s: float) -> OrderAnswer:
    """What the supplier has under a key. Raises SourceFailed, saying why, if it can't be told."""
    return read_answer(once(place, None, {}, until, within_s), key, None, currency, place.host)


def read_answer(data: bytes, key: str, units: dict[str, str] | None, currency: str, host: str) -> OrderAnswer:
    """The answer in JSON. `units` are those that was ordered in (None: not known, then only whole milli-units count).

    Raises SourceFailed, saying where, for anything that isn't as the format has it.
    """
    try:
        told = msgspec.json.decode(data, type=AnswerTold)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise SourceFailed(f"{host} answered what is no kitbuilder.order-answer/1: {plain(str(error))}") from None
    if told.key != key:
        raise SourceFailed(f"{host} answered for the order {plain(told.key)!r}, expected {key!r}")
    try:
        lines = tuple(
            AnsweredLine(
                item=one.item, quantity=_quantity(one.quantity, (units or {}).get(one.item, "L")),
                minor=None if one.price is None else parse_money(one.price, currency), substitute=one.substitute,
                ready=one.ready) for one in told.lines)
        fee = None if told.fee is None else parse_money(told.fee, currency)
    except ValueError as error:
        raise SourceFailed(f"{host} answered an amount or price that can't be used: expected {error}") from None
    return OrderAnswer(state=told.state, lines=lines, number=told.number, fee=fee, says=plain(told.says))


def _quantity(text: str, unit: str) -> int:
    """Milli-units of zero or more."""
    if text and not text.strip("0.") and text.count(".") < 2:
        return 0
    if len(text.partition(".")[2]) > 3:
        raise ValueError("three decimal places at most")
    return parse_amount(text, unit, unit)
