"""The comparison as the house reads it: side by side where it fits, in whole words, within the width."""

import msgspec
import pytest

from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.options import Options
from kitbuilder.show.options import options_text
from kitbuilder.show.paper import Paper
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.asked import Asked
from kitbuilder.workshop.charges import Charges
from kitbuilder.workshop.options import compare
from tests.workshop.options_files import CHARGES, START, WHEN, answer, at, edition_in, shelf

TITLES = {"beyond-repair": "Unit beyond repair", "motor-worn": "Pump motor worn"}
ALL = ("U-1", "U-9", "S-1", "M-1", "O-1", "H-1", "H-2", "C-1")
LIGHT = Statement("gearbox", "light", TOLD)


@pytest.fixture(scope="module")
def edition(tmp_path_factory: pytest.TempPathFactory) -> Edition:
    return edition_in(tmp_path_factory.mktemp("ways"))


def text(found: Options, width: int = 80, *, quiet: bool = True) -> str:
    return options_text(found, TITLES, Paper(width), quiet=quiet)


def rows(found: Options, width: int = 80) -> dict[str, list[str]]:
    """The first line of each row of the table: its cells by its label."""
    lines = text(found, width).split("\n\n")[1].splitlines()
    return {line[:20].strip(): [line[at:at + 20].strip() for at in (20, 40, 60)] for line in lines}


def test_three_ways_stand_side_by_side_on_eighty_columns(edition: Edition) -> None:
    found = rows(compare(edition, "new", (LIGHT, Statement("place", "workshop", TOLD)), CHARGES, WHEN))
    assert found["Parts"] == ["94.80 to 98.50", "1016.80 to 1022.00", "15.10 to 18.80"]
    assert found["Labour"] == ["270.00", "202.50", "202.50"]
    assert found["Planned minutes"] == ["180", "135", "135"]
    assert found["Without a price"] == ["none", "none", "1 line"]
    assert found["What may turn out,"] == ["334.20", "0.00", "0.00"]
    assert found["Deposits, apart"] == ["0.00", "250.00", "0.00"]
    assert found["Earliest finish"] == ["Tue 13 Jan 2026", "Tue 13 Jan 2026", "Tue 13 Jan 2026"]


@pytest.mark.parametrize("width", [60, 72, 80, 100])
def test_nothing_is_wider_than_the_paper(edition: Edition, width: int) -> None:
    for asked in (None, Asked([shelf(*ALL[1:])], START, cost=True)):
        found = compare(edition, "new", (), CHARGES, WHEN, asked)
        assert [line for line in text(found, width, quiet=False).splitlines() if len(line) > width] == []


def test_where_columns_don_t_fit_the_ways_stand_one_below_the_other(edition: Edition) -> None:
    lines = text(compare(edition, "new", (LIGHT,), CHARGES, WHEN), 60).split("\n\n")
    assert lines[1].splitlines()[0] == "Repair the unit"
    assert lines[2].splitlines()[0] == "Exchange the unit"
    assert lines[2].splitlines()[1].split() == ["Parts", "1016.80", "to", "1022.30"]


def test_what_is_waited_for_lacks_a_price_or_may_turn_out_is_named(edition: Edition) -> None:
    asked = Asked([shelf("S-1", "O-1"), answer("van", {"U-9": ("noon", 1, 100)}, {"noon": at(12)})], START, cost=True)
    told = " ".join(text(compare(edition, "new", (LIGHT,), CHARGES, WHEN, asked)).split())
    for said in (
            "change waits for 1 each Unit, new, until Tue 13 Jan 2026 12:00",
            "change waits for 1 each Unit, light, exchange: nothing brings it",
            "1 line without a price, in no sum: Unit, new",
            "Unit beyond repair (chance 20 %): it then becomes: Exchange the unit, which adds 1069.50 to 1071.00 "
            "(not at hand when its stage starts)",
            "Pump motor worn (chance 40 %): adds 300.00 (not at hand when its stage starts)",
            "deposit 250.00 for Unit, light, exchange (only if: Unit beyond repair), paid back, if the old unit is "
            "back by Thu 12 Feb 2026",
            "advised while it is open, in no sum: Filter, 25.00", "Clip: 0.30, hangs on place",
            "that no source has a price for, not in our cost"):
        assert said in told, said


def test_a_way_that_can_t_be_finished_says_so_in_its_row(edition: Edition) -> None:
    asked = Asked([shelf(*ALL[1:])], START)
    found = rows(compare(edition, "new", (LIGHT,), CHARGES, WHEN, asked))
    assert found["Earliest finish"] == ["Tue 13 Jan 2026", "none: something", "Tue 13 Jan 2026"]


def test_a_source_that_failed_is_not_told_as_short(edition: Edition) -> None:
    failed = msgspec.structs.replace(shelf(*ALL), state="failed", quote=None, error="it hung")
    assert "not known, a source failed" in " ".join(
        text(compare(edition, "lift", (), CHARGES, WHEN, Asked([failed], START))).split())


def test_an_upper_bound_is_called_one(edition: Edition) -> None:
    told = " ".join(text(compare(edition, "lift", (), CHARGES, WHEN)).split())
    assert "up to 0 %, as no stock was asked" in told
    assert "No other job type has this goal" in told


def test_rates_that_aren_t_set_are_said_to_be_missing(edition: Edition) -> None:
    told = text(compare(edition, "new", (LIGHT,), Charges()))
    assert told.count("no rate is set") == told.count("no tax is set") == 3
    assert told.count("no site is set") == 3


def test_quiet_leaves_out_how_to_read_it(edition: Edition) -> None:
    found = compare(edition, "new", (), CHARGES, WHEN)
    assert "HOW TO READ IT" not in text(found)
    assert "The finish assumes that every part is there." in text(found, quiet=False)
