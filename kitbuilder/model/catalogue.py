"""What a catalogue says, as plain values: items, roles, findings, requirements, job types, fits.

Facts are named by their number in facts.toml inside boxes (see kitbuilder.vehicle), by their name
wherever a person reads them. Amounts are milli-units of the unit beside them.
"""

from datetime import date
from typing import Final, Literal

import msgspec

Sort = Literal["part", "single-use", "consumable", "special tool", "exchange unit", "software"]
SORTS: Final = ("part", "single-use", "consumable", "special tool", "exchange unit", "software")
Takes = Literal["one", "at least one", "at most one", "any"]
TAKES: Final = ("one", "at least one", "at most one", "any")

Per = Literal["job", "visit"]

SupersessionRule = Literal["used up first", "withdrawn", "two-way"]
SUPERSESSION_RULES: Final = ("used up first", "withdrawn", "two-way")
#: How a role that fills something does it; "" for every other role.
Filling = Literal["", "dry", "drain and refill", "top-up", "lost on the way"]
FILLS: Final = ("dry", "drain and refill", "top-up", "lost on the way")
Arrival = Literal["", "dry", "filled"]
Signal = Literal["", "danger", "warning"]

#: The item of a fit that states that no line is needed.
NOTHING: Final = "nothing"

Box = dict[int, tuple[tuple[int, int], ...]]


class Port(msgspec.Struct, frozen=True):
    """So many ports or unions of one thread (`M14x1.5`)."""

    thread: str
    count: int


class Item(msgspec.Struct, frozen=True, omit_defaults=True):
    """Something with a number of its own. `properties` are as its kind reads them, in canonical form.

    `weight` is grams of one of its unit (0: not known); `ports` are the threads that something is screwed into.
    """

    number: str
    name: str
    unit: str
    rank: str = ""
    kind: str = ""
    codes: tuple[str, ...] = ()
    properties: dict[str, str] = {}
    listed: tuple[str, ...] = ()
    claimed: tuple[str, ...] = ()
    weight: int = 0
    ports: tuple[Port, ...] = ()


class Exchange(msgspec.Struct, frozen=True, omit_defaults=True):
    """An item that is had against the old one: `deposit` in minor units of the catalogue's currency, paid back when the
    old one is back within `days` (0: no term is set) in a certain `state`.

    `arrives`: dry or filled with the fluid of `circuit` ("": not told). `row` is its line in exchange.csv.
    """

    item: str
    deposit: int = 0
    days: int = 0
    state: tuple[str, ...] = ()
    arrives: Arrival = ""
    circuit: str = ""
    note: str = ""
    row: int = 0


class Hazard(msgspec.Struct, frozen=True, omit_defaults=True):
    """What an item's safety data sheet says: the sheet's name and day of revision, signal word, pictograms (`GHS02`)
    and hazard statements (`H222`). `row` is its line in hazards.csv."""

    item: str
    sheet: str = ""
    revised: date | None = None
    signal: Signal = ""
    pictograms: tuple[str, ...] = ()
    statements: tuple[str, ...] = ()
    note: str = ""
    row: int = 0


class Selling(msgspec.Struct, frozen=True, omit_defaults=True):
    """What the customer is charged for an item, without tax: `price` in minor units of the catalogue's currency for
    `per` milli-units of the item's unit. `row` is its line in selling.csv."""

    item: str
    price: int
    per: int = 1000
    note: str = ""
    row: int = 0


class Supersession(msgspec.Struct, frozen=True, omit_defaults=True):
    """The item `new` takes the place of `old`, one for one, from the day `since` on (None: it always has).

    `rule`: what is there of the old one is used up first; or is withdrawn and no longer used (then `new` may be "":
    nothing takes its place); or each may stand for the other. `row` is its line in supersession.csv.
    """

    old: str
    new: str
    since: date | None = None
    note: str = ""
    row: int = 0
    rule: SupersessionRule = "used up first"


class Replacement(msgspec.Struct, frozen=True, omit_defaults=True):
    """Items that take the place of others together, or not at all.

    Of a `set`, all of `news` take the place of all of `olds`, in these amounts (milli-units of each item's unit).
    Without one it is a single pair, one for one, of a `group`: a booking takes all that it needs of a group's pairs and
    sets from the old side, or all from the new one. `since`, `rule`: as of a `Supersession`; `rows` are its lines in
    supersession.csv.
    """

    olds: dict[str, int]
    news: dict[str, int]
    set: str = ""
    group: str = ""
    since: date | None = None
    note: str = ""
    rows: tuple[int, ...] = ()
    rule: SupersessionRule = "used up first"


