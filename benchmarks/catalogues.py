"""Makes believable catalogues of any size on disk, the same for the same seed, with a few faults planted in them.

    python benchmarks/catalogues.py FOLDER [--fits 100000] [--seed 1]

Invented throughout: 12 facts (listed ones, days, whole numbers, with groups), four combinations tables, of which
two have shares; job types in assemblies of 25 that share their roles, two of which are included by the others; some
200 fits a job type, each role's fits made by parting the vehicles once or several times, so that no vehicle is left
out and none is served twice, but for the planted faults. Sheets are few and long: 20 files of fits and 20 of job types
at most, as a workshop keeps one for each assembly and not one for each job type.
"""

import argparse
import csv
import json
from collections.abc import Iterator, Sequence
from datetime import date
from functools import cache
from itertools import count, groupby, pairwise
from pathlib import Path
from random import Random
from typing import NamedTuple, TextIO

FITS_PER_JOB = 200
MOST_ITEMS = 200_000
_ASSEMBLY = 25
_SHEETS = 20

_ASSEMBLIES = ("actuator", "clutch", "gearbox", "retarder", "propshaft", "rear-hub", "front-hub", "air-dryer",
               "compressor", "coolant-pump", "exhaust", "cab-tilt", "steering-gear", "brake-caliper", "leaf-spring",
               "fan-drive")
_WORK = ("replace", "reseal", "overhaul", "inspect-and-adjust", "service")
_PARTS = ("unit", "housing-seal", "shaft-seal", "gasket", "o-ring-set", "union-washer", "bolt-set", "locking-nut",
          "clip", "bracket", "pipe", "hose", "cable", "sensor", "connector", "bearing", "bush", "shim", "filter",
          "valve", "wear-ring", "dowel")
#: General roles: name, sort, how many fits they take.
_GENERAL = (("cleaner", "consumable", "any"), ("cable-tie", "consumable", "any"),
            ("drift", "special tool", "at most one"), ("puller", "special tool", "at most one"),
            ("support-stand", "special tool", "one"))
#: A role whose fits are the same for every job type that lists it.
_RAGS = "rags"
_BRUSHES = ("", "hydraulic or electric")
_GRADES = ("75W-80", "75W-85", "75W-90", "80W-90", "85W-140")
_FUSES = (("medium", 5), ("medium", 10), ("medium", 15), ("medium", 20), ("maxi", 40), ("maxi", 60))


class Shape(NamedTuple):
    """A fact as it is drawn from: its listed values, or the ends of its range; groups by name."""

    name: str
    of: str
    values: tuple[str, ...] = ()
    first: int = 0
    last: int = 0
    days: bool = False
    groups: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def value(self, at: int) -> str:
        """A value of a range, as it is written."""
        return date.fromordinal(at).isoformat() if self.days else str(at)


def _day(text: str) -> int:
    return date.fromisoformat(text).toordinal()


FACTS = (
    Shape("emissions", "vehicle", ("Euro III", "Euro IV", "Euro V", "Euro VI A", "Euro VI C", "Euro VI E"),
          groups=(("before Euro VI", ("Euro III", "Euro IV", "Euro V")),
                  ("Euro VI", ("Euro VI A", "Euro VI C", "Euro VI E")))),
    Shape("registered", "vehicle", first=_day("2002-01-01"), last=_day("2030-12-31"), days=True),
    Shape("gearbox", "vehicle", ("Tarn 8", "Tarn 12", "Tarn 16", "Holm 6", "Holm 9", "Holm 12 auto", "Brisk 10 auto",
                                 "Brisk 12 auto"),
          groups=(("manual", ("Tarn 8", "Tarn 12", "Tarn 16", "Holm 6", "Holm 9")),
                  ("automated", ("Holm 12 auto", "Brisk 10 auto", "Brisk 12 auto")))),
    Shape("generation", "vehicle", ("first", "second", "third")),
    Shape("axles", "vehicle", ("4x2", "6x2", "6x4", "8x4")),
    Shape("cab", "vehicle", ("day", "sleeper", "high sleeper", "low entry")),
    Shape("chassis", "vehicle", first=100_000, last=999_999),
    Shape("brakes", "vehicle", ("disc", "drum", "disc in front")),
    Shape("retarder", "vehicle", ("none", "hydraulic", "electric")),
    Shape("power-take-off", "vehicle", ("none", "on the engine", "on the gearbox")),
    Shape("place", "job", ("workshop", "roadside")),
    Shape("access", "job", ("in the frame", "gearbox out")),
)
_BY_NAME = {fact.name: fact for fact in FACTS}
#: Parting by one leaves little to part by the other.
_NEAR = {"emissions": "registered", "registered": "emissions", "cab": "chassis", "chassis": "cab", "place": "access",
         "access": "place"}
