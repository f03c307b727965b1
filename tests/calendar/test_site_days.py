"""Which days a site opens, and why it doesn't on others."""

import subprocess
import sys
from datetime import date

import pytest

from kitbuilder.calendar.public_holidays import PARTS_ONLY, public_holidays, read_region
from kitbuilder.calendar.site import Days, Hours, Site, is_open, why_closed
from kitbuilder.errors import BadData

WEEK = ((Hours(360, 840),),) * 5 + ((), ())
#: Good Friday 2026; the days around it are an ordinary Thursday and Saturday.
GOOD_FRIDAY = date(2026, 4, 3)


def site(**keys):
    return Site("marl", "Europe/London", keys.pop("shifts", WEEK), **keys)


@pytest.mark.parametrize(("one", "day", "why"), [
    (site(), date(2026, 4, 2), None),
    (site(), GOOD_FRIDAY, None),
    (site(), date(2026, 4, 4), "no shift on a Saturday"),
    (site(country="GB", subdivision="ENG"), GOOD_FRIDAY, "public holiday: Good Friday"),
    (site(country="GB", subdivision="ENG", open=(Days(GOOD_FRIDAY, GOOD_FRIDAY),)), GOOD_FRIDAY, None),
    (site(country="GB", subdivision="ENG", open=(Days(GOOD_FRIDAY, GOOD_FRIDAY),)), date(2026, 4, 6),
     "public holiday: Easter Monday"),
    (site(country="GB", subdivision="SCT"), date(2026, 4, 6), None),
    (site(closed=(Days(date(2026, 12, 28), date(2026, 12, 31)),)), date(2026, 12, 25), None),
    (site(closed=(Days(date(2026, 12, 28), date(2026, 12, 31)),)), date(2026, 12, 28), "closing day"),
    (site(closed=(Days(date(2026, 12, 28), date(2026, 12, 31)),)), date(2026, 12, 31), "closing day"),
    (site(closed=(Days(date(2026, 12, 28), date(2026, 12, 31)),)), date(2027, 1, 1), None),
    (site(country="GB", subdivision="ENG", closed=(Days(GOOD_FRIDAY, GOOD_FRIDAY),)), GOOD_FRIDAY, "closing day"),
])
def test_a_closed_day_has_its_reason(one, day, why):
    assert why_closed(one, day) == why
    assert is_open(one, day) == (why is None)


def test_a_holiday_on_a_weekend_closes_a_weekend_shift_too():
    """Boxing Day 2026 is a Saturday; Monday is kept in its place, and both are in the library."""
    every_day = site(shifts=((Hours(360, 840),),) * 7, country="GB", subdivision="ENG")
    assert why_closed(every_day, date(2026, 12, 26)) == "public holiday: Boxing Day"
    assert why_closed(every_day, date(2026, 12, 27)) is None
    assert why_closed(every_day, date(2026, 12, 28)) == "public holiday: Boxing Day (observed)"


def test_a_year_outside_what_is_known_is_an_error_and_not_a_year_without_holidays():
    import holidays

    last = holidays.country_holidays("GB").end_year
    assert public_holidays("GB", "ENG", last)
    with pytest.raises(BadData, match=rf"GB-ENG are known from \d+ to {last}, not for {last + 1}\. "):
        is_open(site(shifts=((Hours(360, 840),),) * 7, country="GB", subdivision="ENG"), date(last + 1, 6, 15))


def test_an_unknown_region_is_an_error():
    with pytest.raises(BadData, match="There are no public holidays of 'GB-XYZ'"):
        public_holidays("GB", "XYZ", 2026)


@pytest.mark.parametrize(("text", "region"), [
    ("GB-ENG", ("GB", "ENG")), ("IE", ("IE", "")), ("DE-BY", ("DE", "BY")), ("FR", ("FR", "")), ("FR-57", ("FR", "57")),
])
def test_a_region_is_a_country_and_its_part(text, region):
    assert read_region(text) == region


@pytest.mark.parametrize(("text", "expected"), [
    ("GB", "a part of GB, as its days differ: one of GB-ENG, GB-NIR, GB-SCT, GB-WLS"),
    ("UK", "a country and its part: one of GB-ENG, GB-NIR, GB-SCT, GB-WLS"),
    ("gb-eng", "a known name; did you mean 'GB-ENG'?"),
    ("UK-ENG", "a known name; did you mean 'GB-ENG'?"),
    ("GB-England", "a known name; did you mean 'GB-ENG'?"),
    ("GB-ENG ", "a known name; did you mean 'GB-ENG'?"),
    ("GB-77", "one of GB-ENG, GB-NIR, GB-SCT, GB-WLS"),
    ("IE-D", "'IE': no part of it keeps days of its own"),
    ("XX", "a country as two capitals, and its part where it has any, such as GB-ENG or IE"),
    ("", "a country as two capitals, and its part where it has any, such as GB-ENG or IE"),
])
def test_what_names_no_region_is_refused_with_what_was_expected(text, expected):
    with pytest.raises(ValueError) as caught:
        read_region(text)
    assert str(caught.value) == expected


@pytest.mark.parametrize("country", PARTS_ONLY)
def test_a_country_that_needs_its_part_named_has_more_holidays_in_every_part(country):
    import holidays

    years = range(2026, 2031)
    common = set(holidays.country_holidays(country, years=years))
    parts = holidays.list_supported_countries(include_aliases=False)[country]
    assert parts
    for part in parts:
        assert common != set(holidays.country_holidays(country, subdiv=part, years=years)), part


def test_the_library_of_holidays_is_loaded_only_when_it_is_asked():
    program = """
import sys
from datetime import date, datetime, UTC
from kitbuilder.calendar import reading, working
sites = reading.read_sites("a", {
    "plain": {"zone": "Europe/London", "shifts": {"monday": ["06:00 to 14:00"]}}})
working.add_working(sites["plain"], datetime(2026, 7, 14, tzinfo=UTC), 1000)
print("holidays" in sys.modules)
reading.read_sites("a", {
    "keeps": {"zone": "Europe/London", "holidays": "GB-ENG", "shifts": {"monday": ["06:00 to 14:00"]}}})
print("holidays" in sys.modules)
"""
    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert ran.stdout.split() == ["False", "True"]
