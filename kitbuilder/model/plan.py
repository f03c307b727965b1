"""What sourcing is asked and what it answers, as values. Amounts are milli-units, money is minor units.

`plan(needs, supplies, now)` (kitbuilder.stock.plan) takes needs of all bookings of a window together.
An amount *in smallest units* is one in thousandths of its quantity's smallest unit (mL, g, mm; counted units as they
are), so that amounts in litres and in millilitres can be added.
"""

from datetime import datetime
from typing import Literal

import msgspec

from kitbuilder.model.offer import Quote


class Held(msgspec.Struct, frozen=True, order=True):
    """Something already promised to a need, which a run may still move: source, item, lot ("" where a source has
    none), slot, amount in milli-units of the offer's unit, as an `Allocation` has them.

    The pools of the offers count it in: what is held here is there to be taken.
    """

    source: str
    item: str
    lot: str
    slot: str
    quantity: int


class Need(msgspec.Struct, frozen=True):
    """What one line of one booking's kit needs.

    `name` is its own in the plan. `acceptable`: the items that may fill it, best first; a need is filled from one
    or several of them, unless it has a `circuit`: all needs of one booking and circuit are filled from one item.
    `quantity` in milli-units of `unit`. `wanted_at`: planned start of the line's stage, with zone. `may_order` is
    false for an enquiry, for which nothing is ordered. `held`: what it has now. A booking is VOR if any need of it is.

    All needs of one booking and `binding` take one way, whole: those whose `ways` name it are filled, and the others
    are not needed. (An old part, way 0, or the two that have taken its place, way 1.)
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
    binding: str = ""
    ways: tuple[int, ...] = ()


class Supply(msgspec.Struct, frozen=True):
    """One source's answer and what it means for cost.

    `own` stock (a shelf, or an order already placed) costs nothing and is taken in any amount at any time, whatever
    prices, packs, fees, minimums and cut-offs say; its offers may name lots. From any other source things are bought:
    in packs, with fees and minimums per slot, at a known price (what has none is not bought), and only before the
    slot's cut-off, if it has one.

    A `transfer` is own stock at another place, a site or a van, as it can be brought here: a slot is a trip, whose
    `ready` is when it arrives. It too is taken in any amount and has no price, but a trip from which something is taken
    costs the slot's fee, once, and must be asked for before the slot's cut-off, if it has one.
    """

    source: str
    own: bool
    quote: Quote
    transfer: bool = False


class Allocation(msgspec.Struct, frozen=True, order=True):
    """So much of a need, in milli-units of the offer's unit, from one offer in one slot; counted units whole."""

    need: str
    source: str
    item: str
    lot: str
    slot: str
    quantity: int


class Purchase(msgspec.Struct, frozen=True, order=True):
    """One order line: all that is bought of an item from a source in one slot.

    `quantity` in milli-units of the offer's unit; `packs` says of what it is made, (milli-units, count) with the
    largest pack first, and is empty where the offer names no packs. `minor`: its price in minor units at the break
    that the quantity reaches, rounded once, half up; without the slot's fee, without deposits.
    """

    source: str
    slot: str
    item: str
    quantity: int
    packs: tuple[tuple[int, int], ...]
    minor: int


