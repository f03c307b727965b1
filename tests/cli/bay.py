"""A small workshop for the commands of the counter and the bay: its catalogue, shelf, supplier, standing clock."""

import os
import subprocess
from pathlib import Path

from tests.cli.running import KITBUILDER, Ran, run

SETTINGS = """\
catalogue = "catalogue"
store = "workshop.db"
now = {now}

[sites.marl]
zone = "Europe/London"

[sites.marl.shifts]
monday = ["06:00 to 14:00", "14:00 to 22:00"]
tuesday = ["06:00 to 14:00", "14:00 to 22:00"]
wednesday = ["06:00 to 14:00", "14:00 to 22:00"]
thursday = ["06:00 to 14:00", "14:00 to 22:00"]
friday = ["06:00 to 14:00"]

[sources.shelf]
plugin = "shelf"

[sources.north]
plugin = "price-file"
file = "north.csv"
supplier = true
"""
FILES = {
    ".kitbuilder-demo": "made by a test\n",
    "north.csv": """\
item,quantity,unit,ready,price,per,currency,as_of
PU-100,1,each,2026-03-11T08:30:00+00:00,210.00,1,EUR,2026-03-10T14:00:00+00:00
""",
    "catalogue/catalogue.toml": 'name = "A small one"\nformat = 1\ncurrency = "EUR"\n',
    "catalogue/facts.toml": """\
[facts.place]
of = "job"
values = ["workshop", "road"]
question = "Where is the work done?"
where = "Ask the driver."
""",
    "catalogue/roles.toml": """\
[roles.seal]
title = "Seal of the cover"
sort = "single-use"
takes = "any"
[roles.rings]
title = "Sealing rings of the unions"
sort = "single-use"
takes = "any"
[roles.oil]
title = "Oil for the fill"
sort = "consumable"
takes = "any"
[roles.wipes]
title = "Wipes"
sort = "consumable"
takes = "any"
per = "visit"
[roles.pump]
title = "Pump"
sort = "part"
takes = "any"
[roles.tap]
title = "Tap for the port"
sort = "special tool"
takes = "any"
[roles.bearing]
title = "Bearing behind the cover"
sort = "part"
takes = "any"
[findings.bearing-worn]
title = "Bearing found worn"
chance = 0.15
""",
    "catalogue/requirements.toml": """\
[requirements.box-oil]
title = "Oil of the gearbox"
kind = "gear oil"
grade = "75W-80"
""",
    "catalogue/items.csv": """\
number,name,unit,rank,kind,grade,codes
SE-100,Seal of the cover,each,,,,04012345678901
RI-200,"Sealing ring, 14 mm",each,,,,
OL-300,Gear oil from the barrel,L,1,gear oil,75W-80,OIL-BARREL
OL-301,Gear oil in bottles,L,2,gear oil,75W-80,
WI-400,Wipes,each,,,,
PU-100,Pump,each,,,,
TA-500,Tap M14,each,,,,
BE-600,Bearing,each,,,,
XX-900,Something else,each,,,,
""",
    "catalogue/jobs/jobs.toml": """\
[jobs.cover-reseal]
title = "Reseal the cover"
goal = "no leak"
stages = [{ name = "strip", minutes = 60 }, { name = "fit", minutes = 60 }, { name = "fill", minutes = 30 }]
roles = { seal = "fit", rings = "fit", oil = "fill", wipes = "strip", tap = "fit", bearing = "fit" }
[jobs.pump-replace]
title = "Replace the pump"
goal = "no leak"
stages = [{ name = "strip", minutes = 60 }, { name = "fit", minutes = 60 }]
roles = { pump = "fit", wipes = "strip" }
""",
    "catalogue/fits/fits.csv": """\
job,role,item,requirement,amount,unit,finding,place
,seal,SE-100,,1,each,,
,rings,RI-200,,4,each,,workshop
,rings,RI-200,,6,each,,road
,oil,,box-oil,9.5,L,,
,wipes,WI-400,,2,each,,
,pump,PU-100,,1,each,,
,tap,TA-500,,1,each,,
,bearing,BE-600,,1,each,bearing-worn,
""",
}
SHELF = (
    ("SE-100", "3", "--bin", "A-02-1-1", "--lot", "L7", "--use-by", "2027-06-30"),
    ("RI-200", "50", "--bin", "A-10-1-1"),
    ("OL-300", "40", "--bin", "B-01-1-1", "--lot", "D1"),
    ("WI-400", "9", "--bin", "A-01-1-1"),
    ("TA-500", "1", "--bin", "T-1"),
    ("BE-600", "2", "--bin", "A-03-1-1"),
)


def do(folder: Path, *words: str, codes=(0,), typed: str = "") -> Ran:
    """A command that has to end with one of these exit codes."""
    ran = run(folder, *words, typed=typed)
    assert ran.code in codes, f"{' '.join(words)} ended with {ran.code}: {ran.err}{ran.out}"
    return ran


def lay_out(folder: Path, now: str = "2026-03-10T15:00:00+00:00") -> None:
    """The workshop's files, its shelf filled."""
    for name, text in FILES.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, "utf-8")
    set_clock(folder, now)
    for words in SHELF:
        do(folder, "stock", "receive", *words)


def set_clock(folder: Path, now: str) -> None:
    """Put the standing clock to another moment."""
    (folder / "kitbuilder.toml").write_text(SETTINGS.format(now=now), "utf-8")


def book(folder: Path, job: str = "cover-reseal", *more: str, start: str = "2026-03-11T08:00") -> str:
    """A booking's number."""
    return do(folder, "book", "add", job, "--start", start, *more).out.split()[1].rstrip(":")


def night(folder: Path) -> None:
    """The run for the day after."""
    do(folder, "night", "run", "--quiet", codes=(0, 1))


def kitbuilder(*words: str) -> list[str]:
    """A command's words for a terminal."""
    return [*KITBUILDER, *words]


def copied(folder: Path, to: Path) -> Path:
    """A workshop as another one left it: laying one out anew takes seconds."""
    subprocess.run(["cp", "-a", os.fspath(folder), os.fspath(to)], check=True)
    return to
