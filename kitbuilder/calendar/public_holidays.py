"""Public holidays of a country or a part of it, from the library `holidays`.

Days that fall on a weekend are in it beside the weekday kept instead: Boxing Day 2026 is a Saturday, and both it and
Monday 28 December are holidays. Published lists often name the weekday alone.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from functools import lru_cache
from types import MappingProxyType
from typing import Final

from kitbuilder.errors import BadData, nearest

#: Countries every place of which lies in a part that keeps days of its own. Without the part some days would be
#: missing without a word: Great Britain has neither Easter Monday nor the August holiday in common.
PARTS_ONLY: Final = ("AU", "CA", "CH", "DE", "ES", "GB")

_REGION: Final = re.compile(r"([A-Z]{2})(?:-(.+))?")


@lru_cache(maxsize=256)
def public_holidays(country: str, subdivision: str, year: int) -> Mapping[date, str]:
    """The names of the public holidays of a year by their days; `subdivision` may be empty.

    Raises BadData for a region that isn't known, and for a year of which the library knows nothing: it would else
    pass for one without holidays.
    """
    import holidays

    region = f"{country}-{subdivision}" if subdivision else country
    try:
        found = holidays.country_holidays(country, subdiv=subdivision or None, years=year, expand=False)
    except NotImplementedError:
        raise BadData(f"There are no public holidays of {region!r}; expected {expected_region(region)}.") from None
    if not found.start_year <= year <= found.end_year:
        raise BadData(
            f"The public holidays of {region} are known from {found.start_year} to {found.end_year}, not for {year}. "
            "Take the site's 'holidays' out and name the days under 'closed'.")
    return MappingProxyType(dict(sorted(found.items())))


def read_region(text: str) -> tuple[str, str]:
    """Country and subdivision (empty where none is named) of a text such as GB-ENG or IE.

    Raises ValueError, whose text says what was expected.
    """
    import holidays

    match = _REGION.fullmatch(text)
    if match is None:
        raise ValueError(expected_region(text))
    country, subdivision = match[1], match[2] or ""
    try:
        known = holidays.country_holidays(country, expand=False)
    except NotImplementedError:
        raise ValueError(expected_region(text)) from None
    # the library also takes other names of a country and its parts; one way to write it is enough
    if known.country != country or (subdivision and subdivision not in known.subdivisions):
        raise ValueError(expected_region(text))
    if not subdivision and country in PARTS_ONLY:
        raise ValueError(f"a part of {country}, as its days differ: one of {_listed(country, known.subdivisions)}")
    return country, subdivision


def expected_region(text: str) -> str:
    """What was expected instead of a text that names no region: the nearest ones."""
    import holidays

    countries = holidays.list_supported_countries(include_aliases=False)
    country, _, subdivision = text.partition("-")
    try:
        country = holidays.country_holidays(country.upper(), expand=False).country  # knows UK and GBR as GB
    except NotImplementedError:
        return "a country as two capitals, and its part where it has any, such as GB-ENG or IE"
    parts = countries[country]
    if not parts:
        return f"{country!r}: no part of it keeps days of its own"
    if not subdivision:
        return f"a country and its part: one of {_listed(country, parts)}"
    close = nearest(subdivision.upper(), parts)
    return f"a known name; did you mean '{country}-{close}'?" if close else f"one of {_listed(country, parts)}"


def _listed(country: str, parts: Sequence[str]) -> str:
    return ", ".join(f"{country}-{part}" for part in parts)
