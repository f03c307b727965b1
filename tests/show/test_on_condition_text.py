"""The sections on what goes along and what is set aside, as a person reads them."""

import pytest

from kitbuilder.model.along import Along, AlongLeft, AlongTaken, SetAside
from kitbuilder.show.on_condition import along_text, set_aside_text
from kitbuilder.show.paper import Paper

TAKEN = AlongTaken("P-1", None, "Pressure pipe with a name that goes on and on until it must be wrapped", "2", "each",
                   ("bent",), "116.80", "2.5")
LEFT = AlongLeft("worn", "0.004", ("Bearing", "Ring"), "1.50")
ALONG = Along("yard", "EUR", (TAKEN,), (LEFT,), "11.10", "362.40", "600.00", "0.996", True, "11.10")


def said(along: Along, width: int = 80) -> str:
    lines = along_text(along, {"bent": "Pipe bent", "worn": "Bearing worn"}, Paper(width))
    assert max(map(len, lines)) <= width
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize("width", [60, 80, 100])
def test_what_goes_what_stays_and_what_it_costs(width: int) -> None:
    text = said(ALONG, width)
    for words in (
            "With 1 thing along the job can be completed with a chance of over 99 %; expected cost 11.10 EUR",
            "With nothing along it would be 362.40 EUR.", "No other choice costs less.", "2 each Pressure pipe",
            "for: Pipe bent", "left out: 116.80 EUR more", "STAYS HERE", "Bearing and Ring",
            "for: Bearing worn (chance under 1 %)", "taken as well: 1.50 EUR more"):
        assert words in text


def test_what_is_not_proven_says_so_with_its_bound() -> None:
    text = said(Along("yard", "EUR", (TAKEN,), (), "11.10", "362.40", "600.00", "1", False, "10.90"))
    assert "A better choice may exist; none costs less than 10.90 EUR." in text
    assert "No other choice costs less." not in text


def test_what_cannot_be_taken_and_what_would_even_help_is_told() -> None:
    left = AlongLeft("worn", "0.5", ("Bearing",), None), AlongLeft("bent", "0.5", ("Pipe",), "-3.00")
    text = said(Along("yard", "EUR", (), left, "9.00", "9.00", "600.00", "0.25", False, "1.00",
                      ("gearbox", "emissions"), ("S-1",)))
    assert "With nothing along the job can be completed with a chance of 25 %" in text
    assert "it can't be taken: no item will do, or the van can't carry it too" in text
    assert "taken as well: 3.00 EUR less" in text
    assert "Ask first, as it decides what may turn out: gearbox and emissions." in text
    assert "Not counted against what the van may carry, as it isn't known of them: S-1." in text


def test_a_job_without_findings_has_nothing_to_choose() -> None:
    assert "No finding of this job brings anything." in said(
        Along("yard", "EUR", (), (), "0.00", "0.00", "600.00", "1", True, "0.00"))


def test_what_is_set_aside_for_several_bookings() -> None:
    rows = (
        SetAside("K-1", "Clutch kit", "1", "5", "set", (4, 5, 6), ("A-1", "A-2"), "9.00", "42.50", "1", "EUR", False),
        SetAside("F-1", "Flange", "0", "1", "each", (7,), (), "90.00", "0.00", "1", "EUR", True))
    lines = set_aside_text(rows, Paper())
    assert max(map(len, lines)) <= 80
    text = " ".join(" ".join(lines).split())
    for words in ("1 of 5 set Clutch kit (K-1), in A-1 and A-2",
                  "for bookings 4, 5 and 6: expected cost 9.00 EUR, without it 42.50 more (a good amount, not proven",
                  "1 set more would be worth having; the shelf has no more to spare",
                  "Flange (F-1): the shelf has none to spare",
                  "1 each would be worth having for booking 7; without, waiting is expected to cost 90.00 EUR"):
        assert words in text
