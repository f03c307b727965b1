"""Reads one TOML file of a catalogue key by key, and knows on which line each stands.

The standard library's reader gives values without places; the line is found by looking for the
table's header and the key in the text, which is exact for files written as kit-rules shows them.
"""

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheet import decode
from kitbuilder.errors import one_of


class Keys:
    """One table of a TOML file, read key by key; what is wrong goes to the faults."""

    def __init__(self, file: str, text: str, path: tuple[str, ...], table: Mapping[str, Any], faults: Faults) -> None:
        self.file, self.path, self.faults = file, path, faults
        self._text, self._table = text, table

    @property
    def name(self) -> str:
        """The last part of the table's name."""
        return self.path[-1] if self.path else ""

    def line(self, key: str = "", number: int = 0) -> int:
        """The line of a key (its `number`-th element's, for a list of tables), or of the table's header."""
        return _line(self._text, self.path, key, number)

    def fault(self, key: str, read: object, expected: str, number: int = 0) -> None:
        """Note a fault at a key."""
        column = ".".join((*self.path, key)) if key else ".".join(self.path)
        self.faults.add(self.file, self.line(key, number), column, read, expected)

    def only(self, known: Collection[str]) -> None:
        """Note every key that isn't known."""
        for key in self._table:
            if key not in known:
                self.fault(key, key, f"a key: {one_of(key, sorted(known))}")

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
            self.fault(key, value, "a text")
            return default or ""
        return value.strip()

    def choice(self, key: str, known: Sequence[str]) -> str | None:
        """One of some words; it must be there."""
        value = self._table.get(key)
        if value not in known:
            self.fault(key, value, "one of " + ", ".join(known))
            return None
        return str(value)

    def names(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty where the key isn't there."""
        value = self._table.get(key, [])
        if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
            self.fault(key, value, "a list of texts")
            return ()
        return tuple(one.strip() for one in value)

    def tables(self, key: str) -> "list[Keys]":
        """The named tables below a key."""
        value = self._table.get(key, {})
        if not isinstance(value, dict):
            self.fault(key, value, "tables")
            return []
        found = []
        for name, inner in value.items():
            if isinstance(inner, dict):
                found.append(Keys(self.file, self._text, (*self.path, key, name), inner, self.faults))
            else:
                self.fault(key, name, f"a table [{key}.{name}]")
        return found

    def texts(self, key: str) -> dict[str, str]:
        """A table of texts; empty where the key isn't there."""
        value = self._table.get(key, {})
        if not isinstance(value, dict) or not all(isinstance(one, str) for one in value.values()):
            self.fault(key, value, "a table of texts")
            return {}
        return {name.strip(): text.strip() for name, text in value.items()}


def read_toml(file: str, data: bytes, faults: Faults) -> Keys:
    """The whole of a TOML file; decimals are read exactly. An unreadable file gives an empty table and a fault."""
    text = decode(file, data, faults) or ""
    try:
        table = tomllib.loads(text.replace("\r\n", "\n"), parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        where = re.search(r"\(at line (\d+)", str(error))
        row = int(where[1]) if where else len(text.splitlines())
        faults.add(file, row, "", "", f"TOML ({re.sub(r' [(]at .*', '', str(error))})")
        table = {}
    return Keys(file, text, (), table, faults)


def _line(text: str, path: tuple[str, ...], key: str, number: int) -> int:
    lines = text.splitlines()
    dotted = r"\s*\.\s*".join(_either(part) for part in path)
    start = 0
    if path:
        header = re.compile(rf"\s*\[\s*{dotted}\s*\]")
        start = next((at for at, line in enumerate(lines) if header.match(line)), -1)
        if start < 0:
            inline = re.compile(rf"\s*{_either(path[-1])}\s*[=.]")
            return next((at + 1 for at, line in enumerate(lines) if inline.match(line)), 0)
    if not key:
        return start + 1
    wanted = re.compile(rf"\s*{_either(key)}\s*[=.]|\s*\[+\s*{dotted}{'[.]' if path else ''}{_either(key)}\s*[].]")
    for at in range(start + (1 if path else 0), len(lines)):
        if wanted.match(lines[at]):
            return _element(lines, at, number)
        if path and re.match(r"\s*\[[^\[]", lines[at]) and not re.match(rf"\s*\[\s*{dotted}\s*\.", lines[at]):
            break
    return start + 1 if path else 0


def _element(lines: Sequence[str], start: int, number: int) -> int:
    """The line of the `number`-th inline table (counted from 0) in a list that begins on a line."""
    seen = -1
    for at in range(start, len(lines)):
        depth_one = re.findall(r"(?<![\w=])\s*\{\s*job\s*=|\{\s*name\s*=", lines[at])
        seen += len(depth_one)
        if seen >= number:
            return at + 1
    return start + 1


def _either(name: str) -> str:
    return rf"(?:{re.escape(name)}|\"{re.escape(name)}\"|'{re.escape(name)}')"
