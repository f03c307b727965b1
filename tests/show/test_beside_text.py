"""What stands beside a kit's lines, in words: exchange units, what comes off, hazards."""

import msgspec
import pytest

from kitbuilder.kit.why import Why
from kitbuilder.model.catalogue import Port
from kitbuilder.model.kit import (
    ComesOff,
    ExchangeShown,
    HazardShown,
    HazardStatement,
    Pictogram,
    Reason,
)
from kitbuilder.show.paper import Paper
from kitbuilder.show.why import why_text
from tests.show.test_kit_text import FACTS, GROUPS, LINE, flat, line, text

UNIT = ExchangeShown("U-1", "Actuator unit", "each", ("unit",), True, "450.00", "EUR", 30,
                     ("drained", "plugged", "boxed"), "dry", "unit", None, 2)
OIL = ComesOff("Old oil", "13 02 05*", "mineral oils", True, "1.5", "L", "fill", "certain", (), (),
               (Reason("waste.csv", 2, None, ()),))
SHEET = HazardShown("G-1", "Flange sealant", "Sheet 2", "2024-11-20", "danger",
                    (Pictogram("GHS05", "corrosion"), Pictogram("GHS07", "exclamation mark")),
                    (HazardStatement("H318", "Causes serious eye damage."),), None, 2)
WHY = Why("kitbuilder.why/1", (), "exhaust", "clamp", "e" * 64, FACTS, (LINE,), (), (), ())


def changed(one, **changes):
    return msgspec.structs.replace(one, **changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"fill": "dry"}, "dry fill"),
        ({"fill": "top-up", "least": "0.4", "amount": "0.6", "unit": "L"}, "top-up, to level, 0.4 to 0.6 L"),
        ({"fill": "drain and refill"}, "drain and refill"),
        ({"fill": "lost on the way"}, "for what is lost on the way"),
        ({"select": 1}, "several go along, 1 is used, the rest comes back"),
        ({"select": 3}, "several go along, 3 are used, the rest comes back"),
        ({"advised": True}, "advised while it is open: the customer's choice"),
        ({"weight": "38.5"}, "weighs 38.5 kg"),
        ({"ports": (Port("M14x1.5", 1),)}, "1 port: M14x1.5"),
        ({"ports": (Port("M14x1.5", 1), Port("M22x1.5", 2))}, "3 ports: M14x1.5 and 2 M22x1.5"),
    ],
)
def test_a_line_says_of_itself(changes, words):
    assert words in flat(text(line(**changes)))
    assert words in flat(why_text(changed(WHY, lines=(line(**changes),)), GROUPS, {}, Paper(80)))
    assert words not in flat(text())


def test_small_weights_are_left_to_the_json():
    assert "weighs" not in text(line(weight="4.999"))
    assert "weighs 5 kg" in text(line(weight="5"))


def test_what_is_only_advised_is_neither_certain_nor_short():
    said = flat(text(LINE, line(advised=True, stock=(), short="2")))
    assert "COMPLETE: 1 line certain, 1 advised." in said
    assert "SHORT" not in said
    assert "SHORT by 2" in flat(text(line(stock=(), short="2")))


def test_exchange_units_say_what_is_asked_of_the_old_one():
    said = flat(text(exchange=(UNIT, changed(UNIT, item="U-2", deposit=None, days=None, state=(), arrives="filled",
                                             note="Keep the crate"))))
    assert "The old unit returned must be the one taken off, like for like." in said
    assert ("- U-1 Actuator unit: return the old unit within 30 days, drained, plugged and boxed. Deposit 450.00 EUR "
            "each. It arrives dry and must be filled (unit).") in said
    assert "- U-2 Actuator unit: return the old unit. It arrives filled (unit). Keep the crate." in said


def test_what_comes_off_has_its_waste_code_and_what_it_hangs_on():
    when = ({"emissions": ("Euro V", "EEV")},)
    said = flat(text(comes_off=(
        OIL, changed(OIL, what="Rags", amount=None, unit=None, hazardous=False, certainty="possible", when=when,
                     findings=("cracked",), advised=True))))
    assert "WHAT COMES OFF - Old oil, 1.5 L (hazardous waste) waste code 13 02 05*: mineral oils - Rags waste" in said
    assert ("on condition: Pipe cracked only if the customer chooses what is advised only if emissions is "
            "Euro V level") in said
    assert "Keep hazardous waste apart" in said
    assert "Keep hazardous waste apart" not in flat(text(comes_off=(changed(OIL, hazardous=False),)))


def test_hazards_defer_to_the_sheet():
    said = flat(text(hazards=(SHEET, changed(SHEET, signal=None, pictograms=(), statements=(), revised=None))))
    assert "The sheet itself comes first: read it before you open the product." in said
    assert ("- G-1 Flange sealant: DANGER: corrosion (GHS05), exclamation mark (GHS07). Causes serious eye damage. "
            "(H318) Sheet Sheet 2, revised 2024-11-20.") in said
    assert "- G-1 Flange sealant: it names no hazard. Sheet Sheet 2." in said


def test_nothing_is_said_where_nothing_is_told():
    for words in ("EXCHANGE UNITS", "WHAT COMES OFF", "HAZARDS"):
        assert words not in text()


@pytest.mark.parametrize("width", [60, 80, 100])
def test_all_of_it_fits_the_width(width):
    said = text(line(ports=(Port("M14x1.5", 1), Port("M22x1.5", 2)), weight="38.5", select=2), exchange=(UNIT,),
                comes_off=(changed(OIL, title="a long title of a code of waste " * 4),), hazards=(SHEET,), width=width)
    assert [one for one in said.splitlines() if len(one) > width] == []
