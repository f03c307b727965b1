"""On which line of a TOML file each key, table and list element stands.

The standard library reads values without places. This walks over a text that it has accepted, so it
only has to tell where things begin, not whether they are right.
"""

import re
import tomllib
from bisect import bisect_right
from contextlib import suppress
from typing import Final

Path = tuple[str | int, ...]
"""Keys from the outside in; an element of a list by its number from 0."""

_SPACE: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_KEY: Final = re.compile(r'"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|[A-Za-z0-9_-]+')
_DOT: Final = re.compile(r"[ \t]*\.[ \t]*")
_TEXT: Final = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.DOTALL)
#: A number, truth value or day; a day and its time may have a space between.
_OTHER: Final = re.compile(r"[^\s,\]}#]+(?: \d\d:[^\s,\]}#]+)?")


def places(text: str) -> dict[Path, int]:
    """The line (from 1) on which each path of a TOML text first stands."""
    walk = _Walk(text)
    # Where the walk is lost, what was found so far still helps: a lookup falls back to the table around.
    with suppress(_LostError):
        walk.all()
    return walk.found


class _LostError(Exception):
    """The text is not what the standard library's reader accepts."""


class _Walk:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.found: dict[Path, int] = {}
        self._ends = [end.start() for end in re.finditer("\n", text)]
        self._elements: dict[Path, int] = {}

    def all(self) -> None:
        base: Path = ()
        while not self._skip():
            if self._take("[["):
                base = self._element(self._keys())
                self._want("]]")
            elif self._take("["):
                base = self._table(self._keys())
                self._want("]")
            else:
                self._pair(base)

    def _skip(self) -> bool:
        """Go over space, line ends and remarks; whether the text is at its end."""
        self.at = self._match(_SPACE).end()
        return self.at == len(self.text)

    def _match(self, pattern: re.Pattern[str]) -> re.Match[str]:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise _LostError
        return found

    def _take(self, mark: str) -> bool:
        here = self.text.startswith(mark, self.at)
        if here:
            self.at += len(mark)
        return here

    def _want(self, mark: str) -> None:
        self._skip()
        if not self._take(mark):
            raise _LostError

    def _note(self, path: Path) -> None:
        self.found.setdefault(path, bisect_right(self._ends, self.at - 1) + 1)

    def _keys(self) -> list[tuple[str, int]]:
        """The parts of a dotted key, each with where it stands."""
        parts = []
        self._skip()
        while True:
            key = self._match(_KEY)
            parts.append((_bare(key[0]), key.start()))
            self.at = key.end()
            dot = _DOT.match(self.text, self.at)
            if dot is None:
                return parts
            self.at = dot.end()

    def _table(self, keys: list[tuple[str, int]], base: Path = ()) -> Path:
        """Note the tables of a header or a dotted key from `base` on; the last one's path."""
        after = self.at
        for key, self.at in keys:
            base = (*base, key)
            self._note(base)
            if base in self._elements:
                base = (*base, self._elements[base])
        self.at = after
        return base

    def _element(self, keys: list[tuple[str, int]]) -> Path:
        after = self.at
        path = (*self._table(keys[:-1]), keys[-1][0])
        number = self._elements[path] = self._elements.get(path, -1) + 1
        self.at = keys[-1][1]
        self._note(path)
        self._note((*path, number))
        self.at = after
        return (*path, number)

    def _pair(self, base: Path) -> None:
        path = self._table(self._keys(), base)
        self._want("=")
        self._value(path)

    def _value(self, path: Path) -> None:
        self._skip()
        if self._take("["):
            number = 0
            while not self._closed("]"):
                self._note((*path, number))
                self._value((*path, number))
                number += 1
        elif self._take("{"):
            while not self._closed("}"):
                self._pair(path)
        else:
            text = _TEXT.match(self.text, self.at)
            self.at = text.end() if text else self._match(_OTHER).end()

    def _closed(self, mark: str) -> bool:
        """Go to the next element of a list or inline table; whether there is none."""
        if self._skip():
            raise _LostError
        if self._take(","):
            self._skip()
        return self._take(mark)


def _bare(key: str) -> str:
    """A key without its quotes and escapes."""
    if key[0] == "'":
        return key[1:-1]
    if key[0] == '"':
        return next(iter(tomllib.loads(f"{key} = 0"))) if "\\" in key else key[1:-1]
    return key
