"""What a plug-in can register: every hook specification, and the interfaces behind them.

A plug-in is a module or object behind an entry point of the group `kitbuilder`. Its hooks only
*register* things; kitbuilder calls each registered thing itself, fenced and with a deadline. Import
from `kitbuilder` (the root package): `hookimpl`, and the values named here.

    from kitbuilder import Register, SourceKind, hookimpl

    @hookimpl
    def stock_sources():
        return [SourceKind("chalk-board", "what is chalked on the board", make_source)]
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

import msgspec
import pluggy

from kitbuilder.model.offer import Quote, QuoteRequest

hookspec = pluggy.HookspecMarker("kitbuilder")
hookimpl = pluggy.HookimplMarker("kitbuilder")


class Context(msgspec.Struct, frozen=True):
    """What a source or register is made from: its name in the settings, its own keys there, the folder that
    paths in the settings start from, and the catalogue's currency (ISO 4217)."""

    name: str
    settings: Mapping[str, Any]
    folder: Path
    currency: str


class StockSource(Protocol):
    """Answers how much there is of items, when, and at what price.

    `does` says what it can do: `quote` now; `hold`, `release`, `issue`, `take back`, `order` are kept for
    sources that can. `quote` may raise anything: the source is then shown as failed, never as empty.
    """

    does: frozenset[str]

    def quote(self, request: QuoteRequest) -> Quote:
        """The answer for the items of the request."""
        ...


class Entry(msgspec.Struct, frozen=True):
    """One row of a vehicle register: registration, VIN ("" if unknown), and its cells as fact, cell, place
    (file and row, for messages). Facts and cells are as written; kitbuilder judges them."""

    registration: str
    vin: str
    cells: tuple[tuple[str, str, str], ...]


class VehicleRegister(Protocol):
    """Knows vehicles by registration."""

    def find(self, registration: str) -> Sequence[Entry]:
        """All rows for a registration; how it is spelled (spaces, hyphens, case) doesn't matter."""
        ...

    def registrations(self) -> Iterable[str]:
        """All registrations, so that the nearest can be named."""
        ...


class SourceKind(msgspec.Struct, frozen=True):
    """A kind of stock source: the name that `plugin = "…"` in the settings uses, a line of help, and how one is
    made. `make` raises ValueError, saying what was expected, for settings it can't use."""

    name: str
    help: str
    make: Callable[[Context], StockSource]


class RegisterKind(msgspec.Struct, frozen=True):
    """A kind of vehicle register, as SourceKind."""

    name: str
    help: str
    make: Callable[[Context], VehicleRegister]


@hookspec
def stock_sources() -> list[SourceKind]:  # type: ignore[empty-body]
    """The kinds of stock source that the plug-in brings."""


@hookspec
def vehicle_registers() -> list[RegisterKind]:  # type: ignore[empty-body]
    """The kinds of vehicle register that the plug-in brings."""
