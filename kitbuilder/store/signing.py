"""The technician signs for the tote: what was found is issued, and old units are owed for it from then on."""

from collections.abc import Callable, Iterable
from datetime import datetime

from sqlalchemy import select

from kitbuilder.model.catalogue import Exchange
from kitbuilder.model.order import ExchangeReturnRow
from kitbuilder.model.shelf import HoldState
from kitbuilder.store.database import Store
from kitbuilder.store.holds import step_in
from kitbuilder.store.returns import owe_in
from kitbuilder.store.tables import Hold

#: The states that a hold goes through until it is issued.
_TO_ISSUED: tuple[tuple[HoldState, HoldState], ...] = (
    ("planned", "picking"), ("picking", "picked"), ("picked", "issued"))


def sign(store: Store, holds: Iterable[int], who: str, now: datetime, exchange_of: Callable[[str], Exchange | None],
         currency: str) -> list[ExchangeReturnRow]:
    """Issue holds, in whatever state they are, and note the old units that are owed for what is fitted now: both in one
    transaction, or neither. What is issued already stays so. The old units that are new.

    Raises StoreRefuses if one was let go meanwhile, or is of a lot in quarantine.
    """
    numbers = sorted(set(holds))
    with store.writing() as session:
        rows = session.execute(select(Hold.id, Hold.state).where(Hold.id.in_(numbers)))
        states: dict[int | None, str] = {row.id: row.state for row in rows}
        for before, after in _TO_ISSUED:
            ready = [number for number in numbers if states.get(number) == before]
            step_in(session, ready, after, who, now)
            states.update(dict.fromkeys(ready, after))
        left = [number for number in numbers if states.get(number) != "issued"]
        step_in(session, left, "issued", who, now)  # which refuses, and says why
        return owe_in(session, numbers, exchange_of, currency)