class Requirement(msgspec.Struct, frozen=True, omit_defaults=True):
    """What an item must have where no number is fixed: kind, properties equal, at least or at most, specifications.

    `listed`: a maker lists the item; `claimed`: its seller claims it, or a maker lists it.
    """

    name: str
    title: str
    kind: str
    equal: dict[str, str] = {}
    least: dict[str, str] = {}
    listed: tuple[str, ...] = ()
    claimed: tuple[str, ...] = ()
    most: dict[str, str] = {}


class Role(msgspec.Struct, frozen=True, omit_defaults=True):
    """A place in a kit; `takes` says how many fits it may have in one world. `per`: counted for each job, or once
    for a visit that has several.

    `fill`: how it fills its circuit, if it does. `advised`: what is renewed while the job is open if the customer
    chooses it. `select`: so many of what goes along are used and the rest comes back (0: all are used).
    """

    name: str
    title: str
    sort: Sort
    takes: Takes
    circuit: str = ""
    per: Per = "job"
    fill: Filling = ""
    advised: bool = False
    select: int = 0


class Finding(msgspec.Struct, frozen=True, omit_defaults=True):
    """What may turn out when the job is open; `chance` is numerator and denominator.

    `covered_by`: the findings that, if they occur, take the place of this one (also through others). `turns_into`: the
    job type that the job then becomes (empty: it goes on as it is).
    """

    name: str
    title: str
    chance: tuple[int, int]
    covered_by: tuple[str, ...] = ()
    turns_into: str = ""


class Caution(msgspec.Struct, frozen=True):
    """A warning to be read before the work."""

    name: str
    text: str


class Condition(msgspec.Struct, frozen=True, array_like=True):
    """One cell of a row, as written."""

    fact: str
    cell: str


class Fit(msgspec.Struct, frozen=True, omit_defaults=True, array_like=True):
    """A row that says what fills a role on which vehicles.

    Exactly one of `item` (may be `nothing`) and `requirement` is filled. `amount` is in milli-units of
    `unit` as it is shown: the item's unit, or as written for a requirement. `least`: a fill to level takes from
    so much to `amount` (0: just `amount`).
    """

    file: str
    row: int
    role: str
    item: str | None
    requirement: str | None
    amount: int
    unit: str
    box: Box
    conditions: tuple[Condition, ...] = ()
    finding: str | None = None
    otherwise: bool = False
    note: str | None = None
    least: int = 0

    @property
    def nothing(self) -> bool:
        """Whether the row states that no line is needed."""
        return self.item == NOTHING

    @property
    def key(self) -> "Key":
        """What makes rows one fit."""
        return Key(self.item, self.requirement, self.amount, self.unit, self.finding, self.least)


class Key(msgspec.Struct, frozen=True):
    """Item, requirement or nothing, amount and unit as shown, finding; the least amount of a fill to level."""

    item: str | None
    requirement: str | None
    amount: int
    unit: str
    finding: str | None
    least: int = 0

    @property
    def nothing(self) -> bool:
        """Whether it states that no line is needed."""
        return self.item == NOTHING

    @property
    def order(self) -> tuple[bool, str, int, str, str, int]:
        """Item before requirement, then number or name, amount, unit, finding (none first), least amount."""
        return (self.item is None, self.item or self.requirement or "", self.amount, self.unit, self.finding or "",
                self.least)


class Waste(msgspec.Struct, frozen=True, omit_defaults=True):
    """What comes off and has to be got rid of: with a job (""; every job that lists the role), or where a role has a
    line ("": wherever the job is due), in the worlds of its box.

    `code` is of the European List of Waste (`13 02 06*`, "" where none is given); `amount` is milli-units of `unit`
    (0: it isn't told).
    """

    file: str
    row: int
    job: str
    role: str
    what: str
    code: str
    amount: int
    unit: str
    box: Box
    conditions: tuple[Condition, ...] = ()
    note: str | None = None

    @property
    def hazardous(self) -> bool:
        """Whether the list marks it as hazardous."""
        return self.code.endswith("*")


class Stage(msgspec.Struct, frozen=True):
    """A step of a job, with its planned minutes."""

    name: str
    minutes: int


class Include(msgspec.Struct, frozen=True, omit_defaults=True):
    """A job type inside another: its stages put onto the includer's, on what conditions."""

    job: str
    stages: dict[str, str]
    box: Box
    row: int
    conditions: tuple[Condition, ...] = ()


class JobType(msgspec.Struct, frozen=True, omit_defaults=True):
    """A kind of repair or service: stages in order, roles with their stage, job types inside it."""

    name: str
    title: str
    file: str
    stages: tuple[Stage, ...]
    roles: dict[str, str]
    goal: str = ""
    cautions: tuple[str, ...] = ()
    includes: tuple[Include, ...] = ()
