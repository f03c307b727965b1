"""Sites as a settings file describes them, and what is said of one that can't be read."""

import tomllib
from datetime import date

import pytest

from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.site import Days, Hours, Site
from kitbuilder.errors import BadData
from kitbuilder.settings import read_settings

GOOD = """
[sites.marl]
zone = "Europe/London"
holidays = "GB-ENG"
closed = ["2026-12-24", "2026-12-29 to 2026-12-31", 2027-01-04]
open = ["2026-05-04"]

[sites.marl.shifts]
monday = ["06:00 to 14:00", "14:00 to 22:00"]
friday = ["06:00 to 14:00", "22:00 to 06:00"]
saturday = ["00:00 to 24:00"]
sunday = []
breaks = ["09:30 to 09:45", "23:45 to 00:15"]

[sites.quarry]
zone = "Europe/Dublin"
shifts.tuesday = ["22:00 to 00:00"]
"""


def test_sites_are_read_as_written():
    early, late = Hours(360, 840), Hours(840, 1320)
    assert read_sites("kitbuilder.toml", tomllib.loads(GOOD)["sites"]) == {
        "marl": Site(
            "marl", "Europe/London",
            ((early, late), (), (), (), (early, Hours(1320, 1800)), (Hours(0, 1440),), ()),
            breaks=(Hours(570, 585), Hours(1425, 1455)),
            closed=(Days(date(2026, 12, 24), date(2026, 12, 24)), Days(date(2026, 12, 29), date(2026, 12, 31)),
                    Days(date(2027, 1, 4), date(2027, 1, 4))),
            open=(Days(date(2026, 5, 4), date(2026, 5, 4)),),
            country="GB", subdivision="ENG"),
        "quarry": Site("quarry", "Europe/Dublin", ((), (Hours(1320, 1440),), (), (), (), (), ())),
    }


def test_the_settings_hand_their_sites_on(tmp_path):
    file = tmp_path / "kitbuilder.toml"
    file.write_text(GOOD, encoding="utf-8")
    settings = read_settings(file)
    assert list(read_sites(str(file), settings.sites)) == ["marl", "quarry"]
    file.write_text("", encoding="utf-8")
    assert read_sites(str(file), read_settings(file).sites) == {}


def site_with(**changes):
    table = {"zone": "Europe/London", "shifts": {"monday": ["06:00 to 14:00"]}, **changes}
    return {"marl": {key: value for key, value in table.items() if value is not None}}


def shifts_with(**changes):
    return site_with(shifts={"monday": ["06:00 to 14:00"], **changes})


TIMES = 'expected two times, as "06:00 to 14:00".'
DAY_OR_DAYS = 'expected a day, as "2026-12-24", or days, as "2026-12-27 to 2026-12-31".'


