"""Proposes a mapping for a sheet: by the names of its columns and by what stands in them; says why, and asks what
can't be told."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

import msgspec

from kitbuilder.bringing_in.cells import shown
from kitbuilder.bringing_in.columns import match_columns
from kitbuilder.bringing_in.fold import fold
from kitbuilder.bringing_in.formats import (
    DAY_FORMATS,
    NUMBER_FORMATS,
    PLAIN,
    NumberFormat,
    decide,
    read_day,
    read_number,
)
from kitbuilder.bringing_in.grid import Grid, GridRow, filled, headings
from kitbuilder.bringing_in.mapping import ASKED, Mapping
from kitbuilder.bringing_in.targets import Column, Target, of_days
from kitbuilder.bringing_in.words import Words
from kitbuilder.model.bringing_in import Noted
from kitbuilder.vehicle.facts import LISTED, CellError

#: Within how many rows the one that names the columns must stand.
_FIRST_ROWS: Final = 25
_NOTHINGS: Final = ("-", "--", "–", "—", "n/a", "N/A", "NULL", "null", "nil")
_SEPARATORS: Final = (";", "|", "\n", ",", "/")
#: So many different words that nothing is known for are put into a mapping; the rows of the others are told anyway.
_MOST_ASKED: Final = 200


class Proposal(msgspec.Struct, frozen=True):
    """A mapping, why each part of it is so, and what a person has to decide. `sure`: nothing was guessed."""

    mapping: Mapping
    notes: tuple[Noted, ...]
    questions: tuple[str, ...]

    @property
    def lacking(self) -> bool:
        """Whether too little is known for any row to be read."""
        return not self.mapping.columns or ASKED in self.mapping.columns.values()

    @property
    def sure(self) -> bool:
        """Whether nothing was guessed and nothing is open."""
        return not self.questions and all(note.sure for note in self.notes)


def propose(grid: Grid, target: Target) -> Proposal:
    """A mapping for a sheet."""
    return _Proposer(grid, target).proposal()


def header_row(rows: Sequence[GridRow], target: Target) -> tuple[GridRow | None, str]:
    """The row that names the columns, and why it is thought to: it has the most names that we know, else it is the
    first that is as full as most are and holds words only."""
    first = rows[:_FIRST_ROWS]
    names = {fold(name) for name in target.names}
    known = [sum(fold(shown(cell)) in names for cell in row.cells) for row in first]
    best = max(known, default=0)
    if best:
        at = known.index(best)
        return first[at], "" if at == 0 else f"{best} of its cells are names of our columns"
    full = Counter(sum(filled(cell) for cell in row.cells) for row in rows[:200])
    usual = max(full, key=lambda size: (full[size], size), default=0)
    for row in first:
        held = [cell for cell in row.cells if filled(cell)]
        if len(held) * 2 > usual and all(isinstance(cell, str) for cell in held):
            return row, "the first row that is full, with words only"
    return (first[0], "the first row") if first else (None, "")


class _Proposer:
    def __init__(self, grid: Grid, target: Target) -> None:
        self._grid, self._target = grid, target
        self._notes: list[Noted] = []
        self._questions: list[str] = []
        self._header, self._header_why = header_row(grid.rows, target)
        self._names = headings(self._header)
        after = self._header.number if self._header else 0
        self._rows = [row for row in grid.rows if row.number > after]

    def proposal(self) -> Proposal:
        grid = self._grid
        if self._header is None:
            return Proposal(Mapping(self._target.path), (), (f"{grid.file} is empty.",))
        if self._header_why:
            self._note("header_row", str(self._header.number), self._header_why, False)
        if grid.why:
            self._note("encoding", grid.encoding, grid.why, False)
        texts = {name: self._texts(place) for place, name in enumerate(self._names)}
        matched = match_columns(self._target, texts)
        columns = {column.name: name for name, column, _, _ in matched}
        for name, column, why, sure in matched:
            self._note(f"columns.{column.name}", name, why, sure)
        held = {name: any(place < len(row.cells) and filled(row.cells[place]) for row in self._rows)
                for place, name in enumerate(self._names)}
        ignored = tuple(name for name in self._names if name not in columns.values() and held[name])
        if ignored:
            self._note("ignored", ", ".join(ignored), "nothing of ours is like it", False)
        ours = [(self._target.column(name), texts[theirs]) for name, theirs in columns.items()]
        pairs = [(column, words) for column, words in ours if column is not None]
        own = all(fold(name) == fold(theirs) for name, theirs in columns.items()) and not ignored
        empty = self._empty(pairs)
        kept = [(column, [word for word in words if word not in empty]) for column, words in pairs]
        numbers = self._numbers(kept, own)
        days = self._days(kept)
        serial = self._serial(columns)
        values, separators = self._words(kept)
        columns |= self._lacking(columns)
        mapping = Mapping(
            self._target.path, grid.sheet, self._header.number, (), grid.encoding, grid.delimiter, grid.quote,
            numbers.decimal, numbers.thousands, days, serial, empty, ignored, columns, {}, values, separators)
        return Proposal(mapping, tuple(self._notes), tuple(self._questions))

    def _note(self, place: str, value: str, why: str, sure: bool) -> None:
        self._notes.append(Noted(place, value, why, sure))

    def _texts(self, place: int) -> list[str]:
        """The different texts of a column, in order; numbers, days and errors are what they are and need no mapping."""
        found: dict[str, None] = {}
        for row in self._rows:
            if place < len(row.cells):
                cell = row.cells[place]
                if isinstance(cell, (str, bool)) and (text := shown(cell)):
                    found[text.replace("\r\n", "\n").replace("\r", "\n")] = None
        return list(found)

    def _empty(self, pairs: Sequence[tuple[Column, Sequence[str]]]) -> tuple[str, ...]:
        found = {word for column, words in pairs if column.sort != "text" and not column.identifies
                 for word in words if word in _NOTHINGS and word not in column.known}
        for word in sorted(found):
            self._note("empty", word, f"{word!r} stands where it can only mean nothing", False)
        return tuple(sorted(found))

    def _numbers(self, pairs: Sequence[tuple[Column, Sequence[str]]], own: bool) -> NumberFormat:
        """The format of the numbers that are text in the sheet."""
        cells = [word for column, words in pairs if column.sort == "number" for word in words]
        # a property may be a word (75W-80); what has a digit on each side of its signs is a number
        cells += [word for column, words in pairs if column.sort == "loose number" for word in words
                  if word[0].isdigit() and word[-1].isdigit() and any(read_number(word, one) for one in NUMBER_FORMATS)]
        if not cells:
            return PLAIN
        decided = decide(cells, NUMBER_FORMATS, read_number)
        if decided.open and (not own or decided.index != 0):
            shows = next(cell for cell in cells
                         if len({read_number(cell, NUMBER_FORMATS[at]) for at in decided.open}) > 1)
            self._questions.append(
                f"Is {shows!r} {' or '.join(_readings(shows, decided.open))}? Both would do for every number in the "
                "sheet: say decimal and thousands in the mapping.")
            self._note("decimal", ASKED, f"{shows!r} may be {' or '.join(_readings(shows, decided.open))}", False)
            return NumberFormat(ASKED)
        best = NUMBER_FORMATS[decided.index]
        if best != PLAIN:
            some = next(cell for cell in cells if read_number(cell, PLAIN) is None and read_number(cell, best))
            self._note("decimal", best.decimal, f"numbers are written so, as {some!r}", False)
        return best

    def _days(self, pairs: Sequence[tuple[Column, Sequence[str]]]) -> str:
        cells = [word for column, words in pairs if column.sort == "day" for word in words]
        cells += [word for column, words in pairs if column.fact and of_days(column) for word in words
                  if any(read_day(word, one) for one in DAY_FORMATS)]
        if not cells:
            return DAY_FORMATS[0]
        decided = decide(cells, DAY_FORMATS, read_day)
        if decided.open:
            shows = next(cell for cell in cells if len({read_day(cell, DAY_FORMATS[at]) for at in decided.open}) > 1)
            ways = " or ".join(DAY_FORMATS[at] for at in decided.open)
            self._questions.append(f"Is the day {shows!r} written {ways}? Every day in the sheet could be either: say "
                                   "days in the mapping.")
            self._note("days", ASKED, f"{shows!r} may be {ways}", False)
            return ASKED
        best = DAY_FORMATS[decided.index]
        if best != DAY_FORMATS[0]:
            some = next(cell for cell in cells if read_day(cell, best))
            self._note("days", best, f"only so all can be read, as {some!r}" if not decided.missed else
                       f"most can be read so, as {some!r}", False)
        return best

    def _serial(self, columns: dict[str, str]) -> str:
        """Whether days are bare numbers in the sheet: which of two counts they are in can't be seen."""
        for ours, theirs in columns.items():
            column = self._target.column(ours)
            place = self._names.index(theirs)
            if column is None or not of_days(column):
                continue
            for row in self._rows:
                cell = row.cells[place] if place < len(row.cells) else ""
                if isinstance(cell, (int, float)) and not isinstance(cell, bool):
                    self._questions.append(
                        f"{theirs!r} holds bare numbers, as {shown(cell)}, where days should be. If they count days, "
                        'say from when: serial_days = "1900" (usual) or "1904".')
                    self._note("serial_days", ASKED, f"{shown(cell)} stands where a day should be", False)
                    return ASKED
        return ""

    def _words(self, pairs: Sequence[tuple[Column, Sequence[str]]]) -> tuple[dict[str, dict[str, str]], dict[str, str]]:
        values: dict[str, dict[str, str]] = {}
        separators: dict[str, str] = {}
        for column, texts in pairs:
            known = frozenset(column.known)
            odd = [text for text in texts if text not in known and not _reads(text, column)]
            # numbers of items that only look alike are different items: their rows are told, nothing is proposed
            if column.sort not in ("word", "condition", "names") or column.identifies or not odd:
                continue
            words = Words(column.name, column.known, column.titles)
            if column.sort != "word" and (separator := _separator(odd, column, words)):
                separators[column.name] = separator
                self._note(f"separators.{column.name}", separator, f"it parts the names, as in {odd[0]!r}", False)
                odd = list(dict.fromkeys(part.strip() for text in odd for part in text.split(separator)
                                         if part.strip() and not _reads(part.strip(), column)))
            if column.sort == "names" or (column.fact and column.fact.kind != LISTED):
                continue
            found = {text: self._word(text, column, words) for text in odd[:_MOST_ASKED]}
            if found:
                values[column.name] = found
        return values, separators

    def _word(self, text: str, column: Column, words: Words) -> str:
        likely = words.likely(text)
        if likely is None:
            self._questions.append(f"What is {text!r} as {column.name}? Say it under [values.{column.name}].")
            self._note(f"values.{column.name}.{text}", ASKED, "nothing of ours is like it", False)
            return ASKED
        self._note(f"values.{column.name}.{text}", likely.word, likely.why, likely.sure)
        return likely.word

    def _lacking(self, columns: dict[str, str]) -> dict[str, str]:
        """What must be there and has no column: which one it is, or one word for all rows, is asked."""
        found: dict[str, str] = {}
        for column in self._target.columns:
            if column.needed and column.name not in columns:
                known = f" ({', '.join(column.known)})" if 0 < len(column.known) <= 12 else ""
                self._questions.append(
                    f"Nothing in the sheet is like {column.name}, which {self._target.path} must have: name its column "
                    f"under [columns], or one word for all rows under [constants]{known}.")
                self._note(f"columns.{column.name}", ASKED, "nothing in the sheet is like it; name its column, or take "
                           "this line out and put one word for all rows under [constants]", False)
                found[column.name] = ASKED
        return found


