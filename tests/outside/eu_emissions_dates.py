"""EU emissions generations of heavy engines: when each became binding.

Sources, and how sure:

- Euro III: Directive 1999/96/EC (OJ L 44, 16.2.2000, p. 1). Seen: that Euro III is row A of the tables in
  section 6.2.1 of Annex I (S.R. 2006 No. 32, Northern Ireland, regulation 2(8)), and October 2000 for new
  types (DieselNet, "EU: Heavy-Duty Truck and Bus Engines", table 1, and news of 17 November 1999). From
  memory: the day (the 1st), and 1 October 2001 for all new registrations.
- Euro IV and V: Directive 2005/55/EC, rows B1 and B2. Seen: all four dates in the EU's "Summary of
  Legislation: Emissions from diesel and gas engines (up until 2013)"; 1/10/2006 and 1/10/2009 also in the
  Irish "Euro IV, Euro V and VI Emissions Regulations for Heavy Duty Vehicle, Information Note". Not seen:
  Article 2 itself.
- Euro VI: Regulation (EC) 595/2009, Article 8. Seen: the Irish note ("Vehicles equipped with Euro V
  engines must be registered by 30th December 2013 and vehicles registered after this date must be Euro VI
  compliant"), and, for 31 December 2012, a legal digest ("became effective on 31 December 2012"); both
  dates in a public collection of emission rules that cites CELEX 32009R0595. Not seen: Article 8 itself.
- EEV: Directive 2005/55/EC, Article 1(c). Seen: the definition in the proposal COM(2003) 522, Article
  1(c): "a vehicle propelled by an engine which complies with the permissive emission limit values set out
  in row C of the tables in Section 6.2.1 of Annex I"; that it is voluntary, on DieselNet's page. Not
  seen: the adopted text.
- Steps of Euro VI: seen on the page "Heavy-duty Vehicles" of the Association for Emissions Control by
  Catalyst (September 2020). For step E other sources have 1 January 2021 and 1 January 2022 (from
  memory): use with care.

Loose wording seen elsewhere: Euro VI "since 01 January 2013" and "from 1 January 2014 only".
"""

from datetime import date
from typing import NamedTuple


class Generation(NamedTuple):
    name: str
    new_types: date
    all_new: date  # the first day on which an ordinary new vehicle had to meet it to be registered
    act: str
    sure: str


GENERATIONS: tuple[Generation, ...] = (
    Generation(
        "Euro III", date(2000, 10, 1), date(2001, 10, 1), "Directive 1999/96/EC", "from memory"
    ),
    Generation(
        "Euro IV", date(2005, 10, 1), date(2006, 10, 1), "Directive 2005/55/EC, row B1", "seen: summary"
    ),
    Generation(
        "Euro V", date(2008, 10, 1), date(2009, 10, 1), "Directive 2005/55/EC, row B2", "seen: summary"
    ),
    Generation(
        "Euro VI", date(2012, 12, 31), date(2013, 12, 31), "Regulation (EC) 595/2009, Art. 8", "seen: summary"
    ),
)

# Voluntary: limits of their own (row C) beside the ladder, without a date from which they bind.
EEV_VOLUNTARY: str = "EEV"

# The lowest generation with which an ordinary new vehicle could be registered on that day, on both sides of
# each date.
LOWEST_AT_REGISTRATION: tuple[tuple[date, str], ...] = (
    (date(2001, 10, 1), "Euro III"),
    (date(2006, 9, 30), "Euro III"),
    (date(2006, 10, 1), "Euro IV"),
    (date(2009, 9, 30), "Euro IV"),
    (date(2009, 10, 1), "Euro V"),
    (date(2013, 12, 30), "Euro V"),
    (date(2013, 12, 31), "Euro VI"),
)

# Why a date of registration narrows and does not decide. Below the ladder stand end-of-series vehicles: the
# last day one could be registered, and its generation. Seen: the Irish note (an exemption "can be applied
# for"), and a British trade paper of 24 July 2012: Euro V vehicles built before 30 September 2013 could be
# registered there until the end of 2014. Above the ladder stand early adopters and EEV (from memory).
END_OF_SERIES: tuple[tuple[date, str], ...] = ((date(2014, 12, 31), "Euro V"),)

EURO_VI_STEPS: tuple[Generation, ...] = (
    Generation(
        "step D", date(2018, 9, 1), date(2019, 9, 1), "Regulation (EU) 582/2011 as amended", "seen: summary"
    ),
    Generation(
        "step E", date(2020, 9, 1), date(2021, 9, 1), "Regulation (EU) 582/2011 as amended", "sources differ"
    ),
)
