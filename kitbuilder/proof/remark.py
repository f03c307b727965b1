"""What a catalogue may say and yet may not mean: a remark only warns."""

from typing import Literal

import msgspec

from kitbuilder.model.kit import RowPlace, When

Kind = Literal[
    "dead fit", "dead include", "twin rows", "unused item", "unused requirement", "unused role", "supersession",
    "data sheet", "fill", "thread", "exchange", "safety data sheet", "selling price",
]


class Remark(msgspec.Struct, frozen=True):
    """Something that is allowed and may be meant otherwise: what it is, in one sentence, and the rows it speaks of.

    `job`, `role` and `item` name what it is about, where it is about one; `when` says where it is so, empty for
    everywhere or where there is nothing to say.
    """

    kind: Kind
    text: str
    rows: tuple[RowPlace, ...] = ()
    job: str = ""
    role: str = ""
    item: str = ""
    when: When = ()
