"""A small good catalogue as plain files, and how to break one thing in it."""

from kitbuilder.catalogue.content import Content, read_content
from kitbuilder.errors import Fault, LoadError

GOOD = {
    "catalogue.toml": """\
name = "Invented"
format = 1
currency = "EUR"
""",
    "facts.toml": """\
# What is asked.
[facts.emissions]
of = "vehicle"
values = ["Euro III", "Euro V", "Euro VI"]
question = "Which emissions generation?"
where = "On the plate"
groups = { "before Euro VI" = ["Euro III", "Euro V"] }

[facts.registered]
of = "vehicle"
from = 2000-10-01
to = 2030-12-31

[facts.wheelbase]
of = "vehicle"
from = 3000
to = 6800

[facts.wheelbase.groups]
short = ["up to 3900"]

[facts.place]
of = "job"
values = [
    "workshop",
    "roadside",
]
""",
    "roles.toml": """\
[roles.unit]
title = "Unit"
sort = "exchange unit"
takes = "one"

[roles.oil]
title = "Oil of the unit"
sort = "consumable"
takes = "at most one"
circuit = "unit"

[roles.wipes]
title = "Wipes"
sort = "consumable"
takes = "any"

[findings.worn]
title = "Clutch worn"
chance = 0.12
covers = ["noisy"]

[findings.noisy]
title = "Bearing noisy"
chance = 0.05
""",
    "requirements.toml": """\
[requirements.unit-oil]
title = "Oil of the unit"
kind = "gear oil"
grade = "75W-80"
listed = ["GX 12"]

[requirements.line-fuse]
title = "Fuse in line"
kind = "blade fuse"
body = "medium"
rating = 15
voltage.min = 32
""",
    "cautions.toml": """\
[cautions.stored-pressure]
text = "Let the pressure off."
""",
    "jobs/unit.toml": """\
[jobs.unit-replace]
title = "Replace the unit"
goal = "a working unit"
cautions = ["stored-pressure"]
stages = [
    { name = "strip", minutes = 60 },
    { name = "change", minutes = 120 },
]
roles = { unit = "change", wipes = "strip" }
includes = [
    { job = "drain", stages = { "let off" = "strip" } },
    { job = "refill", stages = { "fill" = "change" }, when = { place = "workshop", emissions = "Euro VI" } },
]

[jobs.drain]
title = "Drain"
stages = [{ name = "let off", minutes = 10 }]

[jobs.drain.roles]
oil = "let off"

[jobs.refill]
title = "Refill"
stages = [{ name = "fill", minutes = 20 }]
roles = { oil = "fill" }
""",
    "combinations/dates.csv": """\
registered,emissions,share,note
up to 2009-09-30,Euro III,1.5,first
from 2009-10-01,Euro V or Euro VI,98.5,
""",
    "items.csv": """\
number;name;unit;rank;kind;grade;body;rating;voltage;listed;claimed;codes;note
U-1;Unit;each;;;;;;;;;73513537 and 6291041500213;Comes dry
O-1;Oil, 1 L;L;1;gear oil;75w80;;;;GX 12 and GX 13;TR-A;;
F-1;Fuse;each;;blade fuse;;medium;15;32;;;23456785;
P-1;Pipe;m;;;;;;;;;;
""",
    "fits/unit.csv": """\
job,role,item,requirement,amount,unit,finding,otherwise,emissions,registered,note
unit-replace,unit,U-1,,1,each,,,before Euro VI,,
unit-replace,unit,P-1,,250,mm,worn,,Euro VI,from 2013-12-31,
,oil,,unit-oil,1,L,,,Euro VI,,"dry,
so the whole fill"
,oil,nothing,,,,,yes,,,Air only
,wipes,P-1,,1,m,,,,,
""",
}


def content_of(files: dict[str, str]) -> Content:
    """What the reader makes of some files."""
    return read_content("here", {path: text.encode() for path, text in files.items()})


def changed(*changes: tuple[str, str, str]) -> dict[str, str]:
    """The good catalogue with some texts in it replaced: file, what stands there once, what shall stand there."""
    files = dict(GOOD)
    for file, old, new in changes:
        assert files[file].count(old) == 1, f"{old!r} isn't once in {file}"
        files[file] = files[file].replace(old, new)
    return files


def faults_of(files: dict[str, str]) -> list[Fault]:
    """The faults of some files, none if they are good."""
    try:
        content_of(files)
    except LoadError as error:
        return list(error.faults)
    return []


class Case:
    """One thing broken, and the one fault that must tell of it: its place, and words of what was expected."""

    def __init__(self, name: str, change: tuple[str, str, str], place: tuple[str, int, str, str], *words: str) -> None:
        assert words, "a case must say what was expected"
        self.name, self.change, self.place, self.words = name, change, place, words

    def __repr__(self) -> str:
        return self.name


def check(case: Case) -> None:
    """That the broken catalogue has just the one fault, where and of what the case says."""
    faults = faults_of(changed(case.change))
    assert [(one.file, one.row, one.column, one.read) for one in faults] == [case.place], "\n".join(map(str, faults))
    for word in case.words:
        assert word in faults[0].expected, f"{word!r} is not in {faults[0].expected!r}"
