"""What is set aside for findings, as the commands show it and give it back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.running import run
from tests.night.shop import Shop
from tests.night.test_on_condition import FACTS, ON_CONDITION


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop after a run that sets two pipes aside for three bookings."""
    made = Shop(tmp_path / "shop")
    made.settings_text += ON_CONDITION
    made.settings()
    made.receive("S-5", "20")
    made.receive("W-1", "20")
    made.receive("P-1", "3", bin_name="B-7")
    for hour in ("08", "09", "10"):
        made.book("seal-change", f"2026-03-11T{hour}:00", facts={**FACTS, "place": "workshop"})
    made.run()
    return made


def test_the_list_shows_it_as_promised_and_for_what(shop: Shop) -> None:
    ran = run(shop.folder, "stock", "list", "P-1")
    assert ran.code == 0
    assert [" ".join(line.split()) for line in ran.out.splitlines()[1:]] == [
        "P-1 B-7 3 each 2 each", "2 each set aside for findings of 2026-03-11, bookings 1, 2, 3"]
    [lot] = json.loads(run(shop.folder, "stock", "list", "P-1", "--json").out)["lots"]
    assert (lot["held"], lot["set_aside"]) == ("2", [{"day": "2026-03-11", "amount": "2", "bookings": [1, 2, 3]}])


def test_the_pick_list_says_where_it_is(shop: Shop) -> None:
    assert "The pipe is corroded: 2 each set aside in B-7" in " ".join(run(shop.folder, "pick", "1").out.split())


def test_a_person_lets_it_go_with_a_reason(shop: Shop) -> None:
    ran = run(shop.folder, "stock", "let-go", "P-1", "--why", "a walk-in", "--by", "Ada")
    assert (ran.code, " ".join(ran.out.split())) == (
        0, "Given back: 2 each of P-1, set aside for findings of 2026-03-11.")
    assert "set aside" not in run(shop.folder, "stock", "list", "P-1").out
    assert run(shop.folder, "stock", "audit").code == 0
    again = run(shop.folder, "stock", "let-go", "P-1", "--why", "a walk-in")
    assert again.code == 2
    assert "Nothing of P-1 is set aside at marl." in again.err


@pytest.mark.parametrize(("words", "said"), [
    (("--why", " "), "given back for a reason"), (("--why", "x", "--day", "tomorrow"), "'tomorrow' is no day"),
    (("--why", "x", "--day", "2026-03-12"), "set aside at marl for 2026-03-12"),
])
def test_what_is_said_wrongly_lets_nothing_go(shop: Shop, words: tuple[str, ...], said: str) -> None:
    ran = run(shop.folder, "stock", "let-go", "P-1", *words)
    assert ran.code == 2
    assert said in " ".join(ran.err.split())
    assert "2 each set aside" in run(shop.folder, "stock", "list", "P-1").out
