"""How the demo's supplier takes an order: what it has is accepted at the price that was quoted, the rest isn't."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Literal

import msgspec


class OrderedLine(msgspec.Struct):
    """A line of an order as it comes."""

    item: str
    unit: str
    quantity: str
    price: str


class Order(msgspec.Struct):
    """An order as it comes; what the demo doesn't look at is left out."""

    format: Literal["kitbuilder.order/1"]
    key: str
    now: Annotated[datetime, msgspec.Meta(tz=True)]
    slot: str
    lines: list[OrderedLine]


def answer_to(order: Order, number: str, slots: set[str], cut_offs: Mapping[str, datetime],
              offers: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The answer to an order, as JSON has it. `offers` are those of the price list; after a slot's cut-off nothing goes
    out in it."""
    answer = {"format": "kitbuilder.order-answer/1", "key": order.key, "number": number, "state": "refused"}
    cut_off = cut_offs.get(order.slot)
    if order.slot not in slots or (cut_off is not None and cut_off <= order.now):
        return {**answer, "says": f"nothing goes out in the slot {order.slot!r} any more"}
    lines = []
    for line in order.lines:
        pools = [offer["pool"] for offer in offers if offer["item"] == line.item
                 and any(arrival["slot"] == order.slot for arrival in offer["arrivals"])]
        if not pools:
            continue
        wanted = Decimal(line.quantity)
        there = wanted if None in pools else min(wanted, sum((Decimal(pool) for pool in pools), Decimal()))
        if there == wanted:
            lines.append({"item": line.item, "quantity": line.quantity, "price": line.price})
        elif there:
            lines.append({"item": line.item, "quantity": f"{there:f}"})
    return {**answer, "state": "accepted", "lines": lines} if lines else {**answer, "says": "nothing of it is left"}
