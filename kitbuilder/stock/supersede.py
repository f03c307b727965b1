"""Supersession, at sourcing: what may be taken for an item once another takes its place.

A kit names what its roles ask for and reads no clock; which number the shelf or a supplier has for it is settled
here, after the roles, so that a new number never makes or hides a clash.
"""

from collections.abc import Iterable, Mapping
from datetime import date

import msgspec

from kitbuilder.catalogue.succession import succession_on
from kitbuilder.model.catalogue import Supersession
from kitbuilder.model.work import WorkKit, WorkLine


def successors(acceptable: Iterable[str], supersessions: Mapping[str, Supersession], day: date) -> tuple[str, ...]:
    """The items that may be taken on a day, best first: behind each of `acceptable` what has taken its place by then,
    along the whole chain, so that the old one is used up first. Each item stands once, where it comes first.

    `supersessions` are by the old item's number. What is withdrawn by then is left out, even if nothing is left.
    """
    succession = succession_on(supersessions, day)
    return tuple(dict.fromkeys(one for number in acceptable for one in succession.usable(number)))


def superseded(kit: WorkKit, supersessions: Mapping[str, Supersession], day: date) -> WorkKit:
    """A booking's lines with what may be taken for each on a day; a number chosen by hand is superseded like others."""
    if not supersessions:
        return kit

    def resolved(lines: Iterable[WorkLine]) -> tuple[WorkLine, ...]:
        return tuple(
            msgspec.structs.replace(line, acceptable=successors(line.acceptable, supersessions, day)) for line in lines)

    return msgspec.structs.replace(
        kit, lines=resolved(kit.lines), extras=resolved(kit.extras), reserves=resolved(kit.reserves))
