"""Why bookings lost, and how far from proof their plan is: what a night's plan tells of itself in the report."""

import time
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Final

import msgspec

from kitbuilder import amount
from kitbuilder.model.catalogue import Item
from kitbuilder.model.plan import Gap, Need, Plan, Supply
from kitbuilder.model.work import Report
from kitbuilder.show.sourced import Terms, gap_words, lost_words
from kitbuilder.stock.explain import Explainer

#: So long, in seconds, a run may take in all to work out why bookings lost.
SECONDS: Final = 5.0


def terms_of(plan: Plan, needs: Collection[Need], items: Mapping[str, Item], currency: str) -> Terms:
    """What words about a plan need to know."""
    return Terms(plan.value, currency, frozenset(need.booking for need in needs if need.vor),
                 {need.name: thing(need, items) for need in needs}, {need.name: need.booking for need in needs})


def thing(need: Need, items: Mapping[str, Item]) -> str:
    """What a need is for: `2 each Valve (V-1)`, of the item that is liked best."""
    number = need.acceptable[0] if need.acceptable else ""
    name = f"{items[number].name} ({number})" if number in items else number or need.name
    return f"{amount.show(need.quantity)} {need.unit} {name}"


def why_lost(plan: Plan, needs: Sequence[Need], supplies: Sequence[Supply], now: datetime, items: Mapping[str, Item],
             currency: str, *, seconds: float = SECONDS) -> dict[int, tuple[str, ...]]:
    """For each booking that is late or short in a plan, why, in sentences; VOR bookings first, then by their wanted
    times. What isn't worked out within `seconds` in all says so."""
    first = {need.booking: (not need.vor, need.wanted_at) for need in reversed(needs)}
    for need in needs:
        first[need.booking] = min(first[need.booking], (not need.vor, need.wanted_at))
    value = plan.value
    if not (value.short_vor or value.short or value.not_on_time_vor or value.not_on_time):
        return {}
    deadline = time.monotonic() + seconds
    explainer, terms = Explainer(plan, needs, supplies, now), terms_of(plan, needs, items, currency)
    return {
        number: tuple(lost_words(explainer.booking(number, seconds=deadline - time.monotonic()), terms))
        for number in sorted(explainer.late(), key=lambda number: (*first[number], number))}


def told_in(report: Report, gap: Gap | None, lost: Mapping[int, Sequence[str]], currency: str) -> Report:
    """A report in which bookings that lost say why (but not those of which nobody knows what fits), and the whole how
    far from proof its plan is."""
    rows = tuple(
        msgspec.structs.replace(row, why=tuple(dict.fromkeys((*row.why, *lost[row.booking]))))
        if row.booking in lost and row.state != "needs a person" else row for row in report.bookings)
    return msgspec.structs.replace(report, bookings=rows, gap=gap_words(gap, currency) if gap else "")
