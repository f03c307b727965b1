"""Orders, what became of them, and what goes back, as text."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from kitbuilder import amount
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import UNDER_WAY, ExchangeReturnRow, OrderChange, OrderedLine, OrderRow, SupplierReturnRow
from kitbuilder.show.paper import Paper


def orders_text(orders: Sequence[OrderRow], items: Mapping[str, Item], zone: str, paper: Paper,
                because: Mapping[str, Sequence[str]] | None = None, came: Mapping[str, int] | None = None) -> str:
    """Orders by supplier and cut-off, with what they cost and for whom they are; times on the site's clock. `because`:
    why an item comes instead of what a kit names; `came`: of one order, how much of each item has come."""
    if not orders:
        return "No order is open.\n"
    lines: list[str] = []
    for order in orders:
        theirs = f" (their number {order.supplier_number})" if order.supplier_number else ""
        lines += [paper.heading(f"Order {order.id} {_at(order)}: {order.state}{theirs}")]
        cut_off = f", cut-off {_wall(order.cut_off, zone)}" if order.cut_off and order.state in _NOT_OUT else ""
        lines += paper.wrap(f"for {_wall(order.expected_at or order.ready, zone)}{cut_off}{_decided(order)}", 2)
        if order.said:
            lines += paper.wrap(f"{'waits for a person: ' if order.state == 'proposed' else ''}{order.said}", 2)
        for line in order.lines:
            made_of = " + ".join(f"{count} x {amount.show(size)}" for size, count in line.packs)
            packs = f" ({made_of})" if made_of else ""
            what = f"{amount.show(line.quantity)} {line.unit}{packs} {_name(line.item, items)}"
            # own stock has no price
            price = "" if order.from_site else f": {_money(line.minor, order)}"
            later = f"; comes {_wall(line.expected_at, zone)}" if line.expected_at and order.comes else ""
            there = f"; {amount.show(came[line.item])} came" if came and line.item in came else ""
            lines += paper.wrap(f"{what}{price}{_confirmed(line, order)}{later}{there}", 4, "  -")
            for text in (because or {}).get(line.item, ()):
                lines += paper.wrap(text, 6)
        if order.fee:
            lines += paper.wrap(f"fee {_money(order.fee, order)}", 4, "  -")
        booked = ", ".join(str(number) for number in sorted({one.booking for one in order.wanted_for}))
        told = ["" if order.from_site and not order.fee else f"total {_money(order.total, order)}",
                f"for booking {booked}" if booked else ""]
        lines += paper.wrap(", ".join(text for text in told if text), 2) if any(told) else []
        lines.append("")
    return "\n".join(lines)


#: Who decided, where it wasn't a person.
_NAMES = {"night": "the night run"}
#: States in which a cut-off still matters.
_NOT_OUT = ("proposed", "approved")


def _decided(order: OrderRow) -> str:
    """Who decided on an order that is under way."""
    if not order.decided_by or order.state not in UNDER_WAY:
        return ""
    done = "approved" if order.state != "ordered" else "sent off" if order.from_site else "ordered"
    return f", {done} by {_NAMES.get(order.decided_by, order.decided_by)}"


def _at(order: OrderRow) -> str:
    """Where an order is: at a supplier, or on its way from another site by a van."""
    return f"from {order.from_site} to {order.site}, {order.slot}" if order.from_site else f"at {order.source}"


def _confirmed(line: OrderedLine, order: OrderRow) -> str:
    """What else is to be known of an order line: what was confirmed of it, and whether it can go back."""
    found = "" if line.returnable else ", CAN'T BE RETURNED"
    if line.substitute:
        return f"{found}; {line.substitute} comes in its place"
    less = line.confirmed is not None and line.confirmed != line.quantity
    cost = f" for {_money(line.costs, order)}" if line.confirmed and line.costs != line.minor else ""
    if less or cost:
        found += f";{f' {amount.show(line.confirmed or 0)}' if less else ''} confirmed{cost}"
    return found


def _money(minor: int, order: OrderRow) -> str:
    return f"{amount.show_money(minor, order.currency)} {order.currency}"


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
        lines += paper.wrap(f"{one.state}, {one.who}{told}", 20, f"  {_wall(one.at, zone)}  ")
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
        where = f", in {one.bin}" if one.state == "proposed" else ""
        lines += paper.wrap(f"{what}{lot}{where}: {one.why}", 2)
        told = [f"order {one.order}" if one.order else "", f"taken back until {one.until}" if one.until else "",
                f"fee {amount.show_money(one.fee, one.currency)} {one.currency}" if one.fee else "",
                _credit(one), one.said]
        lines += paper.wrap(", ".join(text for text in told if text), 2)
    return "\n".join(lines) + "\n"


def _credit(one: SupplierReturnRow) -> str:
    if one.state in ("refused", "dropped"):
        return "no credit"
    if one.credit is None:
        return "credit not known"
    return f"credit {amount.show_money(one.credit, one.currency)} {one.currency}"


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


def owed_text(unit: ExchangeReturnRow, name: str) -> str:
    """An old unit that is owed from now on, in one sentence, for who fits the new one."""
    one = "the old unit" if unit.quantity == 1000 else f"{amount.show(unit.quantity)} old units"
    told = [f"Goes back: {one} of {name}", f"by {unit.due}" if unit.due else "", unit.wanted,
            f"for the deposit of {amount.show_money(unit.deposit, unit.currency)} {unit.currency}"
            if unit.deposit else ""]
    return ", ".join(text for text in told if text) + "."


def _name(number: str, items: Mapping[str, Item]) -> str:
    return f"{number} {items[number].name}" if number in items else number


def _wall(moment: datetime, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"
