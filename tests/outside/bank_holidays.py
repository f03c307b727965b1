"""Bank holidays and clock changes in Great Britain.

Sources:

- gov.uk, "UK bank holidays" (page and data), divisions England and Wales, and Scotland: seen. Where a holiday falls on
  a weekend, the list has its substitute day only.
- nidirect.gov.uk, "Remember to put clocks back this weekend": seen. British Summer Time starts on the last Sunday in
  March, when 1.00 am Greenwich Mean Time moves to 2.00 am, and ends on the last Sunday in October, when 2.00 am British
  Summer Time moves to 1.00 am. The dates of 2026 follow from it.
"""

from datetime import date

ENGLAND_AND_WALES: dict[int, tuple[date, ...]] = {
    2026: (date(2026, 1, 1), date(2026, 4, 3), date(2026, 4, 6), date(2026, 5, 4), date(2026, 5, 25),
           date(2026, 8, 31), date(2026, 12, 25), date(2026, 12, 28)),
    2027: (date(2027, 1, 1), date(2027, 3, 26), date(2027, 3, 29), date(2027, 5, 3), date(2027, 5, 31),
           date(2027, 8, 30), date(2027, 12, 27), date(2027, 12, 28)),
}
SCOTLAND: dict[int, tuple[date, ...]] = {
    2026: (date(2026, 1, 1), date(2026, 1, 2), date(2026, 4, 3), date(2026, 5, 4), date(2026, 5, 25),
           date(2026, 6, 15), date(2026, 8, 3), date(2026, 11, 30), date(2026, 12, 25), date(2026, 12, 28)),
    2027: (date(2027, 1, 1), date(2027, 1, 4), date(2027, 3, 26), date(2027, 5, 3), date(2027, 5, 31),
           date(2027, 8, 2), date(2027, 11, 30), date(2027, 12, 27), date(2027, 12, 28)),
}

#: The days themselves for which a list has a substitute: from memory.
ON_A_WEEKEND: dict[str, dict[int, tuple[date, ...]]] = {
    "ENG": {2026: (date(2026, 12, 26),), 2027: (date(2027, 12, 25), date(2027, 12, 26))},
    "SCT": {2026: (date(2026, 12, 26),), 2027: (date(2027, 1, 2), date(2027, 12, 25), date(2027, 12, 26))},
}

FORWARD_2026, BACK_2026 = date(2026, 3, 29), date(2026, 10, 25)

#: US federal holidays: 1 January 2022, a Saturday, was kept on the Friday before, in the year before. From memory.
US_NEW_YEAR_2022_KEPT = date(2021, 12, 31)