@pytest.mark.parametrize(("sites", "told"), [
    ([], "sites: read '[]'; expected tables [sites.NAME]."),
    ({"marl": "Europe/London"}, "sites.marl: read 'Europe/London'; expected a table [sites.marl]."),
    ({" marl": site_with()["marl"]},
     "sites. marl: read ' marl'; expected a name that neither begins nor ends with a space."),
    (site_with(zone=None), "sites.marl.zone: expected the name of a time zone, as \"Europe/London\"."),
    (site_with(zone=1), "sites.marl.zone: read '1'; expected the name of a time zone, as \"Europe/London\"."),
    (site_with(zone=True), "sites.marl.zone: read 'true'; expected the name of a time zone, as \"Europe/London\"."),
    (site_with(zone="Europe/Londn"),
     "sites.marl.zone: read 'Europe/Londn'; expected a known name; did you mean 'Europe/London'?"),
    (site_with(zone=None, zones="Europe/London"),
     "sites.marl.zones: read 'zones'; expected a key: a known name; did you mean 'zone'?"),
    (site_with(holidays="GB"), "sites.marl.holidays: read 'GB'; expected a part of GB, as its days differ: "
                               "one of GB-ENG, GB-NIR, GB-SCT, GB-WLS."),
    (site_with(holidays=["GB-ENG"]),
     "sites.marl.holidays: read '[GB-ENG]'; expected a country and its part, such as \"GB-ENG\"."),
    (site_with(shifts=None), "sites.marl.shifts: expected a table with the shifts of each weekday."),
    (site_with(shifts=[]), "sites.marl.shifts: read '[]'; expected a table with the shifts of each weekday."),
    (site_with(shifts={}),
     'sites.marl.shifts: expected a shift on at least one weekday, as monday = ["06:00 to 14:00"].'),
    (site_with(shifts={"monday": []}),
     'sites.marl.shifts: expected a shift on at least one weekday, as monday = ["06:00 to 14:00"].'),
    (site_with(breaks=["09:30 to 09:45"]), "sites.marl.breaks: expected it under [sites.marl.shifts]."),
    (site_with(shifts=None, monday=["06:00 to 14:00"]), "sites.marl.monday: expected it under [sites.marl.shifts]."),
    (shifts_with(thurday=["06:00 to 14:00"]), "sites.marl.shifts.thurday: read 'thurday'; "
                                              "expected a weekday, or breaks: a known name; did you mean 'thursday'?"),
    (shifts_with(monday="06:00 to 14:00"),
     "sites.marl.shifts.monday: read '06:00 to 14:00'; expected a list of shifts, in square brackets."),
    (shifts_with(monday=["06:00-14:00"]), f"sites.marl.shifts.monday: read '06:00-14:00'; {TIMES}"),
    (shifts_with(monday=["6:00 to 14:00"]), f"sites.marl.shifts.monday: read '6:00 to 14:00'; {TIMES}"),
    (shifts_with(monday=["06:00 to 24:30"]), f"sites.marl.shifts.monday: read '06:00 to 24:30'; {TIMES}"),
    (shifts_with(monday=["24:00 to 06:00"]), f"sites.marl.shifts.monday: read '24:00 to 06:00'; {TIMES}"),
    (shifts_with(monday=["06:60 to 14:00"]), f"sites.marl.shifts.monday: read '06:60 to 14:00'; {TIMES}"),
    (shifts_with(monday=[6]), f"sites.marl.shifts.monday: read '6'; {TIMES}"),
    (shifts_with(monday=["06:00 to 06:00"]), "sites.marl.shifts.monday: read '06:00 to 06:00'; "
                                             'expected an end other than the start; a whole day is "00:00 to 24:00".'),
    (shifts_with(breaks=["14:00 to 14:15"]),
     "sites.marl.shifts.breaks: read '14:00 to 14:15'; expected a time within a shift."),
    (shifts_with(breaks=["23:45 to 00:15"]),
     "sites.marl.shifts.breaks: read '23:45 to 00:15'; expected a time within a shift."),
    (site_with(closed="2026-12-24"),
     "sites.marl.closed: read '2026-12-24'; expected a list of days, in square brackets."),
    (site_with(closed=["24.12.2026"]), f"sites.marl.closed: read '24.12.2026'; {DAY_OR_DAYS}"),
    (site_with(closed=["20261224"]), f"sites.marl.closed: read '20261224'; {DAY_OR_DAYS}"),
    (site_with(closed=tomllib.loads("day = [2026-12-24T12:00:00]")["day"]),
     f"sites.marl.closed: read '2026-12-24 12:00:00'; {DAY_OR_DAYS}"),
    (site_with(closed=["2026-02-29"]), "sites.marl.closed: read '2026-02-29'; expected a day that exists."),
    (site_with(closed=["2026-12-31 to 2026-12-29"]),
     "sites.marl.closed: read '2026-12-31 to 2026-12-29'; expected the earlier day first."),
    (site_with(open=["2026-05-05"]), "sites.marl.open: read '2026-05-05'; expected a day whose weekday has a shift."),
    (site_with(open=["2026-05-04"], closed=["2026-05-01 to 2026-05-08"]),
     "sites.marl.open: read '2026-05-04'; expected no day that is also under 'closed'."),
])
def test_a_fault_is_told_with_its_key_what_was_read_and_what_was_expected(sites, told):
    with pytest.raises(BadData) as caught:
        read_sites("kitbuilder.toml", sites)
    assert str(caught.value) == f"kitbuilder.toml, {told}"


@pytest.mark.parametrize("shifts", [
    {"monday": ["06:00 to 14:00"], "breaks": ["13:59 to 14:30"]},
    {"monday": ["22:00 to 06:00"], "breaks": ["02:00 to 02:30"]},
    {"monday": ["00:00 to 06:00"], "breaks": ["23:45 to 00:15"]},
    {"monday": ["22:00 to 06:00"], "breaks": ["23:45 to 00:15"]},
])
def test_a_break_that_falls_partly_in_a_shift_is_taken(shifts):
    assert len(read_sites("kitbuilder.toml", site_with(shifts=shifts))["marl"].breaks) == 1


def test_a_stretch_of_open_days_needs_a_shift_on_one_of_them_only():
    found = read_sites("kitbuilder.toml", site_with(open=["2026-05-02 to 2026-05-04"]))["marl"]
    assert found.open == (Days(date(2026, 5, 2), date(2026, 5, 4)),)


def test_all_faults_of_all_sites_are_told_together():
    with pytest.raises(BadData) as caught:
        read_sites("kitbuilder.toml", {
            "marl": {"zone": "Europe/Londn", "closd": [], "shifts": {"munday": ["06:00 to 14:00"], "friday": ["6-14"]},
                     "closed": ["2026-02-30", "2026-12-24"], "open": ["2026-05-04"]},
            "quarry": {"zone": "UTC"}})
    assert str(caught.value).splitlines() == [
        "kitbuilder.toml has 6 faults in its sites.",
        "  kitbuilder.toml, sites.marl.closd: read 'closd'; expected a key: a known name; did you mean 'closed'?",
        "  kitbuilder.toml, sites.marl.zone: read 'Europe/Londn'; expected a known name; did you mean 'Europe/London'?",
        "  kitbuilder.toml, sites.marl.closed: read '2026-02-30'; expected a day that exists",
        "  kitbuilder.toml, sites.marl.shifts.munday: read 'munday'; "
        "expected a weekday, or breaks: a known name; did you mean 'sunday'?",
        f"  kitbuilder.toml, sites.marl.shifts.friday: read '6-14'; {TIMES[:-1]}",
        "  kitbuilder.toml, sites.quarry.shifts: expected a table with the shifts of each weekday",
    ]
