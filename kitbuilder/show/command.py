"""Commands as they are typed: quoted for a shell, and broken over lines that can be copied as they stand."""

import shlex
from collections.abc import Sequence

from kitbuilder.show.paper import Paper

_WITH_VALUE = ("--by", "--catalogue", "--fact", "--seen", "--vehicle")


def quoted(word: str) -> str:
    """A word as a shell takes it for one word: as it is if that will do, else in quotes."""
    if word and all(char.isalnum() or char in "-._/:+" for char in word):
        return word
    # between double quotes a shell takes some signs for its own
    return shlex.quote(word) if set(word) & set('"$`\\!') else f'"{word}"'


def pair(fact: str, cell: str) -> str:
    """A fact and its cell as they are typed after --fact."""
    return f"{quoted(fact)}={quoted(cell)}"


def command_lines(words: Sequence[str], paper: Paper, before: str = "") -> list[str]:
    """A kitbuilder command, broken between its words where it is too long; an option stays with its value."""
    parts: list[str] = []
    for word in words:
        name, sign, value = word.partition("=")
        typed = pair(name, value) if sign else quoted(word)
        if parts and parts[-1] in _WITH_VALUE:
            parts[-1] += " " + typed
        else:
            parts.append(typed)
    lines = [before + "kitbuilder"]
    for part in parts:
        # two columns are kept for the sign that the command goes on
        if len(lines[-1]) + 1 + len(part) > paper.width - 2:
            lines[-1] += " \\"
            lines.append(" " * (len(before) + 2) + part)
        else:
            lines[-1] += " " + part
    return lines
