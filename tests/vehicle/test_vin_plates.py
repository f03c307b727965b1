"""What type plates tell: as seen, by all rows that match; an unknown plate is wrong use."""

import pytest

from kitbuilder.errors import WrongUse
from kitbuilder.model.catalogue import Condition
from kitbuilder.vehicle.plates import PlatePattern, of_plates
from kitbuilder.vehicle.statements import SEEN, Statement


def row(component, pattern, line, note="", **facts):
    cells = tuple(Condition(fact, cell) for fact, cell in facts.items())
    return PlatePattern(component, pattern, cells, line, pattern, note)


ROWS = (
    row("gearbox", "TL61*", 2, "First build", gearbox="light early"),
    row("gearbox", "TL6[2-4]*", 3, gearbox="light late"),
    row("gearbox", "TL*", 4, gear="six"), row("rear axle", "RA?T*", 5, brakes="drum"),
)


def test_what_a_plate_tells_is_seen_and_says_where_it_stands():
    assert of_plates(ROWS, ["gearbox=TL6-2207", " rear axle = ra1 t 77"]) == [
        Statement("gearbox", "light late", SEEN, "plate gearbox TL6-2207, plates.csv line 3"),
        Statement("gear", "six", SEEN, "plate gearbox TL6-2207, plates.csv line 4"),
        Statement("brakes", "drum", SEEN, "plate rear axle ra1 t 77, plates.csv line 5")]
    assert of_plates(ROWS, []) == []


@pytest.mark.parametrize(("plate", "words"), [
    ("TL6-2207", "lacks a number. Expected --plate COMPONENT=NUMBER"), ("gearbox=", "lacks a number"),
    ("gearbox= - ", "lacks a number"),
    ("gear box=TL6-2207", "no plates of a component 'gear box'. Did you mean 'gearbox'?"),
    ("=TL6", "no plates of a component ''. Expected one of gearbox, rear axle."),
    ("gearbox=XX6-2207", "No pattern of plates.csv for gearbox matches 'XX6-2207'. It has TL61* (First build); "
                         "TL6[2-4]*; TL*. Read the plate again, or use --seen"),
])
def test_a_plate_that_cannot_be_used_is_told_with_what_could(plate, words):
    with pytest.raises(WrongUse) as told:
        of_plates(ROWS, [plate])
    assert words in str(told.value)


def test_of_many_patterns_the_first_few_are_told():
    with pytest.raises(WrongUse, match=r"N0; N1; N2; N3; N4; N5; and 4 more\."):
        of_plates([row("gearbox", f"N{number}", number, gearbox="x") for number in range(10)], ["gearbox=X"])


def test_a_catalogue_without_plates_says_so():
    with pytest.raises(WrongUse, match=r"has no plates\.csv, so a plate tells nothing\. Use --seen"):
        of_plates((), ["gearbox=TL6-2207"])
