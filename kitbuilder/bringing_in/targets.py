"""The sheets of a catalogue as something to bring rows into: their columns, and what may stand there."""

from collections.abc import Collection, Mapping
from pathlib import PurePath
from typing import Final, Literal

import msgspec

from kitbuilder import amount
from kitbuilder.bringing_in.vocabulary import Vocabulary
from kitbuilder.catalogue import columns
from kitbuilder.catalogue.folder import SINGLE, is_own
from kitbuilder.errors import WrongUse, one_of
from kitbuilder.kinds import KINDS, PROPERTIES
from kitbuilder.model.catalogue import NOTHING
from kitbuilder.vehicle.facts import DAYS, LISTED, Fact

Sort = Literal["text", "number", "loose number", "day", "names", "word", "condition"]

_NUMBERS: Final = {"amount", "least", "share", "rank", "weight", "deposit", "days", "price", "per"}
_DAYS: Final = {"revised", "from", "until", "date"}
_NAMES: Final = {"codes", "listed", "claimed", "ports", "state", "pictograms", "statements"}
#: Columns in the order in which they are written; others follow by name, facts before the note.
_ORDER: Final = (
    "number", "job", "id", "date", "role", "component", "pattern", "old", "new", "from", "rule", "what", "code", "item",
    "requirement", "name", "amount", "least", "unit", "finding", "otherwise", "rank", "kind",
    "codes", "sheet", "revised", "signal", "pictograms", "statements", "price", "per", "deposit", "days", "state",
    "arrives", "circuit")
_NEEDED: Final = {
    "items.csv": ("number", "name", "unit"), "fits": ("role",), "supersession.csv": ("old",), "exchange.csv": ("item",),
    "hazards.csv": ("item",), "selling.csv": ("item", "price"), "waste.csv": ("what",), "vin.csv": ("pattern",),
    "plates.csv": ("pattern",)}
#: What tells a row from another, beside the facts; sheets not named here: all but amounts and note.
_KEYS: Final = {
    "items.csv": ("number",), "exchange.csv": ("item",), "hazards.csv": ("item",), "selling.csv": ("item",),
    "supersession.csv": ("old", "new"),
    "fits": ("job", "role", "item", "requirement", "finding", "otherwise"), "waste.csv": ("job", "role", "what")}
_SHEETS: Final[dict[str, Collection[str]]] = {
    "items.csv": columns.ITEM_COLUMNS, "supersession.csv": columns.SUPERSESSION_COLUMNS,
    "exchange.csv": columns.EXCHANGE_COLUMNS, "hazards.csv": columns.HAZARD_COLUMNS,
    "selling.csv": columns.SELLING_COLUMNS, "waste.csv": columns.WASTE_COLUMNS,
    "vin.csv": columns.VIN_COLUMNS, "plates.csv": columns.PLATE_COLUMNS,
    "fits": columns.FIT_COLUMNS, "combinations": columns.TABLE_COLUMNS}
_WITH_FACTS: Final = {"fits", "combinations", "waste.csv", "vin.csv", "plates.csv", "past"}


class Column(msgspec.Struct, frozen=True):
    """A column of ours. `known` are the words that may stand there (none: any), `titles` what they are called;
    `fact` is the fact that it speaks of; `identifies`: it names a thing that other sheets name too."""

    name: str
    sort: Sort
    needed: bool = False
    known: tuple[str, ...] = ()
    titles: Mapping[str, str] = {}
    fact: Fact | None = None
    identifies: bool = False
    words: frozenset[str] = frozenset()

    @classmethod
    def of(cls, name: str, sort: "Sort", needed: bool, known: tuple[str, ...], titles: Mapping[str, str],
           identifies: bool) -> "Column":
        """A column with its words as a set too: there may be a hundred thousand, looked into once a row."""
        return cls(name, sort, needed, known, titles, None, identifies, frozenset(known))


