"""Reads one TOML file of a catalogue key by key, and knows on which line each stands."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.places import Path, places
from kitbuilder.catalogue.sheet import decode
from kitbuilder.errors import nearest, one_of


class _Source:
    """A file's text; where things stand in it is worked out when it is first asked."""

    def __init__(self, file: str, text: str) -> None:
        self.file, self._text = file, text
        self._places: dict[Path, int] | None = None

    def line(self, path: Path) -> int:
        """The line of a path, or of the nearest table around it; 0 for the whole file."""
        if self._places is None:
            self._places = places(self._text)
        while path and path not in self._places:
            path = path[:-1]
        return self._places.get(path, 0)


class Keys:
    """One table of a TOML file, read key by key; what is wrong goes to the faults.

    `whole` is false for the top of a file that isn't TOML: nothing is then known of what it says.
    """

    def __init__(self, source: _Source, path: Path, table: Mapping[str, Any], faults: Faults,
                 whole: bool = True) -> None:
        self.file, self.path, self.faults, self.whole = source.file, path, faults, whole
        self._source, self._table = source, table
        self._meant: set[str | None] = set()

    @property
    def name(self) -> str:
        """The last part of the table's name."""
        return str(self.path[-1]) if self.path else ""

    def line(self, *where: str | int) -> int:
        """The line of a key or of what is below it; without one, or where it is absent, of the table."""
        return self._source.line((*self.path, *where))

    def column(self, *where: str | int) -> str:
        """The name of a key from the top of the file on, as faults show it."""
        return ".".join(part for part in (*self.path, *where) if isinstance(part, str))

    def fault(self, where: str | Path, read: object, expected: str) -> None:
        """Note a fault at a key, or at a path below this table (`()`: at the table itself)."""
        path = (where,) if isinstance(where, str) else where
        self.faults.add(self.file, self.line(*path), self.column(*path), "" if read is None else shown(read), expected)

    def unknown(self, where: str | Path, what: str, name: str, known: Sequence[str]) -> None:
        """Note a name that nothing declares."""
        path = (where,) if isinstance(where, str) else where
        self.faults.unknown(self.file, self.line(*path), self.column(*path), what, name, known)

    def only(self, *known: str) -> None:
        """Note every key that isn't known."""
        for key in self._table:
            if key not in known:
                absent = sorted(one for one in known if one not in self._table)
                close = nearest(key, absent)
                self._meant |= {close, nearest(key, known)}
                self.fault(key, key, f"a key: {one_of(key, absent if close else sorted(known))}")

    def lost(self, key: str) -> bool:
        """Whether what a key should say can't be known in full: the file isn't TOML, or a key near it is mistyped."""
        return not self.whole or key in self._meant

    def excused(self, key: str) -> bool:
        """Whether a key is absent only because it can't be known, so that its absence is no fault of its own."""
        return not self.has(key) and self.lost(key)

    def has(self, key: str) -> bool:
        """Whether the key is there."""
        return key in self._table

    def raw(self, key: str) -> Any:
        """The value as TOML has it, or None."""
        return self._table.get(key)

    def text(self, key: str, default: str | None = None) -> str:
        """A text that isn't empty; without a default it must be there."""
        value = self._table.get(key, default)
        if not isinstance(value, str) or (not value.strip() and value != default):
            if not self.excused(key):
                self.fault(key, value, "a text")
            return default or ""
        return value.strip()

    def choice(self, key: str, known: Sequence[str]) -> str | None:
        """One of some words; it must be there."""
        value = self._table.get(key)
        if isinstance(value, str) and value in known:
            return value
        if not self.excused(key):
            self.fault(key, value, one_of(value, known) if isinstance(value, str) else "one of " + ", ".join(known))
        return None

    def names(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty where the key isn't there."""
        value = self._table.get(key, [])
        if not isinstance(value, list):
            self.fault(key, value, "a list of texts")
            return ()
        for number, one in enumerate(value):
            if not isinstance(one, str) or not one.strip():
                self.fault((key, number), one, "a text")
        return tuple(one.strip() for one in value if isinstance(one, str) and one.strip())

    def tables(self, key: str, what: str) -> "list[Keys]":
        """The named tables below a key, each of which declares a `what`.

        Where they can't all be known, what is named elsewhere is not blamed for being unknown.
        """
        value = self._table.get(key, {})
        if self.lost(key) or not isinstance(value, dict):
            self.faults.unread.add(what)
        if not isinstance(value, dict):
            self.fault(key, value, f"tables, each headed [{key}.NAME]")
            return []
        found = []
        for name, inner in value.items():
            if not isinstance(inner, dict):
                self.fault((key, name), inner, f"a table, headed [{key}.{name}]")
                self.faults.broken.add((what, name))
            elif not name or name != name.strip():
                self.fault((key, name), name, "a name without spaces around it")
            else:
                found.append(Keys(self._source, (*self.path, key, name), inner, self.faults))
        return found

    def elements(self, key: str, example: str) -> "list[Keys]":
        """The tables of a list; empty where the key isn't there. What isn't a table is noted and left out."""
        value = self._table.get(key, [])
        if not isinstance(value, list):
            self.fault(key, value, f"a list, each element as {example}")
            return []
        found = []
        for number, inner in enumerate(value):
            if isinstance(inner, dict):
                found.append(Keys(self._source, (*self.path, key, number), inner, self.faults))
            else:
                self.fault((key, number), inner, example)
        return found

    def texts(self, key: str) -> dict[str, str]:
        """A table of texts; empty where the key isn't there."""
        value = self._table.get(key, {})
        if not isinstance(value, dict):
            self.fault(key, value, "a table of texts")
            return {}
        for name, text in value.items():
            if not isinstance(text, str):
                self.fault((key, name), text, "a text")
        return {name: text.strip() for name, text in value.items() if isinstance(text, str)}


def read_toml(file: str, data: bytes, faults: Faults) -> Keys:
    """The whole of a TOML file; decimals are read exactly. An unreadable file gives an empty table and a fault."""
    text = decode(file, data, faults)
    if text is None:
        return Keys(_Source(file, ""), (), {}, faults, whole=False)
    text = text.replace("\r\n", "\n")
    try:
        table = tomllib.loads(text, parse_float=_decimal)
    except tomllib.TOMLDecodeError as error:
        where = re.search(r"\(at line (\d+)", str(error))
        lines = text.rstrip("\n").split("\n")
        row = int(where[1]) if where else len(lines)
        reason = re.sub(r" [(]at .*", "", str(error))
        faults.add(file, row, "", lines[min(row, len(lines)) - 1].strip(), f"TOML ({reason})")
    except (RecursionError, ValueError):
        faults.add(file, 0, "", "", "TOML without numbers of thousands of digits or lists in hundreds of lists")
    else:
        return Keys(_Source(file, text), (), table, faults)
    return Keys(_Source(file, ""), (), {}, faults, whole=False)


class _Odd:
    """A float that is no decimal (`nan`, `inf`), or one too long to mean anything; wrong wherever it stands."""

    def __init__(self, text: str) -> None:
        self._text = text

    def __str__(self) -> str:
        return self._text


def _decimal(text: str) -> Decimal | _Odd:
    plain = len(text) < 40 and re.fullmatch(r"[-+\d_.]+([eE][-+]?\d{1,2})?", text)
    return Decimal(text) if plain else _Odd(text)


def shown(value: object) -> str:
    """A value of a TOML file much as it is written there."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(map(shown, value)) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {shown(inner)}" for key, inner in value.items()) + " }"
    return str(value)

