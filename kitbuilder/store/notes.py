"""Whole delivery notes against orders: all that stands on one is booked in, or nothing is."""

from collections.abc import Sequence
from datetime import datetime

import msgspec

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import BookedIn, Goods, ReturnTerms
from kitbuilder.store.database import MetAnother, Store
from kitbuilder.store.deliveries import against_in


class Delivered(msgspec.Struct, frozen=True, kw_only=True):
    """A line of a note: the order that it is for, what came, the supplier's terms of returning it, and whether it is to
    be issued where that supplier's stock is kept."""

    order: int
    goods: Goods
    terms: ReturnTerms = ReturnTerms()
    tell: bool = False


class _NotKept(Exception):
    """Nothing of it is to stay."""


def receive_note(store: Store, lines: Sequence[Delivered], who: str, now: datetime,
                 keep: bool = True) -> list[BookedIn | str]:
    """Book in a note's lines in one transaction: what each came to, or why it can't be taken, in words.

    Where one can't, nothing is booked in, and nothing is without `keep`: then it is what would come of it. Raises
    StoreRefuses if the store itself does.
    """
    found: list[BookedIn | str] = []
    try:
        with store.writing() as session:
            for line in lines:
                try:
                    with session.begin_nested():
                        found.append(against_in(session, line.order, line.goods, who, now, line.terms, line.tell))
                except MetAnother:
                    raise
                except (StoreRefuses, WrongUse) as error:
                    found.append(str(error))
            if not keep or any(isinstance(one, str) for one in found):
                raise _NotKept
    except _NotKept:
        pass
    return found