#: First and last day of registration by generation, with the share of each; early adopters and end of series overlap.
_DATES = (("Euro III", "2002-01-01", "2006-12-31", "0.06"), ("Euro IV", "2005-01-01", "2009-12-31", "0.09"),
          ("Euro V", "2008-01-01", "2014-12-31", "0.23"), ("Euro VI A", "2012-06-01", "2016-12-31", "0.17"),
          ("Euro VI C", "2015-06-01", "2021-12-31", "0.25"), ("Euro VI E", "2020-01-01", "2030-12-31", "0.20"))
_GENERATIONS = (("Tarn 8", "first", "0.08"), ("Tarn 8", "second", "0.05"), ("Tarn 12", "first", "0.07"),
                ("Tarn 12", "second", "0.09"), ("Tarn 16", "second", "0.06"), ("Tarn 16", "third", "0.07"),
                ("Holm 6", "first", "0.04"), ("Holm 6", "second", "0.03"), ("Holm 9", "second", "0.09"),
                ("Holm 9", "third", "0.04"), ("Holm 12 auto", "second", "0.1"), ("Holm 12 auto", "third", "0.12"),
                ("Brisk 10 auto", "third", "0.07"), ("Brisk 12 auto", "third", "0.09"))
_CABS = (("day", "100000", "499999"), ("sleeper", "150000", "899999"), ("high sleeper", "400000", "999999"),
         ("low entry", "300000", "549999"), ("low entry", "700000", "799999"))
_PLACES = (("workshop", "in the frame"), ("workshop", "gearbox out"), ("roadside", "in the frame"))


class Planted(NamedTuple):
    """A planted fault: the job, the kind of problem, its role or circuit."""

    job: str
    kind: str
    where: str


class Job(NamedTuple):
    """A job type to be written: where its assembly's roles stand, and whether others include it."""

    name: str
    assembly: str
    number: int
    base: bool
    includes: tuple[str, ...]
    roles: tuple[str, ...]


