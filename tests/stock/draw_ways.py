"""Draws small sourcing cases in which needs go together: an old set or the new one, wholly."""

from __future__ import annotations

import msgspec
from hypothesis import strategies as st

from kitbuilder.model.plan import Need, Supply
from tests.stock.draw_sourcing import cases, rarely

WAYS = ((0,), (1,), (0, 1), (1, 2), (2,))


@st.composite
def bound_cases(draw: st.DrawFn) -> tuple[list[Need], list[Supply]]:
    """Cases as others, in which most needs are of a way; one source less, and no more than three needs."""
    needs, supplies = draw(cases())
    found = []
    for need in needs:
        if draw(st.sampled_from((True, True, True, False))):
            need = msgspec.structs.replace(
                need, binding=draw(rarely(st.just("other"), "pipes")), ways=draw(st.sampled_from(WAYS)))
        if draw(st.booleans()):
            need = msgspec.structs.replace(need, circuit="")
        if draw(st.booleans()):
            need = msgspec.structs.replace(need, booking=1)
        found.append(need)
    return found, supplies[:draw(st.sampled_from((2, 3, 3)))]
