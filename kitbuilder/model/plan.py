"""What sourcing is asked and what it answers, as values. Amounts are milli-units, money is minor units.

`plan(needs, supplies, now)` (kitbuilder.stock.plan) takes needs of all bookings of a window together.
"""

from datetime import datetime
from typing import Literal

import msgspec

from kitbuilder.model.offer import Quote


class Held(msgspec.Struct, frozen=True, order=True):
    """Something already promised to a need, which a run may still move: source, item, lot ("" where a source has
    none), slot, amount in milli-units of the item's unit."""

    source: str
    item: str
    lot: str
    slot: str
    quantity: int


class Need(msgspec.Struct, frozen=True):
    """What one line of one booking's kit needs.

    `name` is its own in the plan. `acceptable`: the items that may fill it, best first; a need is filled from one
    or several of them, unless it has a `circuit`: all needs of one booking and circuit are filled from one item.
    `quantity` in milli-units of `unit`. `wanted_at`: planned start of the line's stage. `may_order` is false for an
    enquiry, for which nothing is ordered. `held`: what it has now.
    """

    name: str
    booking: int
    vor: bool
    acceptable: tuple[str, ...]
    quantity: int
    unit: str
    wanted_at: datetime
    may_order: bool = True
    circuit: str = ""
    held: tuple[Held, ...] = ()


class Supply(msgspec.Struct, frozen=True):
    """One source's answer and what it means for cost.

    `own` stock (a shelf, or an order already placed) costs nothing and is taken in any amount, whatever prices,
    packs, fees and minimums say; its offers may name lots. From any other source things are bought: in packs, with
    fees and minimums per slot, and only before the slot's cut-off.
    """

    source: str
    own: bool
    quote: Quote


class Allocation(msgspec.Struct, frozen=True, order=True):
    """So much of a need, in milli-units of the item's unit in the offer, from one offer in one slot."""

    need: str
    source: str
    item: str
    lot: str
    slot: str
    quantity: int


class Purchase(msgspec.Struct, frozen=True, order=True):
    """What is bought: `count` packs of `pack` milli-units (pack 0: `count` milli-units, loose) of an item in one
    slot, for `minor` units of money without the slot's fee (rounded once, half up, per item and slot)."""

    source: str
    slot: str
    item: str
    pack: int
    count: int
    minor: int


class Value(msgspec.Struct, frozen=True, order=True):
    """How good a plan is, compared field by field in this order, less is better.

    Bookings short of something that never comes, VOR first; bookings not on time (short ones among them); the
    delays of bookings that are late but not short, in seconds, summed; money (purchases, fees); changes to what is held
    (amounts taken away from a need, counted in holds); then use-by (later dates taken while earlier ones lie) and
    lot numbers, as two sums that a better plan makes smaller.
    """

    short_vor: int
    short: int
    not_on_time_vor: int
    not_on_time: int
    delay_vor_s: int
    delay_s: int
    money: int
    changes: int
    use_by: int
    lots: int


class Plan(msgspec.Struct, frozen=True):
    """A plan: allocations, purchases, what no source can bring (need to milli-units of the need's unit), its value.

    `proven`: no plan is better. `next_best`: the value of the best plan that differs in an item, source or slot,
    told only where it is proven too.
    """

    allocations: tuple[Allocation, ...]
    purchases: tuple[Purchase, ...]
    short: dict[str, int]
    value: Value
    proven: bool
    method: Literal["exact", "simple"]
    next_best: Value | None = None

