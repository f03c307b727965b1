"""Which orders go out by themselves, and who may approve which: the table [orders] of the settings.

    [orders]
    approve_over = "500.00"          # over this, in the catalogue's currency, a named person approves
    otherwise = "send"               # what is safe goes out by itself; "ask" (so it is without this line): all waits

    [orders.approvers]               # with it only these approve, each up to a value, or "any"
    "A. Person" = "2000.00"
    "B. Person" = "any"

    [orders.sites.hillfoot]          # what a site has otherwise
    approve_over = "250.00"

An order is safe if its value with its fee isn't over the limit, all of it can go back, no deposit is on it, its price
is fresh, its source takes orders from here, it is for authorised bookings only, and nothing of its delivery was
cancelled, refused or accepted in part before.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import Final

import msgspec

from kitbuilder import amount
from kitbuilder.errors import BadData, WrongUse, offered
from kitbuilder.model.order import OrderRow

_KEYS: Final = ("approve_over", "otherwise", "approvers", "sites")
OTHERWISE: Final = ("ask", "send")
#: An approver's limit that is none.
ANY: Final = "any"


class Rules(msgspec.Struct, frozen=True):
    """What holds for a site's orders: over which value (minor units, None: none is set) a person approves, whether what
    is safe goes out by itself, and up to which value who may approve (None: any; no names: everybody any)."""

    approve_over: int | None = None
    sends: bool = False
    approvers: dict[str, int | None] = {}


class Proposal(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of a proposal when it is judged: whether its source answered (`answered`) and takes orders, when
    its prices are of if they are stale ("": they are fresh), on which items a deposit is, the bookings that are
    authorised, and what became of earlier orders of the same delivery, in words."""

    order: OrderRow
    answered: bool
    takes_orders: bool
    price_of: str
    deposits: Collection[str]
    authorised: Collection[int]
    before: Sequence[str] = ()


def read_rules(file: str, table: object, currency: str, sites: Collection[str]) -> dict[str, Rules]:
    """The rules of each site; `file` is the settings' name for messages. Raises BadData."""
    own = _table(file, "orders", table)
    of_sites = _table(file, "orders.sites", own.get("sites", {}))
    for site in of_sites:
        if site not in sites:
            raise BadData(f"{file}: [orders.sites.{site}] is of no site. {offered(str(site), sorted(sites))}")
    common = {key: value for key, value in own.items() if key != "sites"}
    _check(file, "orders", own)
    found = {}
    for site in sites:
        more = _table(file, f"orders.sites.{site}", of_sites.get(site, {}))
        _check(file, f"orders.sites.{site}", more, _KEYS[:-1])
        found[site] = _rules(file, f"orders.sites.{site}" if more else "orders", {**common, **more}, currency)
    return found


def _table(file: str, where: str, value: object) -> Mapping[str, object]:
    if not isinstance(value, Mapping):
        raise BadData(f"{file}: {where} = {value!r}; expected a table [{where}].")
    return value


def _check(file: str, where: str, table: Mapping[str, object], keys: Sequence[str] = _KEYS) -> None:
    for key in table:
        if key not in keys:
            raise BadData(f"{file}: [{where}] has no key {key!r}. {offered(str(key), keys)}")


def _rules(file: str, where: str, table: Mapping[str, object], currency: str) -> Rules:
    over = table.get("approve_over")
    limit = None if over is None else _money(file, f"[{where}] approve_over", over, currency)
    otherwise = table.get("otherwise", OTHERWISE[0])
    if otherwise not in OTHERWISE:
        raise BadData(f'{file}: [{where}] otherwise = {otherwise!r}; expected "ask" or "send".')
    if otherwise == "send" and limit is None:
        raise BadData(f'{file}: [{where}] otherwise = "send" needs approve_over: over which value does a person '
                      "decide?")
    approvers = _table(file, f"{where}.approvers", table.get("approvers", {}))
    upto = {
        " ".join(str(name).split()): None if value == ANY else _money(
            file, f'[{where}.approvers] "{name}"', value, currency, f' or "{ANY}"')
        for name, value in approvers.items()}
    return Rules(limit, otherwise == "send", upto)


def _money(file: str, where: str, value: object, currency: str, more: str = "") -> int:
    try:
        if isinstance(value, str):
            return amount.parse_money(value, currency)
        expected = 'a text, such as "500.00"'
    except ValueError as error:
        expected = str(error)
    raise BadData(f"{file}: {where} = {value!r}; expected {expected}{more}, in {currency}.")


def reasons(rules: Rules, known: Proposal) -> tuple[str, ...]:
    """Why a proposal waits for a person though others go by themselves; none: it may go."""
    order = known.order
    found = []
    if rules.approve_over is not None and order.total > rules.approve_over:
        found.append(f"over {shown(rules.approve_over, order.currency)}")
    kept = [line.item for line in order.lines if not line.returnable]
    if kept:
        found.append(f"not returnable: {', '.join(kept)}")
    owed = [line.item for line in order.lines if line.item in known.deposits]
    if owed:
        found.append(f"deposit on {', '.join(owed)}")
    if not known.answered:
        found.append(f"{order.source} can't be asked, so the price may be another by now")
    elif known.price_of:
        found.append(f"the price is of {known.price_of}")
    if known.answered and not known.takes_orders:
        found.append(f"{order.source} takes no orders from here")
    waiting = sorted({one.booking for one in order.wanted_for} - set(known.authorised))
    if waiting:
        found.append(f"booking {', '.join(map(str, waiting))} isn't authorised")
    return (*found, *known.before)


def ended(order: OrderRow) -> str:
    """What became of an order that isn't coming, or not whole, in words."""
    if order.state == "cancelled":
        return f"order {order.id} of the same delivery was cancelled by {order.decided_by}"
    state = "accepted in part only" if order.state == "part" else "refused"
    return f"order {order.id} of the same delivery was {state}"


def check_approver(rules: Rules, person: str, order: OrderRow) -> None:
    """Raise WrongUse if a person may not approve an order, and say who may."""
    if not rules.approvers:
        return
    limits = {name.casefold(): limit for name, limit in rules.approvers.items()}
    name = " ".join(person.split())
    known = name.casefold() in limits
    limit = limits.get(name.casefold())
    if known and (limit is None or order.total <= limit):
        return
    may = [who for who, upto in rules.approvers.items() if upto is None or order.total <= upto]
    value = f"Order {order.id} comes to {shown(order.total, order.currency)}"
    reach = f"{name} may approve up to {shown(limit or 0, order.currency)}" if known else (
        f"{name} is not among those who approve orders")
    raise WrongUse(f"{value}; {reach}. Who may approve it: {', '.join(may) or 'nobody; raise a limit'}.")


def shown(minor: int, currency: str) -> str:
    """Money with its currency."""
    return f"{amount.show_money(minor, currency)} {currency}"
