"""A small catalogue with three ways to one goal, whose prices can be added up by hand, and answers of stock sources."""

from datetime import UTC, datetime
from pathlib import Path

from kitbuilder.calendar.site import Hours, Site
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.offer import Arrival, Offer, Price, Quote, Slot
from kitbuilder.stock.quoting import Answer
from kitbuilder.workshop.asked import When
from kitbuilder.workshop.charges import Charges

FILES = {
    "catalogue.toml": 'name = "Invented"\nformat = 1\ncurrency = "EUR"\n',
    "facts.toml": """\
[facts.gearbox]
of = "vehicle"
values = ["light", "heavy"]

[facts.place]
of = "job"
values = ["workshop", "yard"]
""",
    "combinations/gearboxes.csv": "gearbox,share\nlight,3\nheavy,1\n",
    "roles.toml": """\
[roles.unit]
title = "Unit"
sort = "exchange unit"
takes = "one"

[roles.seals]
title = "Seal set"
sort = "single-use"
takes = "one"

[roles.motor]
title = "Pump motor"
sort = "part"
takes = "at most one"

[roles.oil]
title = "Oil of the unit"
sort = "consumable"
takes = "one"
fill = "drain and refill"

[roles.shims]
title = "Shims"
sort = "part"
takes = "any"
select = 1

[roles.filter]
title = "Filter"
sort = "part"
takes = "one"
advised = true

[roles.clip]
title = "Clip"
sort = "part"
takes = "one"

[roles.jack]
title = "Jack"
sort = "special tool"
takes = "one"

[findings.beyond-repair]
title = "Unit beyond repair"
chance = 0.2
covers = ["motor-worn"]
turns_into = "exchange"

[findings.motor-worn]
title = "Pump motor worn"
chance = 0.5
""",
    "requirements.toml": """\
[requirements.unit-oil]
title = "Oil of the unit"
kind = "gear oil"
grade = "75W-80"
""",
    "jobs/unit.toml": """\
[jobs.repair]
title = "Repair the unit"
goal = "a working unit"
stages = [{ name = "open", minutes = 60 }, { name = "mend", minutes = 90 }, { name = "close", minutes = 30 }]
roles = { jack = "open", seals = "mend", motor = "mend", unit = "mend", oil = "close", filter = "close" }
includes = [{ job = "lift", stages = { "lift" = "open" }, when = { place = "yard" } }]

[jobs.exchange]
title = "Exchange the unit"
goal = "a working unit"
stages = [{ name = "open", minutes = 60 }, { name = "change", minutes = 45 }, { name = "close", minutes = 30 }]
roles = { jack = "open", unit = "change", shims = "change", oil = "close", filter = "close" }
includes = [{ job = "lift", stages = { "lift" = "open" }, when = { place = "yard" } }]

[jobs.new]
title = "Fit a new unit"
goal = "a working unit"
stages = [{ name = "open", minutes = 60 }, { name = "change", minutes = 45 }, { name = "close", minutes = 30 }]
roles = { jack = "open", unit = "change", clip = "change", oil = "close" }

[jobs.lift]
title = "Lift it"
stages = [{ name = "lift", minutes = 20 }]
roles = { clip = "lift" }
""",
    "items.csv": """\
number,name,unit,rank,kind,grade
U-1,"Unit, light, exchange",each,,,
U-2,"Unit, heavy, exchange",each,,,
U-9,"Unit, new",each,,,
S-1,Seal set,set,,,
M-1,Pump motor,each,,,
O-1,Dear oil,L,1,gear oil,75W-80
O-2,Cheap oil,L,2,gear oil,75W-80
H-1,Thin shim,each,,,
H-2,Thick shim,each,,,
F-1,Filter,each,,,
C-1,Clip,each,,,
J-1,Jack,each,,,
""",
    "fits/unit.csv": """\
job,role,item,requirement,amount,unit,finding,least,gearbox
exchange,unit,U-1,,1,each,,,light
exchange,unit,U-2,,1,each,,,heavy
repair,unit,U-1,,1,each,beyond-repair,,light
repair,unit,U-2,,1,each,beyond-repair,,heavy
new,unit,U-9,,1,each,,,
,seals,S-1,,1,set,,,
,motor,M-1,,1,each,motor-worn,,light
,oil,,unit-oil,1500,mL,,1200,
,shims,H-1,,1,each,,,
,shims,H-2,,1,each,,,
,filter,F-1,,1,each,,,
,clip,C-1,,3,each,,,
,jack,J-1,,1,each,,,
""",
    # the dear oil has no price, so the cheap one's counts; nor has the new unit
    "selling.csv": """\
item,price,per
U-1,1000.00,
U-2,1400.00,
S-1,80.00,
M-1,300.00,
O-2,12.33,
H-1,2.00,
H-2,3.50,
F-1,25.00,
C-1,10.00,100
""",
    "exchange.csv": """\
item,deposit,days,state
U-1,250.00,30,drained and boxed
U-2,400.00,,
""",
}
CHARGES = Charges(9000, "20")
#: Monday to Friday, 08:00 to 16:00, without a break.
SITE = Site("yard", "Europe/London", ((Hours(480, 960),),) * 5 + ((), ()))
#: A Tuesday in winter, when the site's clock shows UTC.
START = datetime(2026, 1, 13, 8, 0, tzinfo=UTC)
WHEN = When(SITE, START)


def edition_in(folder: Path, *changes: tuple[str, str, str]) -> Edition:
    """The catalogue, with some texts in it replaced: file, what stands there once, what shall stand there."""
    files = dict(FILES)
    for file, old, new in changes:
        assert files[file].count(old) == 1, f"{old!r} isn't once in {file}"
        files[file] = files[file].replace(old, new)
    for path, text in files.items():
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_text(text, "utf-8")
    return read_edition(folder)


def at(hour: int, minute: int = 0, day: int = 13) -> datetime:
    """A moment of January 2026."""
    return datetime(2026, 1, day, hour, minute, tzinfo=UTC)


def answer(name: str, offers: dict[str, tuple[str, int | None, int | None]], slots: dict[str, datetime],
           cut_off: datetime | None = None) -> Answer:
    """What a source answers: of an item the slot, how much (in units), and its price for one in minor units."""
    units = {"S-1": "set", "O-1": "L", "O-2": "L"}
    return Answer(name, (), "fresh", Quote(
        as_of=START, currency="EUR",
        slots=tuple(Slot(name=one, ready=ready, cut_off=cut_off) for one, ready in slots.items()),
        offers=tuple(
            Offer(item=item, unit=units.get(item, "each"), pool=None if many is None else many * 1000, arrivals=(
                Arrival(slot=slot, sureness="promised",
                        prices=() if minor is None else (Price(minor=minor, per=1000),)),))
            for item, (slot, many, minor) in offers.items())), 0, None)


def shelf(*items: str, many: int = 10, now: datetime = START) -> Answer:
    """The own shelf, with so many of each of some items."""
    return answer("shelf", dict.fromkeys(items, ("now", many, None)), {"now": now})
