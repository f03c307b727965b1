"""What goes along to a job away from the workshop, as a kit shows it. Money and chances are decimal strings."""

import msgspec
from msgspec import UNSET, UnsetType


class AlongTaken(msgspec.Struct, frozen=True):
    """So much of an item (or of what satisfies a requirement) goes along, for some findings. `left_out`: by how much
    the expected cost rises if just this is left out. `weight` in kg, left out where it isn't known."""

    item: str | None
    requirement: str | None
    name: str
    amount: str
    unit: str
    findings: tuple[str, ...]
    left_out: str
    weight: str | UnsetType = UNSET


class AlongLeft(msgspec.Struct, frozen=True):
    """A finding of which not all lines go along: the chance that it turns out; what of it is left, by name; by how
    much the expected cost rises if that is taken as well, null where it can't be had."""

    finding: str
    chance: str
    things: tuple[str, ...]
    taking: str | None


class Along(msgspec.Struct, frozen=True):
    """The lines on condition that go along where no shelf is at hand, so that the expected cost is least.

    `cost`: what carrying them costs and a job stopped (`stopped`) by its chance; `empty`: the same with nothing along.
    `complete`: the chance that the job is completed. No choice costs less than `bound`; `proven`: nor than this one.
    `ask_first`: facts that are open and decide what may turn out; the choice is the best over all their answers.
    `unknown`: items whose weight or value isn't known and so isn't counted against the van's limit, by number.
    """

    place: str
    currency: str
    take: tuple[AlongTaken, ...]
    leave: tuple[AlongLeft, ...]
    cost: str
    empty: str
    stopped: str
    complete: str
    proven: bool
    bound: str
    ask_first: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


class SetAside(msgspec.Struct, frozen=True):
    """So much of an item to have at hand for findings of a day's `bookings`, which share it; `most` is what all of them
    together may want. `cost`: the expected cost, waiting included, of it and of what is wanted together with it;
    `left_out`: by how much that rises if none of it is set aside; `more`: what would be worth having beyond what lies
    on the shelf. `proven`: no other amount costs less."""

    item: str
    name: str
    amount: str
    most: str
    unit: str
    bookings: tuple[int, ...]
    bins: tuple[str, ...]
    cost: str
    left_out: str
    more: str
    currency: str
    proven: bool
