"""What became of orders, and what goes back, as text."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from kitbuilder import amount
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import ExchangeReturnRow, OrderChange, OrderRow, SupplierReturnRow
from kitbuilder.show.paper import Paper


def sent_text(order: OrderRow, why: str, by_hand: bool) -> str:
    """What became of an order that was to be sent, in one sentence or two, with what to type next."""
    name = f"Order {order.id} at {order.source}"
    because = f": {why}" if why else ""
    if by_hand:
        return (f"{name} can't be sent from here{because}. When it is ordered: kitbuilder order sent {order.id} "
                "--by NAME")
    if order.state == "confirmed":
        theirs = f" as {order.supplier_number}" if order.supplier_number else ""
        return f"{name} is confirmed{theirs}{because}."
    if order.state == "part":
        return f"{name} is accepted in part{because}. The next run looks for the rest."
    if order.state == "changed":
        return (f"{name} was changed by the supplier{because}. Take it: kitbuilder order take {order.id} --by NAME; "
                f"or not: kitbuilder order cancel {order.id} --by NAME, and tell them.")
    if order.state == "refused":
        return f"{name} is refused{because}. The next run looks for another way."
    if order.state == "approved":
        return f"{name} was not sent{because}. Nothing went out; the next run tries again."
    if order.state == "unclear":
        return (f"{name} is UNCLEAR{because}. It isn't sent again by itself: ask them whether they have it, then "
                f"kitbuilder order settle {order.id} --accepted --by NAME (or --not-accepted).")
    return f"{name} is {order.state}{because}."


def history_text(changes: Sequence[OrderChange], zone: str, paper: Paper) -> str:
    """An order's changes, one a line: when, to which state, by whom, what was told."""
    lines = ["", paper.heading("What happened")] if changes else []
    for one in changes:
        told = f": {one.text}" if one.text else ""
        lines += paper.wrap(f"{_wall(one.at, zone)}  {one.state}, {one.who}{told}", 2)
    return "\n".join(lines) + ("\n" if lines else "")


def returns_text(returns: Sequence[SupplierReturnRow], items: Mapping[str, Item], paper: Paper) -> str:
    """What goes back to suppliers."""
    if not returns:
        return "Nothing goes back to a supplier.\n"
    lines = []
    for one in returns:
        what = f"{amount.show(one.quantity)} {one.unit} {_name(one.item, items)}"
        lot = f", lot {one.lot}" if one.lot else ""
        lines.append(paper.heading(f"Return {one.id} to {one.source}: {one.state}"))
        lines += paper.wrap(f"{what}{lot}, in {one.bin}: {one.why}", 2)
        told = [f"order {one.order}" if one.order else "", f"taken back until {one.until}" if one.until else "",
                f"fee {amount.show_money(one.fee, one.currency)} {one.currency}" if one.fee else "",
                f"credit {amount.show_money(one.credit, one.currency)} {one.currency}" if one.credit is not None else
                "credit not known", one.said]
        lines += paper.wrap(", ".join(text for text in told if text), 2)
    return "\n".join(lines) + "\n"


def units_text(units: Sequence[ExchangeReturnRow], items: Mapping[str, Item], today: date, paper: Paper) -> str:
    """Old units that are owed for exchange units."""
    if not units:
        return "No old unit is owed.\n"
    lines = []
    for one in units:
        late = ", OVERDUE" if one.state == "due" and one.due is not None and one.due < today else ""
        lines.append(paper.heading(f"Old unit {one.id} of booking {one.booking}: {one.state}{late}"))
        lines += paper.wrap(f"for {amount.show(one.quantity)} {_name(one.item, items)}", 2)
        told = [f"due by {one.due}" if one.due else "no term", one.wanted,
                f"deposit {amount.show_money(one.deposit, one.currency)} {one.currency}", one.said]
        lines += paper.wrap(", ".join(text for text in told if text), 2)
    return "\n".join(lines) + "\n"


def _name(number: str, items: Mapping[str, Item]) -> str:
    return f"{number} {items[number].name}" if number in items else number


def _wall(moment: datetime, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"