class Value(msgspec.Struct, frozen=True, order=True):
    """How good a plan is, compared field by field in this order, less is better. No field is negative, and the value of
    bookings that share nothing is the sum of theirs.

    `short_vor`, `short`: bookings with a need that isn't wholly filled. `not_on_time_vor`, `not_on_time`: bookings
    that are short or late. `delay_vor_s`, `delay_s`: the delays of the bookings that are late and not short, in
    seconds begun. The fields in `_vor` count VOR bookings, their twins the others.
    `missing`: needs not wholly filled, and `missing_amount`: by how much, in smallest units (of a binding those of the
    way that is taken; where it takes nothing, the way of which least is missing). They are more than zero
    only where a booking is short: it takes nothing that helps another one, and is brought all else that can come.
    `money`: order lines, their orders' fees, and those of trips, minor units. `changes`: entries of `held` of which
    less is left to their need.
    `use_by`, `lots`: what is taken of own stock, each amount in smallest units times the number of earlier days (of
    earlier lots) of the item in own stock; no day, or no lot, comes after all others, and digits in a lot count as
    numbers; days of what a trip brings come after those of what lies here. What is bought comes after all own stock: in
    `use_by` it counts as many days as any item has there, so that what a pack holds too much of isn't used while
    something lies on the shelf. `preference`: each amount times its
    item's place in `acceptable`, the first being 0; and of each binding the number of its way times what the needs of
    that way ask for.
    """

    short_vor: int
    short: int
    not_on_time_vor: int
    not_on_time: int
    delay_vor_s: int
    delay_s: int
    missing: int
    missing_amount: int
    money: int
    changes: int
    use_by: int
    lots: int
    preference: int


class Gap(msgspec.Struct, frozen=True):
    """How far from proof a plan is: the first field of its value that isn't proven, what the plan has of it, and what
    no plan can have less of. The fields before it are proven."""

    field: str
    value: int
    least: int


class Plan(msgspec.Struct, frozen=True):
    """A plan: allocations, purchases, what doesn't come (need to milli-units of the need's unit, rounded up), value.

    `proven`: no plan is better. `next_best`: the value of the best plan in which some need takes another choice of
    (item, source, slot), told only where that is proven too; None where it wasn't asked for, isn't proven, or there
    is no other plan. `method`: `exact` where it is proven, else `simple`: some part is only as good as a rule of thumb
    or an unfinished search made it; `gap` says how good that is.
    """

    allocations: tuple[Allocation, ...]
    purchases: tuple[Purchase, ...]
    short: dict[str, int]
    value: Value
    proven: bool
    method: Literal["exact", "simple"]
    next_best: Value | None = None
    gap: Gap | None = None


class Fares(msgspec.Struct, frozen=True):
    """How a booking fares in a plan and in another one: its delay in seconds, 0 if it is on time, None if it is
    short."""

    booking: int
    delay_s: int | None
    then_s: int | None


class Otherwise(msgspec.Struct, frozen=True):
    """The best plan in which some needs are served otherwise than in a plan: what they then take, what the whole plan
    is then worth, and the first field of that in which it is worse, by how much ("" and 0: it is as good). `fares`: the
    bookings whose delay differs, by number."""

    takes: tuple[Allocation, ...]
    value: Value
    worse_in: str
    by: int
    fares: tuple[Fares, ...] = ()


class Explanation(msgspec.Struct, frozen=True):
    """Why a need takes what it takes.

    `chosen`: that. `next_best`: the best plan in which it takes none of it (item, source and slot), so
    `next_best.value.money` less the plan's is what the cheapest other way costs more where no earlier field is worse.
    None for a need that takes nothing; or where none was proven in time: then `worked_out` is False.
    """

    need: str
    chosen: tuple[Allocation, ...]
    next_best: Otherwise | None
    worked_out: bool = True


class Lost(msgspec.Struct, frozen=True):
    """Why a booking is late or short.

    `needs`: those of its needs that are, by name. `goal`: what `otherwise`, the best plan of its kind, has it be: on
    time; where it can't be, sooner or no longer short. With "none" it can't be sooner, whatever other bookings go
    without. Of the value of `otherwise` the fields before `money` are told, and the others only where it is worse in
    none of these; its `worse_in` is the level of the objective by which the booking lost. `taken_by`: what other
    bookings take of the places that `otherwise` gives its `needs` from. If that wasn't proven in time, `worked_out` is
    False and nothing is told; if only that `otherwise` serves bookings as well was, they are `tied`: money, or a field
    after it, decided.
    """

    booking: int
    delay_s: int | None
    needs: tuple[str, ...]
    goal: Literal["on time", "sooner", "whole", "none"]
    otherwise: Otherwise | None
    taken_by: tuple[Allocation, ...] = ()
    worked_out: bool = True
    tied: bool = False
