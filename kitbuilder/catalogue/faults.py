"""Where the faults of a catalogue are gathered while its files are read, so that all are told together."""

from collections.abc import Sequence

from kitbuilder.errors import Fault, one_of

#: How many names are looked through for suggestions in one load, in all. A file of which everything is
#: wrong must not take hours to say so.
_LOOKS = 1_000_000


class Faults:
    """The faults found so far.

    One mistake is told once. `broken` names what was declared but couldn't be read, by sort of thing;
    `unread` holds sorts of things of which a whole file, or the file itself, is missing. What other
    files say about either is not blamed.
    """

    def __init__(self) -> None:
        self.found: list[Fault] = []
        self.broken: set[tuple[str, str]] = set()
        self.unread: set[str] = set()
        self._looks = _LOOKS
        self._nearest: dict[tuple[str, str], str] = {}

    def add(self, file: str, row: int, column: str, read: object, expected: str) -> None:
        """Note one fault; `read` is what stood there (empty where something is missing)."""
        self.found.append(Fault(file, row, column, "" if read is None else str(read), expected))

    def excused(self, what: str, name: str) -> bool:
        """Whether a thing of this name may well be declared where something couldn't be read."""
        return what in self.unread or (what, name) in self.broken

    def unknown(self, file: str, row: int, column: str, what: str, name: str, known: Sequence[str]) -> None:
        """Note a name that nothing declares, with the nearest that something does."""
        if not self.excused(what, name):
            article = "an" if what[0] in "aeiou" else "a"
            self.add(file, row, column, name, f"{article} {what}: {self._one_of(what, name, known)}")

    def _one_of(self, what: str, name: str, known: Sequence[str]) -> str:
        text = self._nearest.get((what, name))
        if text is None:
            self._looks -= len(known)
            text = one_of(name, known) if self._looks >= 0 else f"one of {len(known)} known names"
            self._nearest[what, name] = text
        return text
