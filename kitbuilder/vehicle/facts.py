"""Facts of a vehicle or a job: their domains, groups, and the cells that speak of them.

A cell is the one way to write a condition or a statement (kit-rules, section 4): a value or a group,
`from 2009-10-01`, `up to 4500`, `100 to 200`, several with `or` between, `not` before the whole.
"""

import re
from datetime import date
from typing import Final

import msgspec

from kitbuilder.errors import nearest
from kitbuilder.vehicle.values import Values, outside, union

DAYS: Final = "days"
NUMBERS: Final = "whole numbers"
LISTED: Final = "listed"

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NUMBER = re.compile(r"-?[0-9]{1,19}")


class CellError(ValueError):
    """A cell can't be read; its text says what was expected, the nearest valid thing with it."""


class Fact(msgspec.Struct, frozen=True):
    """Something known, or not yet known, of a vehicle or of a job.

    Values are named by their place in the domain, counted from 0. A `listed` domain has the words
    `values`; one of `days` or `whole numbers` runs from `first` (a proleptic ordinal, or the number
    itself) over `size` places. `groups` are sets of places by name.
    """

    name: str
    of: str
    kind: str
    size: int
    values: tuple[str, ...]
    first: int
    groups: dict[str, Values]
    question: str
    where: str

    @property
    def everything(self) -> Values:
        """All places of the domain."""
        return ((0, self.size - 1),)

    def value(self, place: int) -> str:
        """The value at a place, as it is written."""
        if self.kind == LISTED:
            return self.values[place]
        at = self.first + place
        return date.fromordinal(at).isoformat() if self.kind == DAYS else str(at)

    def cells(self, values: Values) -> list[str]:
        """A set in words: listed values one by one, those of a range as runs (`2009-10-01 to 2012-12-30`)."""
        if self.kind == LISTED:
            return [self.values[place] for first, last in values for place in range(first, last + 1)]
        return [
            self.value(first) if first == last else f"{self.value(first)} to {self.value(last)}"
            for first, last in values
        ]

    def words(self, values: Values) -> str:
        """A set as a person says it: the name of a group that is just it, else its values."""
        for name, group in self.groups.items():
            if group == values:
                return name
        if self.kind == LISTED and self.size > 2:
            left = outside(values, self.size)
            if left and sum(last - first + 1 for first, last in left) == 1:
                return f"not {self.values[left[0][0]]}"
        if self.kind != LISTED and len(values) == 1:
            first, last = values[0]
            if first == 0 and last < self.size - 1:
                return f"up to {self.value(last)}"
            if last == self.size - 1 and first > 0:
                return f"from {self.value(first)}"
        return " or ".join(self.cells(values))

    def read(self, cell: str) -> Values:
        """The set of places that a cell names; empty cells name all. Raises CellError."""
        text = cell.strip()
        if not text:
            return self.everything
        negated = text.split(None, 1)[0] == "not"
        if negated:
            text = text[3:].strip()
        runs = [run for term in re.split(r"\s+or\s+", text) for run in self._term(term)]
        values = union(runs)
        return outside(values, self.size) if negated else values

    def _term(self, term: str) -> Values:
        term = term.strip()
        if self.kind == LISTED:
            if term in self.values:
                place = self.values.index(term)
                return ((place, place),)
            if term in self.groups:
                return self.groups[term]
            raise CellError(self._expected(term))
        if term in self.groups:
            return self.groups[term]
        if found := re.fullmatch(r"from\s+(.+?)\s+to\s+(.+)", term):
            raise CellError(f"{found[1]} to {found[2]} (a run is written without 'from')")
        if found := re.fullmatch(r"from\s+(.+)", term):
            return ((self._place(found[1]), self.size - 1),)
        if found := re.fullmatch(r"up\s+to\s+(.+)", term):
            return ((0, self._place(found[1])),)
        if found := re.fullmatch(r"(.+?)\s+to\s+(.+)", term):
            first, last = self._place(found[1]), self._place(found[2])
            if first > last:
                raise CellError(f"the earlier end first: {found[2]} to {found[1]}")
            return ((first, last),)
        place = self._place(term)
        return ((place, place),)

    def _place(self, text: str) -> int:
        if self.kind == DAYS:
            if not _DAY.fullmatch(text):
                raise CellError(self._expected(text))
            try:
                at = date.fromisoformat(text).toordinal()
            except ValueError:
                raise CellError(f"a day that exists, as in {self.value(0)}") from None
        elif _NUMBER.fullmatch(text):
            at = int(text)
            if str(at) != text:
                raise CellError(f"{at}, written without zeros before it")
        else:
            raise CellError(self._expected(text))
        place = at - self.first
        if not 0 <= place < self.size:
            end = self.value(0 if place < 0 else self.size - 1)
            bound = "earliest" if self.kind == DAYS and place < 0 else "latest" if self.kind == DAYS else (
                "smallest" if place < 0 else "largest")
            raise CellError(f"a value of {self.name}; the {bound} is {end}")
        return place

    def _expected(self, text: str) -> str:
        groups = list(self.groups)
        if self.kind == LISTED:
            close = nearest(text, [*self.values, *groups])
            known = ", ".join([*self.values, *groups])
            return f"{close!r}? {self.name} is one of: {known}" if close else f"one of: {known}"
        close = nearest(text, groups)
        if close:
            return f"{close!r}?"
        what = "a day such as" if self.kind == DAYS else "a whole number such as"
        return f"{what} {self.value(0)}, from {self.value(0)} to {self.value(self.size - 1)}"


def name_fault(name: str) -> str | None:
    """Why a value or group can't have this name (what was expected), or None if it can."""
    if not name or name != name.strip():
        return "a name without spaces around it"
    words = name.split()
    if "or" in words or "to" in words:
        return "a name without the words 'or' and 'to'"
    if words[0] in ("not", "from") or words[:2] == ["up", "to"]:
        return "a name that doesn't start with 'not', 'from' or 'up to'"
    return None
