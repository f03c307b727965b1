"""Text for a terminal or a pipe: wrapped to a width, headings bold where the reader's terminal shows it."""

import shutil
import textwrap

import msgspec


class Paper(msgspec.Struct, frozen=True):
    """How wide to write, and whether bold may be used."""

    width: int = 80
    bold: bool = False

    def heading(self, text: str) -> str:
        """A heading."""
        return f"\x1b[1m{text}\x1b[0m" if self.bold else text

    def wrap(self, text: str, indent: int = 0, first: str = "") -> list[str]:
        """A paragraph, indented; `first` stands before its first line, inside the indent."""
        start = first.ljust(indent) if first else " " * indent
        if len(start) + len(text) <= self.width and "\n" not in text:
            return [start + text]
        return textwrap.wrap(
            text, self.width, initial_indent=start, subsequent_indent=" " * indent, break_long_words=False,
            break_on_hyphens=False) or [start.rstrip()]


def terminal_width() -> int:
    """The width to write to: the terminal's, 80 where there is none, but 60 at least and 100 at most."""
    return min(max(shutil.get_terminal_size((80, 24)).columns, 60), 100)


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: `1 line`, `2 lines`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(words: list[str] | tuple[str, ...], joint: str = "or") -> str:
    """Words in a row: `a, b or c`."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joint} {words[-1]}" if words else ""
