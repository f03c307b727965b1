"""The errors a user can meet: what is wrong, where, and how to mend it.

    KitbuilderError            (exit 6)
    ├── WrongUse               (exit 2)  an unknown job, fact, value, option
    ├── BadData                (exit 3)  files that can't be read as they should
    │   └── LoadError          (exit 3)  every fault of a catalogue, together
    ├── Contradiction          (exit 3)  statements that can't all be true
    ├── SourceFailed           (exit 4)  a plug-in that raised, hung or answered rubbish
    │   ├── SourceRests        (exit 4)  one that isn't asked for a while
    │   └── NotSent            (exit 4)  an order of which nothing went out for certain
    └── StoreRefuses           (exit 5)  the store is busy or says no
"""  # noqa: D208  # the tree is indented as it is drawn

from collections.abc import Sequence
from datetime import datetime

import msgspec


class KitbuilderError(Exception):
    """Base of all errors that are told in one short paragraph, without a traceback."""

    exit_code = 6


class WrongUse(KitbuilderError):
    """The command asks for something that isn't there; the text offers the nearest thing that is."""

    exit_code = 2


class BadData(KitbuilderError):
    """A file can't be read as it should; the text names file and row."""

    exit_code = 3


class Contradiction(KitbuilderError):
    """Statements of one rank can't all be true; the text names the fewest that clash."""

    exit_code = 3


class SourceFailed(KitbuilderError):
    """A plug-in failed; the text names it and the distribution it came from."""

    exit_code = 4


class SourceRests(SourceFailed):
    """A source isn't asked for a while, because it failed several times in a row or wants it so; `until` is when it is
    asked again, by the machine's clock (with zone)."""

    def __init__(self, text: str, until: datetime) -> None:
        super().__init__(text)
        self.until = until


class NotSent(SourceFailed):
    """Of an order nothing went out, for certain: it can be sent later. Where that isn't certain, SourceFailed."""


class StoreRefuses(KitbuilderError):
    """The store is busy, too new, or refuses a change."""

    exit_code = 5


class Fault(msgspec.Struct, frozen=True, order=True):
    """One thing wrong in one place of a catalogue.

    `row` is the line of the file as an editor counts it, 0 where the whole file is meant;
    `column` is a column of a sheet or a key of a TOML file, empty where none is meant.
    """

    file: str
    row: int
    column: str
    read: str
    expected: str

    def __str__(self) -> str:
        place = self.file + (f", line {self.row}" if self.row else "")
        if self.column:
            place += f", {self.column}"
        read = f"read {self.read!r}; " if self.read else ""
        return f"{place}: {read}expected {self.expected}"


class LoadError(BadData):
    """All faults found while a catalogue was read, in the order of files and rows."""

    def __init__(self, folder: str, faults: Sequence[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        count = len(self.faults)
        what = "1 fault" if count == 1 else f"{count} faults"
        lines = "\n".join(f"  {fault}" for fault in self.faults)
        super().__init__(f"The catalogue in {folder} has {what}; nothing was built.\n{lines}")


def nearest(word: str, known: Sequence[str]) -> str | None:
    """The known word that looks most like `word`, or None where nothing does."""
    import difflib

    exact = [one for one in known if one.casefold() == word.casefold()]
    if exact:
        return exact[0]
    close = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
    return close[0] if close else None


def offered(word: str, known: Sequence[str]) -> str:
    """A sentence with what was expected instead of `word`: the nearest known name, or all while they are few."""
    close = nearest(word, known)
    return f"Did you mean {close!r}?" if close is not None else f"Expected {one_of(word, known)}."


def one_of(word: str, known: Sequence[str]) -> str:
    """What was expected instead of `word`: the nearest known name, and the others while they are few."""
    if not known:
        return "nothing here (none is declared)"
    close = nearest(word, known)
    if close is not None:
        return f"a known name; did you mean {close!r}?"
    if len(known) <= 12:
        return "one of " + ", ".join(known)
    return f"one of {len(known)} known names"