def make(folder: Path, fits: int, seed: int = 1, per_job: int = FITS_PER_JOB, *, sound: bool = False,
         otherwise: float = 0.12) -> tuple[Planted, ...]:
    """Write a catalogue of just so many fits; the faults planted in it, by job: none if it is to be `sound`.

    `otherwise`: how many of the roles with several fits have one that catches the rest.
    """
    rng = Random(seed)
    for inner in ("combinations", "fits", "jobs"):
        (folder / inner).mkdir(parents=True, exist_ok=True)
    items = min(MOST_ITEMS, max(200, fits // 5))
    jobs = list(_jobs(rng, max(2, fits // per_job)))
    _text(folder / "catalogue.toml", f'name = "Invented, {fits} fits"\nformat = 1\ncurrency = "EUR"\n')
    _text(folder / "facts.toml", "\n".join(_fact(fact) for fact in FACTS))
    _text(folder / "requirements.toml", _requirements())
    _text(folder / "cautions.toml", "".join(
        f'[cautions.{name}]\ntext = "{text}"\n' for name, text in (
            ("stored-pressure", "Let the air out of every circuit first."), ("chocks", "Chock the wheels."),
            ("heavy", "Heavy units hang on lifting gear, never on hands."))))
    _tables(folder / "combinations")
    _items(folder / "items.csv", items)
    _text(folder / "roles.toml", _roles(jobs))
    for number, some in _dealt(jobs):
        _text(folder / "jobs" / f"{number:02d}.toml", "\n".join(_job(job) for job in some))
    others = [job for job in jobs if not job.base]
    faulty = {others[len(others) * place // 4].name: place for place in range(4)} if len(others) >= 4 else {
        others[0].name: 0}
    if sound:
        faulty = {}
    planted: list[Planted] = []
    left, budget = fits - len(_BRUSHES), count()
    for number, some in _dealt(jobs):
        with (folder / "fits" / f"{number:02d}.csv").open("w", newline="", encoding="utf-8") as file:
            sheet = _Sheet(file, seed, items, otherwise)
            if number == 0:
                sheet.shared()
            for job in some:
                quota = left // (len(jobs) - next(budget))
                left -= quota
                planted += sheet.job(job, quota, faulty.get(job.name))
    return tuple(planted)


def vehicles(seed: int, number: int) -> list[dict[str, str]]:
    """Vehicles with every fact known, such as the tables allow."""
    rng = Random(seed)
    found = []
    for _ in range(number):
        emissions, first, last, _ = rng.choice(_DATES)
        gearbox, generation, _ = rng.choice(_GENERATIONS)
        cab, least, most = rng.choice(_CABS)
        place, access = rng.choice(_PLACES)
        day = date.fromordinal(rng.randint(_day(first), _day(last))).isoformat()
        known = {"emissions": emissions, "registered": day, "gearbox": gearbox, "generation": generation,
                 "cab": cab, "chassis": str(rng.randint(int(least), int(most))), "place": place, "access": access}
        found.append({fact.name: known.get(fact.name) or rng.choice(fact.values) for fact in FACTS})
    return found


def _dealt(jobs: Sequence[Job]) -> Iterator[tuple[int, list[Job]]]:
    """The job types by sheet, in order."""
    sheets = min(_SHEETS, max(1, len(jobs) // _ASSEMBLY))
    for number, some in groupby(enumerate(jobs), key=lambda one: one[0] * sheets // len(jobs)):
        yield number, [job for _, job in some]


def _jobs(rng: Random, number: int) -> Iterator[Job]:
    """The job types: in each assembly two that the others include, now one, now both."""
    for at in range(number):
        assembly, place = divmod(at, _ASSEMBLY)
        name = f"{_ASSEMBLIES[assembly % len(_ASSEMBLIES)]}-{assembly + 1:03d}"
        own = [f"{name}-{part}" for part in _PARTS]
        if place < 2 and number > 2:
            # what has to come off first: half the parts of its own, the second the other half
            yield Job(f"{name}-{('remove-refit', 'uncouple')[place]}", name, at, True, (),
                      (*(f"{role}-refit" for role in own[place * 9:place * 9 + 9]), _RAGS, "thread-sealant"))
            continue
        includes = tuple(f"{name}-{what}" for what in ("remove-refit", "uncouple")[: rng.choice((0, 1, 1, 2))]) \
            if number > 2 else ()
        roles = [*rng.sample(own, rng.randint(12, 20)), f"{name}-first-fill", f"{name}-second-fill", f"{name}-fuse",
                 *(role for role, _, _ in rng.sample(_GENERAL, 3)), _RAGS, "thread-sealant"]
        yield Job(f"{name}-{_WORK[place % len(_WORK)]}-{place:02d}", name, at, False, includes, tuple(roles))


class _Sheet:
    """Writes the fits of one sheet."""

    columns = ("job", "role", "item", "requirement", "amount", "unit", "finding", "otherwise",
               *(fact.name for fact in FACTS), "note")

    def __init__(self, file: TextIO, seed: int, items: int, otherwise: float) -> None:
        self._writer = csv.DictWriter(file, self.columns)
        self._writer.writeheader()
        self._rng, self._drawn = Random(seed), Random(seed)
        self._seed, self._items, self._otherwise = seed, items, otherwise
        self._left = 0
        self._bearing: list[Shape] = []

    def _parts(self, leaves: int) -> Iterator[dict[str, str]]:
        """Parts of all vehicles by one to three of the facts that matter to the job type at hand, by four only if there
        are very many."""
        self._rng.shuffle(self._bearing)
        chosen: list[Shape] = []
        for fact in self._bearing:
            if not any(_NEAR.get(other.name) == fact.name for other in chosen):
                chosen.append(fact)
        if leaves > 64:
            chosen.sort(key=lambda fact: -(len(fact.values) or 99))
        depth = next(depth for depth, most in enumerate((3, 8, 64, 10**9), 1) if leaves <= most)
        return _parted(self._rng, leaves, chosen[:depth], {}, 4 if depth < 4 else 12)

    def shared(self) -> None:
        """The fits that belong to every job type that lists their role."""
        for retarder in _BRUSHES:
            self._writer.writerow({"role": _RAGS, **self._item(), "retarder": retarder})

    def job(self, job: Job, quota: int, fault: int | None) -> list[Planted]:
        """The fits of one job type, `quota` in all; which fault was planted, if one was asked for."""
        # a job type has the same rows, but for the items' numbers, however large the catalogue is
        rng = self._rng = Random(f"{self._seed} {job.name}")
        self._left, self._bearing = quota, rng.sample(FACTS, 7)
        planted: list[Planted] = []
        plain = [role for role in job.roles if role not in _SORTS and not _fills(role) and not role.endswith("-fuse")]
        roles = [role for role in job.roles if role != _RAGS]
        for number, role in enumerate(roles):
            share = self._left // (len(roles) - number)
            # the last role takes any number of fits, so that there are just so many
            leaves = max(1, rng.randint(share - 2, share + 2)) if number < len(roles) - 1 else share
            takes = _SORTS.get(role, ("", "one"))[1]
            if _fills(role):
                if role.endswith("first-fill"):
                    planted += self._fluids(job, leaves, fault)
            elif role.endswith("-fuse"):
                planted += self._fuses(job, role, leaves, fault)
            elif takes == "any":
                # in a very large table many rows belong to roles that part the vehicles, and few to those that take any
                self._any(job, role, leaves if quota < 2_000 else min(leaves, 60))
            else:
                here = fault if role == plain[0] else None
                planted += self._one(job, role, leaves, takes, here)
        return planted

    def _row(self, job: Job, role: str, **cells: str) -> None:
        self._left -= 1
        self._writer.writerow({"job": job.name, "role": role, **cells})

    def _item(self) -> dict[str, str]:
        return {"item": _number(self._drawn.randrange(_KINDS_FIRST, self._items)), "unit": "each",
                "amount": self._rng.choice(("1", "1", "1", "2", "4", "8"))}

    def _one(self, job: Job, role: str, leaves: int, takes: str, fault: int | None) -> list[Planted]:
        """A role that each vehicle fills once: a parting of all of them, perhaps the last part as `otherwise`."""
        rng = self._rng
        if fault in (0, 1):
            cells: list[dict[str, str]] = [{"axles": value} for value in _BY_NAME["axles"].values]
        else:
            cells = list(self._parts(leaves))
        rest = rng.randrange(len(cells)) if len(cells) > 2 and fault is None and rng.random() < self._otherwise else -1
        for number, when in enumerate(cells):
            if fault == 0 and number == 3:
                continue
            filled = {"item": "nothing"} if len(cells) > 1 and fault is None and rng.random() < 0.05 else self._item()
            if takes == "at most one" and number and rng.random() < 0.3:
                continue
            self._row(job, role, **filled, **({"otherwise": "yes"} if number == rest else when),
                      note="common practice" if number == 0 else "")
        if fault == 1:
            self._row(job, role, **self._item(), **{"axles": "8x4", "cab": "high sleeper"})
        return [Planted(job.name, ("gap", "clash")[fault], role)] if fault in (0, 1) else []

    def _fluids(self, job: Job, leaves: int, fault: int | None) -> list[Planted]:
        """Both fills of one circuit, from the same fluid on the same vehicles."""
        rng = self._rng
        first, second = f"{job.assembly}-first-fill", f"{job.assembly}-second-fill"
        if fault == 2:
            parts: list[dict[str, str]] = [{"brakes": "disc"}, {"brakes": "not disc"}]
        else:
            parts = list(self._parts(leaves))
        for number, when in enumerate(parts):
            kept = rng.randrange(len(_GRADES))
            for role, litres in ((first, "8.5"), (second, "0.5")):
                grade = (kept + 1) % len(_GRADES) if fault == 2 and number == 0 and role == second else kept
                self._row(job, role, requirement=f"oil-{grade}", amount=litres, unit="L", **when)
        return [Planted(job.name, "circuit", f"{job.assembly}-oil")] if fault == 2 else []

    def _fuses(self, job: Job, role: str, leaves: int, fault: int | None) -> list[Planted]:
        parts = list(self._parts(leaves))
        for number, when in enumerate(parts):
            named = f"fuse-{self._rng.randrange(len(_FUSES))}" if fault != 3 or number else "fuse-nobody-has"
            self._row(job, role, requirement=named, amount="1", unit="each", **when)
        return [Planted(job.name, "unmet", role)] if fault == 3 else []

    def _any(self, job: Job, role: str, rows: int) -> None:
        """A role that takes any number of fits: each row for itself, some on condition of a finding."""
        taken: set[str] = set()
        for _ in range(rows):
            filled = self._item()
            while filled["item"] in taken:
                filled = self._item()
            taken.add(filled["item"])
            when = self._rng.choice(list(self._parts(2 if rows < 30 else 60)))
            if rows < 30 and self._rng.random() < 0.4:
                when = {}
            finding = f"found-{self._rng.randrange(12):02d}" if self._rng.random() < 0.4 else ""
            self._row(job, role, **filled, **when, finding=finding)


def _fills(role: str) -> bool:
    return role.endswith(("-first-fill", "-second-fill"))


def _parted(rng: Random, leaves: int, facts: Sequence[Shape], when: dict[str, str],
            most: int) -> Iterator[dict[str, str]]:
    """So many parts of all vehicles by some facts (or fewer parts), which don't overlap and leave none out; a fact is
    parted in `most` at most."""
    if leaves <= 1 or not facts:
        yield when
        return
    cells = _cells(rng, facts[0], min(leaves, most))
    for number, cell in enumerate(cells):
        share = leaves // len(cells) + (number < leaves % len(cells))
        yield from _parted(rng, share, facts[1:], when | {facts[0].name: cell}, most)


def _cells(rng: Random, fact: Shape, parts: int) -> list[str]:
    """Cells that part a fact's values."""
    if fact.values:
        if fact.groups and parts == 2:
            return [name for name, _ in fact.groups]
        shuffled = list(fact.values)
        rng.shuffle(shuffled)
        parts = min(parts, len(shuffled))
        dealt = [shuffled[number::parts] for number in range(parts)]
        if parts == 2 and len(dealt[1]) == 1:
            return [f"not {dealt[1][0]}", dealt[1][0]]
        return [" or ".join(sorted(some, key=fact.values.index)) for some in dealt]
    # makers change things at the turn of a month, or from a round chassis number on
    cuts = sorted(rng.sample(_turns(fact), (min(parts, 3) if parts <= 4 else parts) - 1))
    ends = [fact.first, *cuts, fact.last + 1]
    return [
        f"up to {fact.value(end - 1)}" if start == fact.first else f"from {fact.value(start)}" if end > fact.last
        else f"{fact.value(start)} to {fact.value(end - 1)}"
        for start, end in pairwise(ends)
    ]


@cache
def _turns(fact: Shape) -> list[int]:
    return [at for at in range(fact.first + 1, fact.last)
            if (date.fromordinal(at).day == 1 if fact.days else at % 5_000 == 0)]


def _text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")


def _fact(fact: Shape) -> str:
    lines = [f"[facts.{fact.name}]", f'of = "{fact.of}"', f'question = "Which {fact.name}?"', 'where = "On the plate"']
    if fact.values:
        lines.append(f"values = {json.dumps(fact.values)}")
    else:
        lines += [f"from = {fact.value(fact.first)}", f"to = {fact.value(fact.last)}"]
    if fact.groups:
        inner = ", ".join(f"{json.dumps(name)} = {json.dumps(values)}" for name, values in fact.groups)
        lines.append(f"groups = {{ {inner} }}")
    return "\n".join(lines) + "\n"


def _requirements() -> str:
    oils = [f'[requirements.oil-{n}]\ntitle = "Gear oil {grade}"\nkind = "gear oil"\ngrade = "{grade}"\n'
            for n, grade in enumerate(_GRADES)]
    fuses = [f'[requirements.fuse-{n}]\ntitle = "Fuse {rating} A"\nkind = "blade fuse"\nbody = "{body}"\n'
             f"rating = {rating}\nvoltage.min = 32\n" for n, (body, rating) in enumerate(_FUSES)]
    nobody = ('[requirements.fuse-nobody-has]\ntitle = "Fuse 30 A"\nkind = "blade fuse"\nbody = "medium"\nrating = 30\n'
              "voltage.min = 32\n")
    return "\n".join([*oils, *fuses, nobody])


def _tables(folder: Path) -> None:
    edges = sorted({_day(first) for _, first, _, _ in _DATES} | {_day(last) + 1 for _, _, last, _ in _DATES})
    rows = []
    for name, first, last, share in _DATES:
        inside = [at for at in edges if _day(first) <= at <= _day(last) + 1]
        for start, end in pairwise(inside):
            part = float(share) * (end - start) / (inside[-1] - inside[0])
            rows.append([name, f"{date.fromordinal(start)} to {date.fromordinal(end - 1)}", f"{part:.6f}"])
    _table(folder / "emissions-dates.csv", ["emissions", "registered", "share"], rows)
    _table(folder / "gearbox-generations.csv", ["gearbox", "generation", "share"], _GENERATIONS)
    _table(folder / "cabs.csv", ["cab", "chassis"], [(cab, f"{first} to {last}") for cab, first, last in _CABS])
    _table(folder / "place-and-access.csv", ["place", "access"], _PLACES)


def _table(path: Path, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([columns, *rows])


#: The first items are the oils and fuses that the requirements may be filled with.
_KINDS_FIRST = 90


def _number(at: int) -> str:
    return f"K{at:06d}"


def _items(path: Path, number: int) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["number", "name", "unit", "rank", "kind", "grade", "body", "rating", "voltage", "note"])
        for at in range(number):
            if at < 50:
                grade = _GRADES[at % len(_GRADES)]
                writer.writerow([_number(at), f"Gear oil {grade} no. {at}", "L", at, "gear oil", grade, "", "", "", ""])
            elif at < _KINDS_FIRST:
                body, rating = _FUSES[at % len(_FUSES)]
                writer.writerow([_number(at), f"Fuse {rating} A no. {at}", "each", at, "blade fuse", "", body, rating,
                                 "32", ""])
            else:
                part = _PARTS[at % len(_PARTS)].replace("-", " ").capitalize()
                writer.writerow([_number(at), f"{part} no. {at}", "each", "", "", "", "", "", "", ""])


#: Sort and how many fits are taken, of the general roles.
_SORTS = {name: (sort, takes) for name, sort, takes in (
    *_GENERAL, ("thread-sealant", "consumable", "any"), (_RAGS, "consumable", "any"))}


def _roles(jobs: Sequence[Job]) -> str:
    lines = []
    for name in dict.fromkeys(role for job in jobs for role in job.roles):
        sort, takes = _SORTS.get(name, ("consumable" if _fills(name) else "part", "one"))
        title = name.replace("-", " ").capitalize()
        lines.append(f'[roles.{name}]\ntitle = "{title}"\nsort = "{sort}"\ntakes = "{takes}"\n')
        if _fills(name):
            lines[-1] += f'circuit = "{name.removesuffix("-first-fill").removesuffix("-second-fill")}-oil"\n'
    for at in range(12):
        covers = f'covers = ["found-{at + 1:02d}"]\n' if at % 4 == 0 else ""
        lines.append(f'[findings.found-{at:02d}]\ntitle = "Found worn, no. {at}"\nchance = 0.{at + 5:02d}\n{covers}')
    return "\n".join(lines)


def _job(job: Job) -> str:
    stages = ("strip", "change", "refit") if not job.base else ("take off", "put on")
    roles = ", ".join(f'{role} = "{stages[number % len(stages)]}"' for number, role in enumerate(job.roles))
    listed = ", ".join(f'{{ name = "{stage}", minutes = {20 + 5 * number} }}' for number, stage in enumerate(stages))
    cautions = 'cautions = ["stored-pressure"]' if job.base else 'cautions = ["chocks", "heavy"]'
    lines = [f"[jobs.{job.name}]", f'title = "{job.name.replace("-", " ").capitalize()}"', f"stages = [{listed}]",
             f"roles = {{ {roles} }}", cautions]
    if job.includes:
        when = ('', ', when = { access = "in the frame" }', ', when = { place = "workshop" }')[job.number % 3]
        lines.append("includes = [" + ", ".join(
            f'{{ job = "{name}", stages = {{ "take off" = "strip", "put on" = "refit" }}{when} }}'
            for name in job.includes) + "]")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Make one catalogue and tell what was planted in it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fits", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    told = parser.parse_args()
    for fault in make(told.folder, told.fits, told.seed):
        print(f"planted: {fault.kind} in {fault.job}: {fault.where}")


if __name__ == "__main__":
    main()
