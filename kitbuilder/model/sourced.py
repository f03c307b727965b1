"""Where a booking's lines come from, and why: what `kitbuilder why --booking` tells of the last run."""

from typing import Literal

import msgspec


class Take(msgspec.Struct, frozen=True):
    """So much of an item from a source. `where`: its bin, or the slot it comes in; `ready`: when it is here (wall time,
    ISO 8601; "" for what lies here); `order`: the number of its order, None without one; `state`: where it stands, as a
    hold or an order says, or `offered`."""

    amount: str
    unit: str
    item: str
    name: str
    source: str
    where: str
    state: str
    lot: str = ""
    order: int | None = None
    ready: str = ""


class NextBest(msgspec.Struct, frozen=True):
    """The best plan in which a line takes nothing of what it takes: what it takes then (nothing: it isn't filled), and
    what the whole plan then costs more: the first field in which it is worse, by how much, and in words."""

    takes: tuple[Take, ...]
    worse_in: str
    by: int
    costs: str


class LineSourced(msgspec.Struct, frozen=True, kw_only=True):
    """A line of a booking: what it needs in all, by when (wall time, ISO 8601), and what there is for it.

    `takes`: what stands: held, ordered, proposed. `would_take`: what it would take now, if that is something else (None
    if it isn't). `next_best`: beside what it would take. `lost`: why it is late or short, in sentences; `told`: what
    else is to be said.
    """

    need: str
    title: str
    amount: str
    unit: str
    name: str
    wanted_at: str
    takes: tuple[Take, ...]
    would_take: tuple[Take, ...] | None = None
    next_best: NextBest | None = None
    lost: tuple[str, ...] = ()
    told: tuple[str, ...] = ()


class Sourcing(msgspec.Struct, frozen=True, kw_only=True):
    """Where lines come from by the last run: for which day it was, and its moment, at which the sources were asked
    (wall time; both "" if there was none); `state`: whether what stands is what is planned by that now. `told`: as of
    when all this speaks, and what has changed."""

    run: str
    as_of: str
    state: Literal["as planned", "changed", "no run", "not looked at"]
    lines: tuple[LineSourced, ...]
    told: tuple[str, ...]
