"""What is chalked on the board beside the parts counter, copied into a small text file.

    [sources.board]                      [registers.yard]
    plugin = "chalk-board"               plugin = "chalk-board"
    file = "board.txt"                   file = "board.txt"

A line of the file is one of these; lines that begin with # say nothing:

    TH-10110  2 each                     so many are there, of the item's own unit or one that converts to it
    TH-10110  ?                          somebody has wiped it: nobody knows
    DEMO 001: gearbox = Osmerby manual 9; axles = 4x2
"""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from kitbuilder import (
    Arrival,
    Context,
    Entry,
    Offer,
    Quote,
    QuoteRequest,
    RegisterKind,
    Slot,
    SourceKind,
    StockSource,
    VehicleRegister,
    hookimpl,
    parse_amount,
)


class Board:
    """One board; it serves as a stock source and as a vehicle register."""

    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        file = context.settings.get("file")
        if not isinstance(file, str) or len(context.settings) > 1:
            # the text says what was expected: it is shown behind the name of the settings' table
            raise ValueError('file = "…", the board\'s text file, and nothing else')
        self._path: Path = context.folder / file
        self._currency = context.currency

    def quote(self, request: QuoteRequest) -> Quote:
        """What the board says of the items asked for."""
        wanted = {one.item: one.unit for one in request.wanted}
        offers: list[Offer] = []
        unreadable: dict[str, str] = {}
        for number, line in self._lines():
            item, *said = line.split()
            if ":" in line or item not in wanted:
                continue
            try:
                amount, unit = said
                pool = parse_amount(amount, unit, unit)
            except ValueError:
                # not "none": nobody can tell
                unreadable[item] = f"{self._path.name}, line {number}: expected an amount and a unit"
                continue
            arrival = Arrival(slot="now", sureness="on the shelf")
            offers.append(Offer(item=item, unit=unit, pool=pool, arrivals=(arrival,)))
        return Quote(
            # whoever reads a board reads it as it is now; request.now is what counts as now
            as_of=request.now, currency=self._currency, slots=(Slot(name="now", ready=request.now),),
            offers=tuple(offers), unreadable=unreadable)

    def find(self, registration: str) -> Sequence[Entry]:
        """The lines of a registration."""
        return [entry for entry in self._entries() if _bare(entry.registration) == _bare(registration)]

    def registrations(self) -> Iterable[str]:
        """All registrations on the board."""
        return [entry.registration for entry in self._entries()]

    def _entries(self) -> Iterator[Entry]:
        for number, line in self._lines():
            registration, colon, facts = line.partition(":")
            if colon:
                pairs = [pair.partition("=") for pair in facts.split(";") if pair.strip()]
                place = f"{self._path.name} line {number}"
                cells = tuple((fact.strip(), cell.strip(), place) for fact, _, cell in pairs)
                yield Entry(registration.strip(), "", cells)

    def _lines(self) -> Iterator[tuple[int, str]]:
        # an error of the file (it isn't there, it isn't text) may go up as it is: the board is then shown as failed
        for number, line in enumerate(self._path.read_text("utf-8").splitlines(), 1):
            if line.strip() and not line.startswith("#"):
                yield number, line


def _bare(registration: str) -> str:
    return "".join(char for char in registration.casefold() if char.isalnum())


def make_source(context: Context) -> StockSource:
    """A board as a stock source."""
    return Board(context)


def make_register(context: Context) -> VehicleRegister:
    """A board as a vehicle register."""
    return Board(context)


@hookimpl
def stock_sources() -> list[SourceKind]:
    """Registers the kind `chalk-board`."""
    return [SourceKind("chalk-board", "what is chalked on the board", make_source)]


@hookimpl
def vehicle_registers() -> list[RegisterKind]:
    """Registers the kind `chalk-board`, of registers."""
    return [RegisterKind("chalk-board", "the vehicles that are chalked on the board", make_register)]
