"""The judge is judged: cells, weights and statements, worked out by hand in the comments."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from tests.brute import CellError, Contradiction, open_worlds, worlds
from tests.brute_worlds import cell_values
from tests.specs import (
    Fact,
    Spec,
    Statement,
    Table,
)

EMISSIONS = Fact("emissions", values=("III", "IV", "V", "VI"), groups={"old": ("III", "IV")})
AXLES = Fact("axles", first=2, last=5)
BUILT = Fact("built", first=date(2012, 2, 28), last=date(2012, 3, 2))


@pytest.mark.parametrize(
    ("fact", "cell", "values"),
    [
        (EMISSIONS, "", "III IV V VI"),
        (EMISSIONS, " old or VI ", "III IV VI"),
        (EMISSIONS, "not old or VI", "V"),
        (AXLES, "from 4", "4 5"),
        (AXLES, "up to 2 or 5", "2 5"),
        (AXLES, "not 3 to 4", "2 5"),
        (AXLES, "not 2 to 5", ""),
        (BUILT, "2012-02-29 to 2012-03-01", "2012-02-29 2012-03-01"),
    ],
)
def test_a_cell_matches_the_values_it_names(fact: Fact, cell: str, values: str) -> None:
    assert cell_values(fact, cell) == set(values.split())


@pytest.mark.parametrize("cell", ["from 3 to 5", "4 to 3", "9", "not", "3 or", "from 1"])
def test_a_cell_that_is_no_condition_is_refused(cell: str) -> None:
    with pytest.raises(CellError):
        cell_values(AXLES, cell)


def test_shares_are_spread_over_the_joined_worlds() -> None:
    # Join over emissions x axles: "a" allows old x any and VI x 2; "b" forbids axles 5.
    # old: III, IV x 2, 3, 4 = 6 worlds share 3; VI x 2 = 1 world shares 1. So 3/4 / 6 = 1/8 each, and 1/4.
    # `place` is in no table: each of its two values halves that.
    place = Fact("place", "job", values=("road", "workshop"))
    spec = Spec(
        (EMISSIONS, place, AXLES),
        (),
        (),
        tables=(
            Table(
                "combinations/a.csv",
                ("emissions", "axles"),
                ({"emissions": "old"}, {"emissions": "VI", "axles": "2"}),
                ("3", "1"),
            ),
            Table("combinations/b.csv", ("axles",), ({"axles": "not 5"},)),
        ),
    )
    found = worlds(spec)
    assert len(found) == 14
    assert found[0] == ({"emissions": "III", "place": "road", "axles": "2"}, Fraction(1, 16))
    assert found[-1] == ({"emissions": "VI", "place": "workshop", "axles": "2"}, Fraction(1, 8))


def test_statements_are_merged_from_the_highest_rank_down() -> None:
    # Seen: VI. Told III disagrees and is set aside, told axles stands. Of the register's two statements
    # that on emissions comes first (facts.toml order) and stands; "up to 2" disagrees with told "from 4".
    spec = Spec((EMISSIONS, AXLES), (), ())
    seen = Statement("emissions", "VI", "seen")
    told, wrong = Statement("axles", "from 4"), Statement("emissions", "III")
    late, early = Statement("axles", "up to 2", "register"), Statement("emissions", "not V", "register")
    found = open_worlds(spec, [late, told, early, wrong, seen])
    assert [world for world, _ in found.worlds] == [
        {"emissions": "VI", "axles": "4"},
        {"emissions": "VI", "axles": "5"},
    ]
    assert [weight for _, weight in found.worlds] == [Fraction(1, 2)] * 2
    assert found.stands == [seen, told, early]
    assert found.aside == [wrong, late]


def test_a_contradiction_names_the_fewest_statements_and_tables() -> None:
    # III has two axles by b.csv, VI has five by a.csv. "III" and "from 4" can't be true together unless
    # b.csv is left out; "not 2" agrees with "from 4" but not with "III": another
    # pair, later in order.
    spec = Spec(
        (EMISSIONS, AXLES),
        (),
        (),
        tables=(
            Table("combinations/b.csv", ("emissions", "axles"), ({"emissions": "not III"}, {"axles": "2"})),
            Table("combinations/a.csv", ("emissions", "axles"), ({"emissions": "not VI"}, {"axles": "5"})),
        ),
    )
    three, four, not_two = (
        Statement("emissions", "III"),
        Statement("axles", "from 4"),
        Statement("axles", "not 2"),
    )
    with pytest.raises(Contradiction) as caught:
        open_worlds(spec, [four, not_two, three])
    assert caught.value.statements == [three, four]
    assert caught.value.choices == [[three, four], [three, not_two]]
    assert caught.value.tables == ["combinations/b.csv"]
    with pytest.raises(Contradiction) as caught:
        open_worlds(spec, [three, Statement("axles", "not 2 to 5")])
    assert caught.value.statements == [Statement("axles", "not 2 to 5")]
    assert caught.value.tables == []
