"""`[on-condition]` of the settings: what it may say, and what is said where it says something else."""

from pathlib import Path

import pytest

from kitbuilder.errors import BadData
from kitbuilder.kit.conditions import Conditions, read_conditions
from kitbuilder.settings import FILE, read_settings
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.worlds import Space

PLACES = Fact("place", "job", "listed", 2, ("workshop", "on-site"), 0, {}, "Where?", "Ask.")
COLOUR = Fact("colour", "vehicle", "listed", 2, ("red", "blue"), 0, {}, "Which?", "Look.")
FULL = """\
[on-condition]
place = "place"
away = ["on-site"]
stopped = "600.00"
handling = "1.50"
per_kg = "0.20"
most_weight = "400"
most_value = "3000.00"
hour = "85.00"
reserve = "0.50"
fetch = 15
"""


def read(folder: Path, text: str) -> Conditions | None:
    (folder / FILE).write_text(text, "utf-8")
    return read_conditions(read_settings(folder / FILE), Space((PLACES, COLOUR), ()), "EUR")


def test_all_of_it(tmp_path: Path) -> None:
    assert read(tmp_path, FULL) == Conditions(
        "place", ("on-site",), 60000, 150, 20, 400_000, 300_000, 8500, 50, 15)


def test_the_least_of_it(tmp_path: Path) -> None:
    found = read(tmp_path, '[on-condition]\nplace = "place"\naway = ["on-site"]\nstopped = "600"\n')
    assert found == Conditions("place", ("on-site",), 60000)
    assert (found.handling, found.per_kg, found.most_weight, found.most_value, found.hour) == (0, 0, None, None, None)


def test_none_of_it(tmp_path: Path) -> None:
    assert read(tmp_path, "") is None


@pytest.mark.parametrize(("old", "new", "said"), [
    ('place = "place"', 'place = "plaice"', "place = 'plaice': there is no such job fact. Did you mean 'place'?"),
    ('place = "place"', 'place = "colour"', "there is no such job fact"),
    ('away = ["on-site"]', 'away = ["onsite"]', "away names 'onsite', no value of place. Did you mean 'on-site'?"),
    ('away = ["on-site"]', 'away = "on-site"', "expected a list of values of place"),
    ('stopped = "600.00"', "", "lacks stopped"),
    ('stopped = "600.00"', "stopped = 600.0", 'stopped = 600.0; expected a decimal as a text, such as "1.50"'),
    ('stopped = "600.00"', 'stopped = "600,00"', "expected a decimal point: 600.00"),
    ('per_kg = "0.20"', 'per_kg = "0.201"', "at most 2 decimal places"),
    ('most_weight = "400"', 'most_weight = "0"', "most_weight = '0'; expected a decimal more than zero"),
    ("fetch = 15", 'fetch = "15"', "fetch = '15'; expected whole minutes"),
    ('hour = "85.00"', 'huor = "85.00"', "has no key 'huor'. Did you mean 'hour'?"),
    ("[on-condition]", "[[on-condition]]", "expected a table [on-condition]"),
])
def test_what_is_wrong_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(BadData) as wrong:
        read(tmp_path, FULL.replace(old, new))
    assert said in str(wrong.value)
    assert str(tmp_path / FILE) in str(wrong.value)