def _reads(text: str, column: Column) -> bool:
    """Whether a word can stand as it is."""
    if column.sort == "word":
        return text in column.known
    if column.sort == "names":
        return not any(sign in text for sign in (";", "|", "\n", ","))
    if column.fact is None:
        return True
    if of_days(column) and any(read_day(text, one) for one in DAY_FORMATS):
        return True
    try:
        column.fact.read(text)
    except CellError:
        return False
    return True


def _separator(odd: Sequence[str], column: Column, words: Words) -> str:
    """The sign under which most of the words become ours; "" where none helps."""
    best, chosen = 0, ""
    for sign in _SEPARATORS:
        parted = [[part.strip() for part in text.split(sign) if part.strip()] for text in odd if sign in text]
        if column.sort == "names":
            good = len(parted) if sign != "/" and not any(" and " in text for text in odd) else 0
        else:
            good = sum(all(_reads(part, column) or words.likely(part) for part in parts) for parts in parted)
            good -= sum(words.likely(text) is not None for text in odd if sign in text)
        if good > best:
            best, chosen = good, sign
    return chosen


def _readings(text: str, among: Sequence[int]) -> list[str]:
    return list(dict.fromkeys(read for at in among if (read := read_number(text, NUMBER_FORMATS[at])) is not None))
