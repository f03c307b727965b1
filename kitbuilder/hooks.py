"""What a plug-in can register: every hook specification, and the interfaces behind them.

A plug-in is a module or object behind an entry point of the group `kitbuilder`. Its hooks only
*register* things; kitbuilder calls each registered thing itself, fenced and with a deadline. Import
from `kitbuilder` (the root package): `hookimpl`, and the values named here.

    from kitbuilder import SourceKind, hookimpl

    @hookimpl
    def stock_sources():
        return [SourceKind("chalk-board", "what is chalked on the board", make_source)]

In the plug-in's pyproject.toml, with any name on the left and the module on the right:

    [project.entry-points.kitbuilder]
    chalk-board = "workshop_chalk_board"

`kitbuilder plugins` then shows it, or what is wrong with it. What a plug-in prints goes to standard error.
Sources and registers are made anew for each command, in a thread of their own: what one opens it closes,
and what it waits for has to come within `deadline_s` of its settings (5 seconds without it). All sources are asked
at once, in a round that may have a deadline too (`deadline_s` of `[quotes]`): `context.deadline_s` is the sooner of the
two. A source that keeps its last good answer gives it before that.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

import msgspec
import pluggy

from kitbuilder.model.booking import DiaryEntry
from kitbuilder.model.offer import OrderAnswer, OrderRequest, Quote, QuoteRequest
from kitbuilder.model.shelf import Coming, ShelfLot
from kitbuilder.model.stock_elsewhere import IssueRequest

hookspec = pluggy.HookspecMarker("kitbuilder")
hookimpl = pluggy.HookimplMarker("kitbuilder")


class Context(msgspec.Struct, frozen=True):
    """What a source or register is made from: its name in the settings, its own keys there (`plugin`,
    `deadline_s` and `stale_after_h` are taken out), the folder that paths in the settings start from, the
    catalogue's currency (ISO 4217), the seconds after which kitbuilder gives up waiting for an answer, a view of the
    own shelf where there is a store, and a folder of its own, its cache, in which it may keep what spares asking (it
    may be gone at any time, and needn't exist yet; None: nothing is kept)."""

    name: str
    settings: Mapping[str, Any]
    folder: Path
    currency: str
    deadline_s: float = 5.0
    shelf: "ShelfView | None" = None
    cache: Path | None = None


class ShelfView(Protocol):
    """The workshop's own shelf, to read only: what lies where, what of it is promised. `site` is the site it is of;
    None where a command is about no one site, and it is the shelves of all."""

    site: str | None

    def lots(self, items: Sequence[str]) -> Sequence[ShelfLot]:
        """All lots of some items in all bins of the site; amounts are milli-units."""
        ...

    def at(self, site: str) -> "ShelfView":
        """Another site's shelf in the same store. Raises WrongUse for a site that isn't there."""
        ...

    def coming(self, source: str) -> Sequence[Coming]:
        """What any site has ordered from a source (its name in the settings) that isn't here yet; proposals are no
        orders. A source whose numbers fall only when something is fetched takes it off with `less_coming`."""
        ...


class Diary(Protocol):
    """Knows what is booked. It tells everything it has; kitbuilder finds out what is new, changed or gone."""

    def entries(self) -> Sequence[DiaryEntry]:
        """All bookings, each with the diary's own stable id; one without is refused."""
        ...


class StockSource(Protocol):
    """Answers how much there is of items, when, and at what price.

    `does` says what it can do: `quote`; `order` and `order status` where it is an OrderTaker; `issue` where it is an
    Issuer, of a kind that is `elsewhere`; `hold`, `release`, `take back` are kept for sources that can. `quote` may
    raise anything: the source is then shown as failed, never as empty. To say that of some items only, name them in the
    quote's `unreadable`. What lies at another site of the same store is offered with that site's name in the quote's
    `site`: it is held there when it is planned, and brought, not bought.
    """

    does: frozenset[str]

    def quote(self, request: QuoteRequest) -> Quote:
        """The answer for the items of the request; for no item (`kitbuilder sources` asks so) one without offers.

        `request.now` is what counts as now, also where an answer is as of this moment: the machine's clock may
        say another day than the workshop's.
        """
        ...


class OrderTaker(StockSource, Protocol):
    """A stock source that takes orders, which it says in `does`: `order`, and `order status` if it can be asked."""

    def order(self, request: OrderRequest) -> OrderAnswer:
        """Order. It is called once for a key and never again by itself, so it must not try again either.

        NotSent says that nothing went out for certain, and the order is sent later. After anything else that it
        raises, or where it hangs, nobody knows: the order is unclear until `order_status` or a person tells.
        """
        ...

    def order_status(self, key: str) -> OrderAnswer:
        """What the supplier has under a key; `unknown` if nothing. It must order nothing."""
        ...


class Issuer(StockSource, Protocol):
    """A source whose stock is kept elsewhere and that can be told what was taken from it; it says `issue` in `does`."""

    def issue(self, request: IssueRequest) -> None:
        """Issue there what was taken. It is called again with the same key where nobody knows whether the call before
        came through, so it must see to it that one key is issued once; done already, it returns.

        NotSent says that nothing was issued for certain, and why. After anything else that it raises, or where it
        hangs, it is unclear until it is called again.
        """
        ...


class Entry(msgspec.Struct, frozen=True):
    """One row of a vehicle register: registration, VIN ("" if unknown), and its cells as fact, cell, place
    (file and row, for messages). Facts and cells are as written; kitbuilder judges them, and sets aside with a
    warning what it can't read. What isn't known is left out."""

    registration: str
    vin: str
    cells: tuple[tuple[str, str, str], ...]


class VehicleRegister(Protocol):
    """Knows vehicles by registration, and by VIN if it can."""

    def find(self, registration: str) -> Sequence[Entry]:
        """All rows for a registration, or for a VIN given in its place, none where it isn't known; how it is spelled
        (spaces, hyphens, case) doesn't matter."""
        ...

    def registrations(self) -> Iterable[str]:
        """All registrations, so that the nearest can be named."""
        ...


class SourceKind(msgspec.Struct, frozen=True):
    """A kind of stock source: the name that `plugin = "…"` in the settings uses, a line of help, and how one is
    made. `make` raises ValueError, its text what was expected, for settings it can't use. `own`: what it
    offers is the workshop's already, so that nothing is ordered from it. `elsewhere`: it is the workshop's as well, but
    its record is kept elsewhere, where others take from it too: it is counted each day, and differences are listed."""

    name: str
    help: str
    make: Callable[[Context], StockSource]
    own: bool = False
    elsewhere: bool = False


class DiaryKind(msgspec.Struct, frozen=True):
    """A kind of diary, as SourceKind."""

    name: str
    help: str
    make: Callable[[Context], Diary]


class RegisterKind(msgspec.Struct, frozen=True):
    """A kind of vehicle register, as SourceKind."""

    name: str
    help: str
    make: Callable[[Context], VehicleRegister]


@hookspec
def stock_sources() -> list[SourceKind]:  # type: ignore[empty-body]
    """The kinds of stock source that the plug-in brings."""


@hookspec
def diaries() -> list[DiaryKind]:  # type: ignore[empty-body]
    """The kinds of diary that the plug-in brings."""


@hookspec
def vehicle_registers() -> list[RegisterKind]:  # type: ignore[empty-body]
    """The kinds of vehicle register that the plug-in brings."""
