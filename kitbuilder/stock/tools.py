"""Special tools come back: who needs one at the same time as others, beyond how many there are."""

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from itertools import pairwise

import msgspec


class ToolUse(msgspec.Struct, frozen=True, order=True):
    """A booking needs a tool over a stage's window, `start` up to but not including `end` (with zones): `count` of it,
    in whole pieces. Needs of one booking for one tool at one time are met by one and the same."""

    tool: str
    start: datetime
    end: datetime
    booking: int
    count: int = 1


class DoubleUse(msgspec.Struct, frozen=True, order=True):
    """From `start` to `end` the bookings together need `wanted` of a tool of which there are `there`."""

    tool: str
    start: datetime
    end: datetime
    bookings: tuple[int, ...]
    wanted: int
    there: int


#: So many unions are looked at; beyond, only all that hangs together.
_MOST = 200


def choices(sets: Collection[frozenset[str]]) -> list[frozenset[str]]:
    """Where each use may take any tool of its set: the sets of tools that have to be enough for all uses whose own set
    lies within them. Everybody can have one just if each of these is enough: P. Hall, On representatives of subsets,
    J. London Math. Soc. 10 (1935) 26-30; a union of sets that share nothing needs no look of its own."""
    found = set(sets)
    fresh = set(sets)
    while fresh and len(found) <= _MOST:
        fresh = {one | other for one in fresh for other in sets if one & other} - found
        found |= fresh
    if fresh:
        found = set(sets)
        together: list[frozenset[str]] = []
        for one in sets:
            meets = [other for other in together if other & one]
            together = [other for other in together if not other & one] + [one.union(*meets)]
        found |= set(together)
    return sorted(found, key=sorted)


def double_uses(uses: Iterable[ToolUse], there: Mapping[str, int]) -> list[DoubleUse]:
    """Where tools of a site are needed more often at one time than there are of them (one, where `there` doesn't say),
    by tool and time. Windows that only touch don't overlap: a tool that comes back at ten is there at ten.

    Nothing is moved: a person decides which booking waits, or where a tool is borrowed.
    """
    by_tool: dict[str, list[ToolUse]] = {}
    for use in uses:
        if use.start < use.end:
            by_tool.setdefault(use.tool, []).append(use)
    found: list[DoubleUse] = []
    for tool, mine in sorted(by_tool.items()):
        count = there.get(tool, 1)
        times = sorted({time for use in mine for time in (use.start, use.end)})
        before: DoubleUse | None = None
        for start, end in pairwise(times):
            wants: dict[int, int] = {}
            for use in mine:
                if use.start <= start and end <= use.end:
                    wants[use.booking] = max(wants.get(use.booking, 0), use.count)
            one = DoubleUse(tool, start, end, tuple(sorted(wants)), sum(wants.values()), count)
            if one.wanted <= count:
                before = None
            elif before is not None and (before.bookings, before.wanted) == (one.bookings, one.wanted):
                before = found[-1] = msgspec.structs.replace(before, end=end)
            else:
                found.append(one)
                before = one
    return found
