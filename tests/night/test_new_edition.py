"""What a new edition does to kits that are built, held or picked: told by the run that builds them anew."""

from pathlib import Path

import pytest

from kitbuilder.store import holds
from tests.night.shop import NOW, Shop, row_of

EURO_5 = {"emissions": "Euro V"}
FITS = "fits/all.csv"


@pytest.fixture
def stocked(shop: Shop) -> Shop:
    """A workshop with enough of everything."""
    for item, quantity, unit in (("S-5", "9", "each"), ("S-6", "9", "each"), ("W-1", "9", "each"), ("W-2", "9", "each"),
                                 ("P-1", "9", "each"), ("O-1", "20", "L"), ("O-2", "20", "L")):
        shop.receive(item, quantity, unit)
    return shop


def edition(shop: Shop, *changes: tuple[str, str, str]) -> None:
    """A new edition of the catalogue: in which file, what stood there, what stands there."""
    for file, old, new in changes:
        path: Path = shop.folder / "catalogue" / file
        text = path.read_text("utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), "utf-8")


def pick(shop: Shop, number: int, *steps: str) -> None:
    for state in steps:
        holds.step(shop.store, [row.id for row in shop.holds(number)], state, "A. Person", NOW)


def told(shop: Shop, number: int) -> list[str]:
    return [text for text in shop.run().attention if f"ooking {number} " in text and "changed" in text]


@pytest.mark.parametrize(("steps", "lead"), [
    ((), "The kit of booking {} changed: "),
    (("picking",), "Booking {} is being picked, and its kit changed with the new catalogue: "),
    (("picking", "picked"), "Booking {} is picked, and its kit changed with the new catalogue: "),
])
def test_lines_that_come_go_and_change_are_told(stocked: Shop, steps: tuple[str, ...], lead: str) -> None:
    number = stocked.book("seal-change", facts=EURO_5)
    stocked.run()
    pick(stocked, number, *steps)
    edition(stocked, (FITS, ",seal,S-5,,2,each,,Euro V", ",seal,S-5,,3,each,,Euro V"),
            (FITS, "seal-change,wipes,W-1,,2,each,,", "seal-change,wipes,W-2,,1,each,,"))
    [text] = told(stocked, number)
    assert text.startswith(
        lead.format(number) + "now also 1 each of Wipe, coarse (W-2); no longer 2 each of Wipe (W-1); "
        "3 each of Seal, Euro V (S-5) instead of 2 each")
    assert text.endswith(" Put the tote right before it is checked.") == bool(steps)
    # told once: the run after finds nothing new
    assert told(stocked, number) == []
    stocked.sound()


def test_what_is_picked_and_not_wanted_any_more_goes_back_and_what_is_new_is_held(stocked: Shop) -> None:
    number = stocked.book("seal-change", facts=EURO_5)
    stocked.run()
    pick(stocked, number, "picking", "picked")
    edition(stocked, (FITS, "seal-change,wipes,W-1,,2,each,,", "seal-change,wipes,W-2,,1,each,,"))
    report = stocked.run()
    assert f"2 each of Wipe (W-1) is picked for booking {number}, which doesn't need it any more: put it back to A-1." \
        in report.attention
    assert stocked.held(number) == {
        f"{number}/seal:S-5 S-5": 2000, f"{number}/wipes:W-1 W-1": 2000, f"{number}/wipes:W-2 W-2": 1000}


def test_of_a_picked_kit_every_change_is_told(stocked: Shop) -> None:
    """The others' are cut short: a kit that changed much is better read anew."""
    first, second = stocked.book("seal-change", facts=EURO_5), stocked.book("seal-change", facts=EURO_5)
    stocked.run()
    pick(stocked, first, "picking", "picked")
    items = "".join(f"P-{number};Pipe {number};each;;;;\n" for number in range(2, 10))
    pipes = "".join(f",pipe,P-{number},,1,each,,\n" for number in range(2, 10))
    edition(stocked, ("items.csv", "W-1;Wipe;each;;;;\n", f"W-1;Wipe;each;;;;\n{items}"),
            (FITS, "seal-change,wipes,W-1", f"{pipes}seal-change,wipes,W-1"))
    attention = stocked.run().attention
    [text] = [text for text in attention if text.startswith(f"Booking {first} is picked")]
    assert all(f"now also 1 each of Pipe {number} (P-{number})" in text for number in range(2, 10))
    [text] = [text for text in attention if text.startswith(f"The kit of booking {second} changed")]
    assert text.endswith("; and 2 changes more.")


def test_another_stage_and_other_items_that_may_be_taken_are_told(stocked: Shop) -> None:
    number = stocked.book("oil-change", facts=EURO_5)
    stocked.run()
    pick(stocked, number, "picking")
    edition(stocked, ("items.csv", "O-1;Oil, best;L;1;gear oil;75W-80;", "O-1;Oil, best;L;1;gear oil;80W-90;"),
            ("jobs/all.toml", 'roles = { oil = "fill", wipes = "drain" }', 'roles = { oil = "fill", wipes = "fill" }'))
    [text] = told(stocked, number)
    assert "Wipe (W-1) at 'fill' instead of 'drain'" in text
    assert "for Oil of the box (box-oil) now O-2 may be taken, was O-1, O-2" in text


def test_a_problem_of_the_new_edition_is_told(stocked: Shop) -> None:
    number = stocked.book("seal-change", facts=EURO_5)
    stocked.run()
    pick(stocked, number, "picking", "picked")
    edition(stocked, (FITS, ",seal,S-5,,2,each,,Euro V\n", ""))
    report = stocked.run()
    [text] = [text for text in report.attention if text.startswith(f"Booking {number} is picked")]
    assert "no longer 2 each of Seal, Euro V (S-5); a problem: Nothing fills Seal (seal)" in text
    assert row_of(report, number).state == "needs a person"


def test_a_new_edition_that_leaves_the_kit_alone_tells_nothing(stocked: Shop) -> None:
    number = stocked.book("seal-change", facts=EURO_5)
    stocked.run()
    pick(stocked, number, "picking", "picked")
    held = stocked.holds()
    edition(stocked, (FITS, ",unit,U-1,,1,each,,", ",unit,U-1,,2,each,,"))
    assert told(stocked, number) == []
    assert stocked.holds() == held


def test_what_is_withdrawn_is_held_for_no_new_kit(stocked: Shop) -> None:
    """Held before it was withdrawn, it goes; what takes its place is held from then on."""
    number = stocked.book("seal-change", facts=EURO_5)
    stocked.run()
    assert stocked.held(number)[f"{number}/wipes:W-1 W-1"] == 2000
    table = stocked.folder / "catalogue" / "supersession.csv"
    table.write_text("old,new,from,rule,note\nW-1,W-2,2026-03-11,withdrawn,\n", "utf-8")
    stocked.run()
    assert stocked.held(number) == {f"{number}/seal:S-5 S-5": 2000, f"{number}/wipes:W-1 W-2": 2000}
    # nothing takes its place: nothing is held, and somebody has to see to it
    table.write_text("old,new,from,rule,note\nW-1,,2026-03-11,withdrawn,\n", "utf-8")
    report = stocked.run()
    assert stocked.held(number) == {f"{number}/seal:S-5 S-5": 2000}
    assert row_of(report, number).state == "not ready"
