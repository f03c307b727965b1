"""Where the faults of a catalogue are gathered while its files are read, so that all are told together."""

from kitbuilder.errors import Fault, one_of


class Faults:
    """The faults found so far. `broken` names what was declared but couldn't be read, by sort of thing,
    so that a second file that speaks of it isn't blamed as well."""

    def __init__(self) -> None:
        self.found: list[Fault] = []
        self.broken: set[tuple[str, str]] = set()

    def add(self, file: str, row: int, column: str, read: object, expected: str) -> None:
        """Note one fault; `read` is what stood there (empty where something is missing)."""
        self.found.append(Fault(file, row, column, "" if read is None else str(read), expected))

    def unknown(self, file: str, row: int, column: str, what: str, name: str, known: list[str]) -> None:
        """Note a name that nothing declares, with the nearest that something does."""
        if (what, name) not in self.broken:
            self.add(file, row, column, name, f"a {what}: {one_of(name, known)}" if known else f"a declared {what}")
