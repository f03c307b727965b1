"""A vehicle register that is a CSV file.

    [registers.fleet]
    plugin = "fleet-file"
    file = "fleet.csv"

Columns: registration, vin, and one a fact of the catalogue; an empty cell is not known.
"""

from collections.abc import Iterable, Sequence

from kitbuilder import Context, Entry, RegisterKind, VehicleRegister, hookimpl, read_rows

_OWN = ("registration", "vin", "note")


def spelled(registration: str) -> str:
    """A registration or a VIN without spaces and hyphens, in lower case."""
    return "".join(char for char in registration.casefold() if char.isalnum())


class FleetFile:
    """One fleet file; it is read anew at each look."""

    def __init__(self, context: Context) -> None:
        settings = dict(context.settings)
        file = settings.pop("file", None)
        if not isinstance(file, str):
            raise ValueError('file = "…", the CSV file with the vehicles')
        if settings:
            raise ValueError(f"only file, not {', '.join(settings)}")
        self._path = context.folder / file

    def find(self, registration: str) -> Sequence[Entry]:
        """All rows of a registration, or of a VIN given in its place, however it is spelled."""
        found = []
        for row in read_rows(self._path, ("registration",)):
            # a row without a registration is nobody's, not that of an empty one
            names = {spelled(row.cells[name]) for name in ("registration", "vin") if name in row.cells}
            if "registration" in row.cells and spelled(registration) in names:
                place = f"{self._path.name} line {row.line}"
                cells = tuple((fact, cell, place) for fact, cell in row.cells.items() if fact not in _OWN)
                found.append(Entry(row.cells["registration"], row.cells.get("vin", ""), cells))
        return found

    def registrations(self) -> Iterable[str]:
        """All registrations of the file."""
        rows = read_rows(self._path, ("registration",))
        return [row.cells["registration"] for row in rows if "registration" in row.cells]


def make(context: Context) -> VehicleRegister:
    """A fleet file as a vehicle register."""
    return FleetFile(context)


@hookimpl
def vehicle_registers() -> list[RegisterKind]:
    """Registers the kind `fleet-file`."""
    return [RegisterKind("fleet-file", "a CSV file of vehicles and what is known of them", make)]