class Target(msgspec.Struct, frozen=True):
    """A sheet to bring rows into: its path in the catalogue, its columns in order, those that make a row's key."""

    path: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]

    def column(self, name: str) -> Column | None:
        """The column of a name, or None."""
        return next((one for one in self.columns if one.name == name), None)

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the columns."""
        return tuple(one.name for one in self.columns)


def target_path(named: str, file: str) -> str:
    """The catalogue's file that is meant by `--into`, or by the sheet's own name where that is one of a catalogue's.

    Raises WrongUse.
    """
    every = sorted({path[:-4] for path in SINGLE if path.endswith(".csv")})
    sheets = f"{', '.join(every)}, fits/NAME or combinations/NAME"
    if not named:
        stem = PurePath(file).stem.casefold()
        if stem not in every:
            raise WrongUse(f"Which of the catalogue's sheets is {PurePath(file).name} to be? Say it with --into: "
                           f"{sheets}.")
        named = stem
    path = named if named.endswith(".csv") else f"{named}.csv"
    if not is_own(path):
        raise WrongUse(f"A catalogue has no sheet {named!r}; expected {one_of(named, every)}" if "/" not in named else
                       f"--into {named!r} is no sheet of a catalogue. Expected one of: {sheets}.")
    return path


def target(path: str, known: Vocabulary) -> Target:
    """What may be brought into a sheet of a catalogue that has these words."""
    inner = path.partition("/")[0] if "/" in path else path
    return _target(path, inner, _SHEETS[inner], known)


def past_target(known: Vocabulary) -> Target:
    """What may be read of past jobs: a row for each line that was issued, with what is known of the vehicle."""
    made = _target("past jobs", "past", ("job", "id", "date", "item", "amount", "unit", "note"), known)
    needed = {"id", "item", "amount"}
    return Target(made.path, tuple(
        msgspec.structs.replace(one, needed=one.name in needed, sort="text") if one.name == "job" else
        msgspec.structs.replace(one, needed=one.name in needed) for one in made.columns), ())


def _target(path: str, inner: str, names: Collection[str], known: Vocabulary) -> Target:
    facts = {fact.name: fact for fact in known.facts} if inner in _WITH_FACTS else {}
    order = {name: place for place, name in enumerate((*_ORDER, *PROPERTIES))}
    plain = sorted((name for name in names if name != "note" and name not in facts),
                   key=lambda name: (order.get(name, len(order)), name))
    needed = _NEEDED.get(inner, ())
    found = [_column(name, name in needed, inner, known) for name in plain]
    found += [Column(name, "condition", known=(*fact.values, *fact.groups), fact=fact) for name, fact in facts.items()]
    found.append(Column("note", "text"))
    key = _KEYS.get(inner) or tuple(name for name in plain if name not in _NUMBERS)
    return Target(path, tuple(found), (*key, *facts))


def _column(name: str, needed: bool, inner: str, known: Vocabulary) -> Column:
    if name in _NUMBERS:
        return Column(name, "number", needed)
    if name in _DAYS:
        return Column(name, "day", needed)
    if name in _NAMES:
        return Column(name, "names", needed)
    if inner == "items.csv" and name in PROPERTIES:
        return Column(name, "loose number", needed)
    words, titles = _words(name, inner, known)
    identifies = name in ("number", "item", "old", "new", "id")
    return Column.of(name, "word" if words else "text", needed, words, titles, identifies)


def _words(name: str, inner: str, known: Vocabulary) -> tuple[tuple[str, ...], Mapping[str, str]]:
    if name == "item" and known.items:
        return ((*known.items, NOTHING) if inner == "fits" else tuple(known.items)), {}
    named = {"job": known.jobs, "role": known.roles, "requirement": known.requirements, "finding": known.findings}
    if name in named:
        return tuple(named[name]), {title: one for one, title in named[name].items()}
    return {
        "unit": amount.UNITS, "kind": tuple(KINDS), "otherwise": ("yes",), "arrives": ("dry", "filled"),
        "signal": ("danger", "warning")}.get(name, ()), {}


def listed_only(column: Column) -> bool:
    """Whether a condition speaks of a fact with listed values, so that its cells tell which fact it is."""
    return column.fact is not None and column.fact.kind == LISTED


def of_days(column: Column) -> bool:
    """Whether days stand in a column."""
    return column.sort == "day" or (column.fact is not None and column.fact.kind == DAYS)
