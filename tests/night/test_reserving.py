"""What is set aside for the findings of a day is held in the store, for the day and none of its bookings alone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from kitbuilder.model.shelf import Promise
from kitbuilder.store import holds, shelves
from kitbuilder.store.holds import NotThere
from kitbuilder.store.ledger import ledger
from kitbuilder.store.reserves import let_go, reserves
from tests.databases import KINDS
from tests.night.shop import Shop
from tests.night.test_on_condition import FACTS, ON_CONDITION

DAY = date(2026, 3, 11)
IN_THE_WORKSHOP = {**FACTS, "place": "workshop"}


@pytest.fixture(params=KINDS)
def costed(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Shop]:
    """The shop on each database, with the costs of setting aside and waiting, and seals and wipes enough."""
    server = request.getfixturevalue("postgres") if request.param == "postgresql" else None
    address = server.fresh() if server else None
    made = Shop(tmp_path / "shop", store=address)
    made.settings_text += ON_CONDITION
    made.settings()
    made.receive("S-5", "50")
    made.receive("W-1", "50")
    yield made
    made.store.close()
    if server:
        server.drop(address)


def three(shop: Shop, day: str = "2026-03-11") -> list[int]:
    """Three bookings, each of which may want a pipe with a chance of 0.2: two are worth setting aside."""
    return [shop.book("seal-change", f"{day}T{hour}:00", facts=IN_THE_WORKSHOP) for hour in ("08", "09", "10")]


def aside(shop: Shop) -> list[tuple[date, str, str, int, tuple[int, ...]]]:
    return [(one.day, one.lot, one.bin, one.quantity // 1000, one.bookings) for one in reserves(shop.store)]


def free(shop: Shop, item: str = "P-1") -> int:
    return sum(one.free for one in shelves.lots(shop.store, "marl", [item])) // 1000


def wants(shop: Shop, booking: int) -> int:
    """The finding of a booking has turned out: the pipe is added by hand."""
    return shop.edit(booking, "add", "pipe", item="P-1", amount=1000, unit="each")


def test_it_is_held_for_the_day_and_a_walk_in_does_not_get_it(costed: Shop) -> None:
    costed.receive("P-1", "3", bin_name="B-7")
    numbers = three(costed)
    [told] = costed.run().set_aside  # type: ignore[misc]
    assert (told.amount, told.bins) == ("2", ("B-7",))
    assert aside(costed) == [(DAY, "", "B-7", 2, tuple(numbers))]
    assert free(costed) == 1
    assert not any("P-1" in key for key in costed.held())
    other = costed.book("unit-change")
    with pytest.raises(NotThere, match="only 1 are free"):
        holds.hold(costed.store, "marl", [Promise("walk-in", other, f"{other}/x", "P-1", "", 2000)], "B. Walker",
                   costed.now)
    costed.sound()


def test_a_run_again_changes_nothing(costed: Shop) -> None:
    costed.receive("P-1", "3")
    three(costed)
    costed.run()
    before = (aside(costed), [row.id for row in reserves(costed.store)], len(ledger(costed.store)))
    report = costed.run()
    assert (aside(costed), [row.id for row in reserves(costed.store)], len(ledger(costed.store))) == before
    assert [one.amount for one in report.set_aside] == ["2"]  # type: ignore[union-attr]


def test_the_next_run_gives_back_what_was_for_a_day_that_is_past(costed: Shop) -> None:
    costed.receive("P-1", "3")
    three(costed)
    costed.run()
    costed.now += timedelta(days=1)
    costed.run(DAY + timedelta(days=1))
    assert aside(costed) != []  # the day itself isn't over
    costed.now += timedelta(days=1)
    costed.run(DAY + timedelta(days=2))
    assert aside(costed) == []
    assert free(costed) == 3
    costed.sound()


def test_each_day_has_its_own_and_another_days_run_leaves_it(costed: Shop) -> None:
    costed.receive("P-1", "5")
    three(costed)
    later = three(costed, "2026-03-12")
    costed.run()
    costed.run(DAY + timedelta(days=1))
    assert [(one[0], one[3]) for one in aside(costed)] == [(DAY, 2), (DAY + timedelta(days=1), 2)]
    assert aside(costed)[1][4] == tuple(later)
    before = aside(costed)
    costed.run()
    costed.run(DAY + timedelta(days=1))
    assert aside(costed) == before
    costed.sound()


def test_a_booking_whose_finding_turns_out_gets_it_from_what_is_set_aside(costed: Shop) -> None:
    costed.receive("P-1", "2")
    first, *rest = three(costed)
    costed.run()
    assert free(costed) == 0
    wants(costed, first)
    costed.run()
    assert sum(quantity for key, quantity in costed.held(first).items() if "P-1" in key) == 1000
    # of the two that are left, one at 0.2 each is worth it
    assert [(one[3], one[4]) for one in aside(costed)] == [(1, tuple(rest))]
    costed.sound()


def test_a_finding_of_today_gets_it_from_todays_in_the_run_for_tomorrow(costed: Shop) -> None:
    costed.receive("P-1", "2")
    first, *_ = three(costed)
    costed.run()
    wants(costed, first)
    costed.now += timedelta(days=1)
    costed.run(DAY + timedelta(days=1))
    assert sum(quantity for key, quantity in costed.held(first).items() if "P-1" in key) == 1000
    assert [(one[0], one[3]) for one in aside(costed)] == [(DAY, 1)]
    costed.sound()


def test_todays_is_not_eaten_by_what_another_day_needs(costed: Shop) -> None:
    costed.receive("P-1", "2")
    three(costed)
    costed.run()
    other = costed.book("seal-change", "2026-03-12T08:00", facts=IN_THE_WORKSHOP)
    wants(costed, other)
    costed.run(DAY + timedelta(days=1))
    assert not any("P-1" in key for key in costed.held(other))
    assert [(one[0], one[3]) for one in aside(costed)] == [(DAY, 2)]


def test_what_is_certain_comes_before_it_on_its_own_day(costed: Shop) -> None:
    costed.receive("P-1", "2")
    three(costed)
    costed.run()
    fourth = costed.book("seal-change", "2026-03-11T11:00", facts=IN_THE_WORKSHOP)
    wants(costed, fourth)
    fifth = costed.book("seal-change", "2026-03-11T12:00", facts=IN_THE_WORKSHOP)
    wants(costed, fifth)
    costed.run()
    assert sum(quantity for key, quantity in costed.held().items() if "P-1" in key) == 2000
    assert aside(costed) == []
    costed.sound()


def test_a_person_gives_it_back_and_the_next_run_sets_it_aside_again(costed: Shop) -> None:
    costed.receive("P-1", "3")
    three(costed)
    costed.run()
    let_go(costed.store, "marl", "P-1", None, "A. Person", "a walk-in", costed.now)
    assert free(costed) == 3
    costed.run()
    assert [one[3] for one in aside(costed)] == [2]
    costed.sound()


def test_what_goes_off_first_is_set_aside_first_and_nothing_past_its_day(costed: Shop) -> None:
    costed.receive("P-1", "1", lot="L3", use_by=date(2026, 3, 10))
    costed.receive("P-1", "1", lot="L2", use_by=date(2026, 6, 30))
    costed.receive("P-1", "5", lot="L1")
    three(costed)
    costed.run()
    assert [(lot, count) for _, lot, _, count, _ in aside(costed)] == [("L1", 1), ("L2", 1)]


def test_without_the_settings_what_was_set_aside_is_given_back(costed: Shop) -> None:
    costed.receive("P-1", "3")
    three(costed)
    costed.run()
    costed.settings((ON_CONDITION, ""))
    costed.run()
    assert aside(costed) == []
    costed.sound()


class Killed(Exception):
    pass


@pytest.mark.parametrize("step", ["read", "build", "compare", "source", "hold", "documents"])
def test_a_run_that_was_killed_ends_as_an_unbroken_one(costed: Shop, step: str) -> None:
    costed.receive("P-1", "3")
    numbers = three(costed)

    def kill(done: str) -> None:
        if done == step:
            raise Killed

    with pytest.raises(Killed):
        costed.run(after=kill)
    report = costed.run()
    assert aside(costed) == [(DAY, "", "A-1", 2, tuple(numbers))]
    assert [one.amount for one in report.set_aside] == ["2"]  # type: ignore[union-attr]
    costed.sound()
