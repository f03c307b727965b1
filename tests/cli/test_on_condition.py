"""What goes along on condition, as the commands tell it: only where the settings ask for it, in 80 columns."""

import json
from pathlib import Path

import pytest

from tests.cli.running import run

ON_CONDITION = """
[on-condition]
place = "place"
away = ["on-site", "roadside"]
stopped = "600.00"
handling = "1.50"
per_kg = "0.20"
"""
AWAY = ("kit", "actuator-replace", "--vehicle", "DEMO 004", "--fact", "place=on-site", "--fact", "access=in the frame")


@pytest.fixture
def away(workshop: Path, tmp_path: Path) -> Path:
    """A folder with the demo's catalogue and fleet, and with costs of carrying and of a stopped job in its settings."""
    (tmp_path / "kitbuilder.toml").write_text(
        f'catalogue = "{workshop / "catalogue"}"\n[registers.fleet]\nplugin = "fleet-file"\n'
        f'file = "{workshop / "fleet.csv"}"\n{ON_CONDITION}', "utf-8")
    return tmp_path


def test_the_choice_stands_in_the_kit_and_fits_eighty_columns(away: Path) -> None:
    told = run(away, *AWAY)
    section = told.out[told.out.index("GOES ALONG ON CONDITION"):told.out.index("NOTHING NEEDED")]
    assert max(map(len, told.out.splitlines())) <= 80
    for words in ("expected cost", "With nothing along it would be", "No other choice costs less.",
                  "for: Union of the pressure pipe had to be forced", "left out: "):
        assert words in " ".join(section.split())


def test_json_has_decimal_strings_and_the_kit_is_the_same_otherwise(away: Path) -> None:
    answer = json.loads(run(away, *AWAY, "--json").out)
    along = answer.pop("along")
    assert (along["place"], along["currency"], along["proven"], along["stopped"]) == ("on-site", "EUR", True, "600.00")
    assert {type(along[key]) for key in ("cost", "empty", "complete", "bound")} == {str}
    assert float(along["cost"]) < float(along["empty"])
    assert all(float(one["left_out"]) > 0 for one in along["take"])
    file = away / "kitbuilder.toml"
    file.write_text(file.read_text("utf-8").replace(ON_CONDITION, ""), "utf-8")
    assert json.loads(run(away, *AWAY, "--json").out) == answer


def test_in_the_workshop_nothing_goes_along(away: Path) -> None:
    answer = run(away, "kit", "actuator-replace", "--fact", "place=workshop", "--json")
    assert "along" not in json.loads(answer.out)


def test_a_wrong_setting_is_bad_data(away: Path) -> None:
    file = away / "kitbuilder.toml"
    file.write_text(file.read_text("utf-8").replace('"on-site", "roadside"', '"onsite"'), "utf-8")
    told = run(away, *AWAY)
    assert told.code == 3
    assert "Did you mean 'on-site'?" in told.said
