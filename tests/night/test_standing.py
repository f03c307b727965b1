"""The plan of a run is read back from what it left, as long as nothing has changed."""

from __future__ import annotations

import msgspec
import pytest

from kitbuilder.model.plan import Plan
from kitbuilder.night import run
from kitbuilder.night.holding import Outcome, another_way
from kitbuilder.night.standing import standing_plan
from tests.night.shop import NOW, Shop

EURO_5, EURO_6 = {"emissions": "Euro V"}, {"emissions": "Euro VI"}


@pytest.fixture
def busy(shop: Shop) -> Shop:
    """A run with a line from the shelf in two bins, oil of a circuit, two proposals of one supplier, one booking late
    and one short."""
    shop.receive("S-5", "1", bin_name="A-1")
    shop.receive("S-5", "1", bin_name="A-2")
    shop.receive("O-1", "9", "L")
    shop.receive("W-1", "5")
    shop.supplier("U-1,1,each,2026-03-11T14:00:00+00:00,900,1", "S-6,9,each,2026-03-11T07:00:00+00:00,3.10,1",
                  "W-1,9,each,2026-03-11T07:00:00+00:00,0.35,1")
    shop.book("seal-change", facts=EURO_5)
    shop.book("seal-change", facts=EURO_6)
    shop.book("oil-change", facts=EURO_5)
    shop.book("unit-change")
    shop.book("unit-change", priority="VOR")
    shop.run()
    return shop


def read_back(shop: Shop) -> tuple[Plan | None, Plan]:
    """The plan as read back, and as it would be made now."""
    around = shop.around()
    row = run.runs.last_done(shop.store, "marl")
    _, case, orders = run.look_back(around, row)
    outcome = msgspec.json.decode(row.steps["hold"], type=Outcome)
    made, _, _ = another_way(case.asked, case.found.supplies, case.cancelled, NOW)
    return standing_plan(case, orders, outcome, case.found.supplies, "shelf", NOW), made


def test_what_is_read_back_is_as_good_as_what_would_be_made(busy: Shop) -> None:
    standing, made = read_back(busy)
    assert standing is not None and standing.proven
    assert (standing.allocations, standing.purchases, standing.short, standing.value) == (
        made.allocations, made.purchases, made.short, made.value)
    assert standing.short and standing.value.money and standing.value.not_on_time_vor


def test_what_was_decided_since_still_stands(busy: Shop) -> None:
    before, _ = read_back(busy)
    for order in busy.orders():
        busy.decide(order.id, "approved")
    assert read_back(busy)[0] == before


def test_where_anything_has_changed_nothing_is_read_back(busy: Shop) -> None:
    busy.receive("U-1", "1")
    assert read_back(busy)[0] is None


def test_a_cancelled_order_is_a_change(busy: Shop) -> None:
    busy.decide(busy.orders()[0].id, "cancelled")
    assert read_back(busy)[0] is None
