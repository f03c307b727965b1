"""Where on all that can exist a role comes to what: regions of worlds, each a box, worked out once for a job type.

A region lies within one way the role may turn out ("class"). The boxes of one class may overlap; those of different
classes don't share a world. So what may still be so of what is known is what a box is left for.
"""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import msgspec

from kitbuilder.kit.due import DueRole, Outcome
from kitbuilder.model.catalogue import Fit, Key
from kitbuilder.vehicle.slices import Slices
from kitbuilder.vehicle.tables import Box, meet
from kitbuilder.vehicle.worlds import Worlds

#: A role that falls into more boxes, or that may show more masks of which some are left over, is looked at afresh for
#: each kit.
_MOST_BOXES: Final = 2_000
_MOST_MASKS: Final = 1_000

Row = tuple[str, int]
"""File and line of a row."""


class Turn(NamedTuple):
    """One way that a role may turn out: its lines (stage and key) with the rows that bring them."""

    lines: tuple[tuple[tuple[str, Key], frozenset[Row]], ...]


class Regions(NamedTuple):
    """What a role may turn out as, and for each box which of these it lies in."""

    turns: tuple[Turn, ...]
    boxes: tuple[Box, ...]
    turn_of: tuple[int, ...]


def parts(role: DueRole) -> list[DueRole]:
    """The role, parted by keys where these have nothing to do with each other: none clashes, none catches the rest."""
    fits = [fit for job in dict.fromkeys(way.job for way in role.ways) for fit in role.fits_of(job)]
    keys = {fit.key for fit in fits}
    if len(keys) < 2 or role.role.takes in ("one", "at most one") or any(fit.nothing or fit.otherwise for fit in fits):
        return [role]
    alone = msgspec.structs.replace(role.role, takes="any")
    jobs = dict.fromkeys(way.job for way in role.ways)
    return [
        DueRole(alone, role.ways, {job: tuple(fit for fit in role.fits_of(job) if fit.key == key) for job in jobs})
        for key in sorted(keys, key=lambda one: one.order)
    ]


def turn(role: DueRole, outcome: Outcome) -> Turn:
    """What an outcome comes to for the lines, with the rows that a kit names as their reasons."""
    if not outcome.lines:
        return Turn(())
    assert outcome.way is not None
    steps = {(step.file, step.include.row) for step in role.ways[outcome.way].steps}
    return Turn(tuple(sorted(
        (((stage, key), frozenset(_rows(outcome.fits, key) | steps)) for stage, key in outcome.lines),
        key=lambda one: (one[0][0], one[0][1].order))))


def _rows(fits: Iterable[Fit], key: Key) -> set[Row]:
    return {(fit.file, fit.row) for fit in fits if fit.key == key}


def regions(worlds: Worlds, role: DueRole) -> Regions | None:
    """The regions of a role over all worlds; None where they would be too many to be of use."""
    masks = sorted(worlds.masks(role.rows))
    turns: dict[Turn, int] = {}
    boxes: list[Box] = []
    turn_of: list[int] = []
    rest: dict[int, list[int]] = {}
    for mask in masks:
        number = turns.setdefault(turn(role, role.outcome(mask)), len(turns))
        if any(other & mask == mask and other != mask for other in masks):
            rest.setdefault(number, []).append(mask)
            continue
        # no world under these rows has yet another: they are just the worlds in the boxes of all of them
        box = _meet([row for bit, row in enumerate(role.rows) if mask >> bit & 1])
        boxes.append(box)
        turn_of.append(number)
    if rest and len(masks) > _MOST_MASKS:
        return None
    if rest:
        slices = Slices(worlds, role.rows, role.named)
        for number, some in rest.items():
            found = slices.branches(tuple(slices.free), frozenset(some))
            boxes += found
            turn_of += [number] * len(found)
    if len(boxes) > _MOST_BOXES:
        return None
    return Regions(tuple(turns), tuple(boxes), tuple(turn_of))


def _meet(rows: Sequence[Box]) -> Box:
    box: Box = {}
    for row in rows:
        met = meet(box, row)
        assert met is not None
        box = met
    return box
